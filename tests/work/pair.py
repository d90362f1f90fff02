"""Two boards of two donors, and pieces of both, to be assembled."""

from __future__ import annotations

from salvage.ids import Code
from salvage.work.articles import assemble
from salvage.work.donors import NewDonor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import START, add_board, add_cleared_board, clear, cut_circle

NAMED = NewDonor(
    "Skerry Bay Community Radio",
    source_kind="public body",
    naming="named",
    naming_how="by letter",
)


class Pair:
    """Two boards of two donors, two pieces of the first and one of the second."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.first = add_cleared_board(shop).code
        given = log_drop_off(shop, donor=NAMED, new=NewDropOff(START.date(), "radio cards"))
        self.second = add_board(shop, drop_off=given.drop_off.code).code
        clear(shop, self.second)
        self.left = self.cut(self.first, 30)
        self.middle = self.cut(self.first, 80)
        self.right = self.cut(self.second, 40)

    def cut(self, board: Code, x_mm: float) -> Code:
        """A circle of 30 mm, by its piece's code."""
        piece = cut_circle(self.shop, board, x_mm, 40).piece
        assert piece is not None
        return piece.code

    def assemble(self, *parts: Code) -> Code:
        """An article of these parts, or of left and right."""
        view = assemble(self.shop, parts=parts or (self.left, self.right), name="tern earrings")
        return view.piece.code
