"""Stock-takes, what they saw and missed, and photos that wait: one record for each row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

STOCK_TAKE_KIND = "T"
"""Kind letter of stock-takes."""

STOCK_TAKE_THINGS = ("all", "boards", "pieces")
"""What a stock-take may look for."""


@dataclass(frozen=True, slots=True)
class StockTake:
    """One stock-take; an empty place stands for the whole workshop."""

    code: Code
    place: str
    things: str
    state: str
    begun_at: str
    begun_by: str
    closed_at: str


@dataclass(frozen=True, slots=True)
class SeenThing:
    """A code that a stock-take saw, where, and by which means; it need not exist."""

    stock_take: Code
    code: Code
    place: str
    source: str


@dataclass(frozen=True, slots=True)
class LostThing:
    """A thing that a stock-take did not find."""

    code: Code
    stock_take: Code
    reason: str
    at: str


@dataclass(frozen=True, slots=True)
class WaitingPhoto:
    """A photo that is kept and waits; *codes* are what it shows, split by blanks."""

    sha256: str
    name: str
    reason: str
    codes: str
    at: str
