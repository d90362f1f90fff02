"""
Cautions for cards and screens, each with its source.

They are the usual ones, not a complete list: we inform and certify nothing, and every set ends with
the line that defers to local codes and licensed practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.errors import NotFound
from salvage.knowledge.source import Source
from salvage.knowledge.table import nearest_names, read_table, source_of

CAUTION_TOPICS = ("card", "screen", "cutting", "clearing", "closing")
"""Where cautions belong: printed card, sale screens, before cutting, while clearing, last line."""


@dataclass(frozen=True, slots=True)
class Caution:
    """
    One caution.

    Args:
        slug: Its name, such as ``dust-lead``.
        topic: One of :data:`CAUTION_TOPICS`.
        text: Whole sentences, ready to print.
        source: Where it comes from.
    """

    slug: str
    topic: str
    text: str
    source: Source

    @property
    def sourced_text(self) -> str:
        """
        The caution with its source behind it; the closing line states no fact and has none.

        >>> find_caution("local-rules").sourced_text == find_caution("local-rules").text
        True
        """
        if self.topic == "closing":
            return self.text
        return f"{self.text} ({self.source.marked_words})"


@cache
def all_cautions() -> tuple[Caution, ...]:
    """Every caution, in reading order."""
    return tuple(
        Caution(row["slug"], row["topic"], row["text"], source_of(row))
        for row in read_table("cautions.csv")
    )


def find_caution(slug: str) -> Caution:
    """
    The caution of a slug.

    Raises:
        NotFound: If there is none of that name; with the nearest.
    """
    for caution in all_cautions():
        if caution.slug == slug:
            return caution
    known = [caution.slug for caution in all_cautions()]
    raise NotFound(f"'{slug}' is not a caution in our list", nearest=nearest_names(slug, known))


def closing_line() -> Caution:
    """The last line of every set: local codes and licensed practice come first."""
    return find_caution("local-rules")


def cautions_for(topic: str) -> tuple[Caution, ...]:
    """Cautions of a topic, and the closing line after them; an unknown topic has that line only."""
    own = tuple(caution for caution in all_cautions() if caution.topic == topic)
    closing = closing_line()
    return own if closing in own else (*own, closing)


def card_cautions(*, children_evidence: bool = False) -> tuple[Caution, ...]:
    """
    Cautions for a story card, the closing line left to the screen.

    Args:
        children_evidence: True only where a test report for children's goods is attached to the
            piece; the line "not for children" is then left out.
    """
    own = (caution for caution in all_cautions() if caution.topic == "card")
    return tuple(c for c in own if not (children_evidence and c.slug == "not-for-children"))
