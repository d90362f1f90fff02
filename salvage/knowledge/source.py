"""
Where a fact comes from, and how far it may be trusted.

Every row of our data files carries a source and one of six confidence words. Screens and cards show
weak facts as weaker than facts that were read.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from salvage.errors import BadValue

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


@dataclass(frozen=True, slots=True)
class Source:
    """
    Source of one fact.

    Args:
        text: Document, section and edition; for trade knowledge "common practice, no source".
        confidence: Key of :data:`CONFIDENCES`.

    Raises:
        BadValue: If the text is empty or the confidence word is unknown.

    >>> Source("ISO 216, from memory", "memory").is_weak
    True
    """

    text: str
    confidence: str

    def __post_init__(self) -> None:
        if not self.text.strip():
            raise BadValue("a fact has no source", hint="name the document and section")
        if self.confidence not in CONFIDENCES:
            words = ", ".join(CONFIDENCES)
            raise BadValue(f"'{self.confidence}' is not a confidence word", hint=f"use {words}")

    @property
    def rank(self) -> int:
        """0 for the strongest confidence; larger is weaker."""
        return _RANKS[self.confidence]

    @property
    def is_weak(self) -> bool:
        """True for what nobody read: common practice and memory."""
        return self.rank >= _FIRST_WEAK

    def __str__(self) -> str:
        return f"{self.text} ({CONFIDENCES[self.confidence]})"


def weakest(sources: Iterable[Source]) -> Source:
    """
    The least trustworthy of several sources: a claim built on all of them is no better.

    Raises:
        ValueError: If there is none.
    """
    return max(sources, key=lambda source: source.rank)
