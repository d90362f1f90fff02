"""Two things on record that cannot both be so."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class Clash:
    """
    Two things on record that cannot both be so.

    Args:
        name: What it is called when it is settled.
        codes: Things that it concerns.
        words: What clashes, where and when.
        mend: The command that mends it, or what to do.
        settled: How somebody settled it; empty while it is open.
    """

    name: str
    codes: tuple[Code, ...]
    words: str
    mend: str
    settled: str = ""
