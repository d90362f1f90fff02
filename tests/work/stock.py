"""A workshop with one of everything, for operations to be done to and taken back."""

from __future__ import annotations

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.store.journal import read_events_newest
from salvage.work.cutting import reserve
from salvage.work.pieces import sell
from salvage.work.recall import open_recall
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import (
    NewKeepOut,
    add_keep_outs,
)
from salvage.work.workshop import Workshop
from tests.bench import (
    PLANETARIUM,
    START,
    add_board,
    add_cleared_board,
    circle_at,
    cut_circle,
    dump,
)

KEPT = {"event", "event_item", "undone", "counter", "private_field"}
"""What an undo leaves behind on purpose: the journal, its index, codes used up, sealed words."""


def projection(shop: Workshop) -> dict[str, list[tuple[object, ...]]]:
    """All rows that an undo must bring back as they were."""
    return {table: rows for table, rows in dump(shop).items() if table not in KEPT}


def last_operation(shop: Workshop) -> str:
    """Id of the newest operation."""
    return next(iter(read_events_newest(shop.conn, most=1))).operation


class Stock:
    """A workshop with one of everything, for operations to be done to."""

    def __init__(self, shop: Workshop) -> None:
        self.shop = shop
        self.kept: dict[str, Code] = {}
        parts = (("hard disk", 1),)
        new = NewDropOff(START.date(), "a box", data_parts=parts)
        self.drop_off = log_drop_off(shop, donor=PLANETARIUM, new=new).drop_off
        self.held = add_board(shop).code
        self.board = add_cleared_board(shop).code
        self.piece = self.cut_at(25, 40)
        self.sold = self.cut_at(60, 40)
        sell(shop, piece=self.sold, price_minor=1800)
        keep_out = NewKeepOut(rectangle(6, 6), "port")
        add_keep_outs(shop, board=self.board, keep_outs=[keep_out])
        spot = circle_at(shop, 95, 20, width_mm=20)
        self.reservation = reserve(shop, board=self.board, spot=spot, for_whom="order 3").code
        self.recall = open_recall(shop, subject=self.held, reason="mercury").recall.code

    def keep(self, name: str, code: Code) -> None:
        """Remember a code for the next step."""
        self.kept[name] = code

    def cut_at(self, x_mm: float, y_mm: float) -> Code:
        """A piece cut from the board, by its code."""
        piece = cut_circle(self.shop, self.board, x_mm, y_mm).piece
        assert piece is not None
        return piece.code
