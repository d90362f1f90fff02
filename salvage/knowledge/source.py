"""
Where a fact comes from, and how far it may be trusted.

Every row of our data files carries a source and one of six confidence words. Screens and cards show
weak facts as weaker than facts that were read.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

CONFIDENCES = {
    "read-primary": "read in the official text or page",
    "computed": "computed from figures that are given",
    "read-secondary": "read in someone else's page that quotes it",
    "read-code": "read in public source code",
    "common-practice": "common practice, no source",
    "memory": "from memory, not confirmed",
}
"""Confidence words, strongest first, and what they mean."""

_RANKS = {word: rank for rank, word in enumerate(CONFIDENCES)}
_FIRST_WEAK = _RANKS["common-practice"]
_READ_ON = re.compile(r"([0-9]{4}-[0-9]{2}(-[0-9]{2})?)?")


@dataclass(frozen=True, slots=True)
class Source:
    """
    Source of one fact.

    Args:
        text: Document, section and edition; for trade knowledge "common practice, no source".
        confidence: Key of :data:`CONFIDENCES`.
        read_on: Day or month on which it was read, in ISO 8601; empty where nobody read it.
        is_own: True for a row that the workshop added itself.

    Raises:
        BadValue: If the text is empty, the confidence word is unknown, or the date is none.

    >>> Source("ISO 216, from memory", "memory").is_weak
    True
    """

    text: str
    confidence: str
    read_on: str = ""
    is_own: bool = False

    def __post_init__(self) -> None:
        if not self.text.strip():
            raise BadValue("a fact has no source", hint="name the document and section")
        if self.confidence not in CONFIDENCES:
            words = ", ".join(CONFIDENCES)
            raise BadValue(f"'{self.confidence}' is not a confidence word", hint=f"use {words}")
        if not _READ_ON.fullmatch(self.read_on):
            raise BadValue(f"'{self.read_on}' is no day or month", hint="such as 2026-11-30")

    @property
    def rank(self) -> int:
        """0 for the strongest confidence; larger is weaker."""
        return _RANKS[self.confidence]

    @property
    def is_weak(self) -> bool:
        """True for what nobody read: common practice and memory."""
        return self.rank >= _FIRST_WEAK

    def __str__(self) -> str:
        return f"{self.text} ({self._told})"

    @property
    def _told(self) -> str:
        told = CONFIDENCES[self.confidence]
        told = f"{told}, {self.read_on}" if self.read_on else told
        return f"the workshop's own row, {told}" if self.is_own else told

    @property
    def words(self) -> str:
        """
        The source with how far it may be trusted, each said once.

        >>> Source("common practice, no source", "common-practice").words
        'common practice, no source'
        """
        return self.text if self.text == self._told else str(self)

    @property
    def short_words(self) -> str:
        """
        Its beginning, for a screen that has little room; a weak source is marked as weak.

        >>> Source("8 CCR 5198, read at cdph.ca.gov", "read-primary").short_words
        '8 CCR 5198'
        """
        start = re.split(r", | as | \(", self.text)[0]
        return f"weak: {start}" if self.is_weak else start

    @property
    def marked_words(self) -> str:
        """
        The same for people, a weak source marked as weak before it begins.

        >>> Source("common practice, no source", "common-practice").marked_words
        'weak: common practice, no source'
        """
        return f"weak: {self.words}" if self.is_weak else self.words


def weakest(sources: Iterable[Source]) -> Source:
    """
    The least trustworthy of several sources: a claim built on all of them is no better.

    Raises:
        ValueError: If there is none.
    """
    return max(sources, key=lambda source: source.rank)
