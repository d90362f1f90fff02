"""Names and contacts that no text of an export may hold, found quickly in very many texts."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

START = 4
"""So many letters of a word are looked up before the word itself."""


@dataclass(frozen=True, slots=True)
class SealedWords:
    """
    Sealed words, ready to be looked for in texts short and long.

    Many words are not tried one by one in a short text: only those that begin as a part of it does.

    Args:
        words: Folded.
        by_start: The same by their first four letters, or all of a shorter one.
        sizes: Lengths of those beginnings.
    """

    words: tuple[str, ...]
    by_start: Mapping[str, tuple[str, ...]]
    sizes: tuple[int, ...]

    def are_in(self, text: str) -> bool:
        """
        Whether a text holds one of the words, capital letters or not.

        Args:
            text: Of any length.
        """
        if not self.words:
            return False
        folded = text.casefold()
        if len(self.words) <= len(folded):
            return any(word in folded for word in self.words)
        parts = {folded[at : at + size] for size in self.sizes for at in range(len(folded))}
        return any(
            word in folded for part in parts & self.by_start.keys() for word in self.by_start[part]
        )


def gather_words(words: Iterable[str]) -> SealedWords:
    """
    Words to look for; those that are only blanks are none.

    Args:
        words: As they were written.
    """
    folded = tuple(sorted({word.casefold() for word in words if word.strip()}))
    found: dict[str, tuple[str, ...]] = {}
    for word in folded:
        found[word[:START]] = (*found.get(word[:START], ()), word)
    return SealedWords(
        folded, MappingProxyType(found), tuple(sorted({len(start) for start in found}))
    )


def private_words(conn: sqlite3.Connection) -> SealedWords:
    """
    The sealed words that are kept.

    Args:
        conn: Open connection.
    """
    return gather_words(str(value) for (value,) in conn.execute("SELECT value FROM private_field"))


NO_WORDS = gather_words(())
"""For an export with names."""
