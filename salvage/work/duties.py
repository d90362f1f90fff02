"""Limits and duties of the places where the workshop stands and sells, as they were read."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.errors import NotFound
from salvage.knowledge.limits import Limit, limits
from salvage.knowledge.product_rules import jurisdictions, parse_markets
from salvage.knowledge.table import nearest_names
from salvage.work.own_facts import own_limits
from salvage.work.workshop import Workshop

ADVICE = (
    "These rows are information, not legal advice, and the list is not complete. Which notices and"
    " permits a workshop owes depends on where it stands; cutting boards can count as treatment of"
    " waste. Ask your local authority before you start."
)
"""What is said below every list."""

# Rows that hold wherever a workshop stands, or that speak of things rather than places.
_EVERYWHERE = ("International", "ISO", "industry")


@dataclass(frozen=True, slots=True)
class Duty:
    """
    One row with how it stands today.

    Args:
        limit: The row.
        state: ``in force``, ``expired`` or ``not yet``, by the days that were read.
    """

    limit: Limit
    state: str


@dataclass(frozen=True, slots=True)
class Duties:
    """
    What was found.

    Args:
        duties: Rows, in the order of the list.
        unknown: Places for which no row is in the list.
        advice: What to say below.
    """

    duties: tuple[Duty, ...]
    unknown: tuple[str, ...]
    advice: str = ADVICE


def list_duties(
    shop: Workshop, *, market: str = "", topic: str = "", every: bool = False
) -> Duties:
    """
    Rows of a place and topic; expired ones are marked as such.

    Args:
        shop: The open workshop.
        market: Places as in the setting ``markets``; that setting when empty.
        topic: As spelt in the list; empty for all.
        every: Rows of every place.

    Raises:
        BadValue: If a place is no code.
        NotFound: If no row has such a topic.
    """
    topics = list(dict.fromkeys(limit.topic for limit in limits(own=own_limits(shop.conn))))
    if topic and topic not in topics:
        raise NotFound(
            f"'{topic}' is no topic of our list",
            nearest=nearest_names(topic, topics),
            hint=f"topics: {', '.join(topics)}",
        )
    chosen = parse_markets(market, field="--market") or shop.settings.markets
    markets = [place for place in chosen.split(",") if place]
    places = {*_EVERYWHERE, *(name for place in markets for name in _named(place))}
    own = own_limits(shop.conn)
    rows = [
        Duty(limit, limit.state_on(shop.today))
        for limit in limits(topic=topic, own=own)
        if every or not markets or limit.jurisdiction in places
    ]
    told = {limit.jurisdiction for limit in own}
    known = [place for place in markets if jurisdictions(place) or place in told]
    unknown = () if every else tuple(place for place in markets if place not in known)
    return Duties(tuple(rows), unknown)


def _named(place: str) -> tuple[str, ...]:
    """The place itself, for own rows; its jurisdictions; bodies that recommend there."""
    found = jurisdictions(place)
    more = ("US", "US NIOSH", "US voluntary") if "US federal" in found else ()
    return (place, *found, *more)
