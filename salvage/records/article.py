"""What an assembled article is made of: one record for each row of the projection."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class Part:
    """A piece in an article; ``taken_out_at`` is empty while it is in it."""

    article: Code
    n: int
    piece: Code
    stage_before: str
    taken_out_at: str


@dataclass(frozen=True, slots=True)
class BoardShare:
    """How much of an article's material is from one board, in millionths, and how it was found."""

    article: Code
    board: Code
    share_ppm: int
    measured: str
