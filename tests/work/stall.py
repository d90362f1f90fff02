"""A stall on the tests' bench: priced pieces, an outing that is open, and what they come to."""

from __future__ import annotations

from datetime import date

from salvage.ids import Code
from salvage.work.cutting import NewCut, record_cut
from salvage.work.outing_day import open_outing
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.packing import pack
from salvage.work.pieces import set_price, set_stage
from salvage.work.slips import Terms
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at

DAY = date(2026, 5, 4)
"""The day on which the tests' workshop stands."""

CASH, CARD = Terms(DAY, "cash"), Terms(DAY, "card")


def make_pieces(shop: Workshop, *prices_minor: int) -> list[Code]:
    """Ready pieces at some prices, cut out of one board."""
    board = add_cleared_board(shop).code
    made = []
    for place, price in enumerate(prices_minor):
        spot = circle_at(shop, 10 + 17 * (place % 7), 10 + 17 * (place // 7), width_mm=12)
        view = record_cut(shop, new=NewCut(board, spot))
        assert view.piece is not None
        code = view.piece.code
        set_stage(shop, pieces=[code], stage="ready")
        set_price(shop, pieces=[code], price_minor=price)
        made.append(code)
    return made


def open_stall(shop: Workshop, pieces: list[Code], *, float_minor: int = 5000) -> Code:
    """An open outing with pieces on the table."""
    new = NewOuting("Lantern Fair", DAY, stall_fee_minor=3500)
    code = plan_outing(shop, new=new).outing.code
    pack(shop, outing=code, pieces=pieces)
    open_outing(shop, outing=code, float_minor=float_minor)
    return code
