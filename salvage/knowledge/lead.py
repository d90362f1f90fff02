"""
What may be said about lead in a piece, and no more.

The status is never inferred from a date or a RoHS mark. Whatever it is, the sentence warns; none of
them certifies. Two findings shape the words: RoHS allows twice the lead of the EU jewellery limit,
and the US rule for children's goods does not count a coating as a barrier.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.knowledge.limits import find_limit
from salvage.knowledge.source import Source, weakest
from salvage.records.choices import LEAD_STATUSES, parse_choice


@dataclass(frozen=True, slots=True)
class LeadCaution:
    """
    The sentences that a card or screen prints for a lead status.

    Args:
        status: One of :data:`salvage.records.choices.LEAD_STATUSES`.
        text: For the card.
        source: The weakest of what the text rests on.
    """

    status: str
    text: str
    source: Source


_TRADE = Source("common practice, no source", "common-practice")
_AWAY = "Keep it away from children."
_COATING = "A coating is not counted on as a barrier."

_TEXTS = {
    "unknown": f"Lead: not known, so treated as present. {_AWAY} {_COATING}",
    "assumed-leaded": f"Lead: taken to be present in the solder. {_AWAY} {_COATING}",
    "marked-lead-free": (
        "Lead: the board carried a lead-free or RoHS mark. Such a mark does not show that a piece"
        f" meets the limit for jewellery. {_AWAY} {_COATING}"
    ),
    "tested": (
        "Lead: tested; the workshop keeps the record. The result speaks only for the parts and the"
        f" limit it names. {_AWAY}"
    ),
}

_LIMITS_BEHIND = {
    "unknown": ("us-coating-barrier",),
    "assumed-leaded": ("us-coating-barrier",),
    "marked-lead-free": ("eu-rohs-lead", "eu-jewellery-lead", "us-coating-barrier"),
    "tested": ("eu-jewellery-lead",),
}


def parse_lead_status(text: str, *, field: str = "") -> str:
    """
    The lead status that *text* means.

    Raises:
        BadValue: If it is none of them.

    >>> parse_lead_status("Assumed leaded")
    'assumed-leaded'
    """
    return parse_choice(text, LEAD_STATUSES, field=field)


def lead_caution(status: str) -> LeadCaution:
    """
    The caution for a lead status; a word that is no status gets the one for ``unknown``.

    >>> lead_caution("tested").text.startswith("Lead: tested")
    True
    """
    known = status if status in _TEXTS else "unknown"
    sources = [find_limit(slug).source for slug in _LIMITS_BEHIND[known]]
    return LeadCaution(known, _TEXTS[known], weakest([*sources, _TRADE]))
