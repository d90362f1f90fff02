"""The ledger of a board's area, as its maker reads it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadOutline
from salvage.ids import Code
from salvage.records.things import Board
from salvage.store.lookup import load_board
from salvage.work.area import account_board, board_outline
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.fragment import FragmentFacts
    from salvage.geometry.ledger import Fragment, Ledger


@dataclass(frozen=True, slots=True)
class AreaView:
    """
    What every square millimetre of a board is.

    Args:
        board: The board.
        side: The face that lies up; from the back, x runs the other way.
        width_mm: Width of the board, which the back's x is counted from.
        ledger: The layers and their areas.
        fragments: Usable stretches with their facts, largest first.
    """

    board: Board
    side: str
    width_mm: float
    ledger: Ledger
    fragments: tuple[tuple[Fragment, FragmentFacts], ...]

    @property
    def difference_mm2(self) -> float:
        """Outline less the sum of its layers; nothing but rounding."""
        return self.ledger.outline_mm2 - sum(self.ledger.areas_mm2.values())

    def x_mm(self, x_mm: float) -> float:
        """An x of the board as it is seen from the side that lies up."""
        return self.width_mm - x_mm if self.side == "back" else x_mm


def view_area(shop: Workshop, *, board: Code, side: str = "front") -> AreaView:
    """
    The ledger of a board's area, with the measures of each usable stretch.

    Args:
        shop: The open workshop.
        board: The board's code.
        side: ``front`` or ``back``; the areas are the same, places are seen from there.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If it has no outline yet.
    """
    from salvage.geometry.fragment import fragment_facts

    found = load_board(shop.conn, board)
    outline, ledger = board_outline(found), account_board(shop.conn, found)
    if outline is None or ledger is None:
        raise BadOutline(f"{board} has no outline yet", hint=f"salvage board outline {board} …")
    fragments = tuple((f, fragment_facts(f.region)) for f in ledger.fragments)
    return AreaView(found, side, outline.size_mm[0], ledger, fragments)
