"""
A workshop of any number of boards with all that belongs to them, for the benchmark of growth.

Beside what :mod:`tests.benchmarks.trace_world` writes, there are photos as small files, outings
with slips of the ledger, orders, places, waste containers, consignments and recalls, all in
proportion to the boards. Photos and slips are events like those of the operations; the rest is
written by the operations themselves.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING

from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.orders import NewOrder, take_order
from salvage.work.outings import NewOuting, plan_outing
from salvage.work.places import name_places
from salvage.work.recall import NewRecall, begin_recall
from salvage.work.recall_causes import from_thing
from salvage.work.setup import change_settings
from salvage.work.waste import NewContainer, NewWaste, open_container, put_in
from salvage.work.wishes import parse_demand
from tests.benchmarks import trace_world

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from salvage.canonical import Json
    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

BOARDS_PER_OUTING = 50
BOARDS_PER_ORDER = 20
BOARDS_PER_CONTAINER = 50
BOARDS_PER_CONSIGNMENT = 100
BOARDS_PER_RECALL = 250
PIECES_PER_SLIP = 4
_FIRST_DAY = date(2026, 5, 2)


@dataclass
class Grown:
    """
    What was made.

    Args:
        world: Boards, pieces, batches and articles.
        photos: How many photos.
        outings, orders, containers, consignments, recalls: Their codes.
        slips: Their numbers.
    """

    world: trace_world.World
    photos: int = 0
    outings: list[Code] = field(default_factory=list)
    orders: list[Code] = field(default_factory=list)
    containers: list[Code] = field(default_factory=list)
    consignments: list[Code] = field(default_factory=list)
    recalls: list[Code] = field(default_factory=list)
    slips: list[str] = field(default_factory=list)


def grow(
    shop: Workshop,
    *,
    boards: int,
    pieces_per_board: int,
    photos_per_board: int,
    most_s: float = 3600.0,
) -> Grown:
    """
    Fill an empty workshop.

    Args:
        shop: The empty workshop.
        boards: How many boards.
        pieces_per_board: Pieces cut of each.
        photos_per_board: Photos of each.
        most_s: Wall time after which no more boards are begun.
    """
    world = trace_world.World(boards, boards * pieces_per_board)
    trace_world.build(shop, world, most_s=most_s)
    grown = Grown(world)
    made = len(world.board_codes)
    change_settings(shop, typed={"hourly-rate": "24"})
    name_places(shop, names=[f"shelf {n}" for n in range(max(2, made // 50))])
    _photos(shop, grown, photos_per_board)
    for number in range(max(1, made // BOARDS_PER_OUTING)):
        _outing(shop, grown, number)
    _paper(shop, grown)
    return grown


def _photos(shop: Workshop, grown: Grown, each: int) -> None:
    codes = grown.world.board_codes
    for start in range(0, len(codes), 100):

        def steps(change: Change, some: Sequence[Code] = codes[start : start + 100]) -> None:
            for board in some:
                for n in range(1, each + 1):
                    _photo(change, shop.files.folder, board, n)

        shop.commit("add photo", steps)
    grown.photos = len(codes) * each


def _photo(change: Change, folder: Path, board: Code, n: int) -> None:
    data = b"\xff\xd8\xff\xe0" + f"{board} {n} ".encode() * 40
    sha256 = hashlib.sha256(data).hexdigest()
    path = folder / sha256[:2] / sha256
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)  # flushed by nobody: what is timed are the commands
    told: dict[str, Json] = {
        "n": n, "sha256": sha256, "media_type": "image/jpeg", "byte_count": len(data),
        "name": f"{n}.jpg", "side": "front" if n % 2 else "back", "caption": "", "width_px": 1600,
        "height_px": 1200, "corners": None, "taken_at": "",
    }  # fmt: skip
    change.append("photo.added", (board,), told)


def _outing(shop: Workshop, grown: Grown, number: int) -> None:
    """An outing, and the slips of what was sold there."""
    pieces = grown.world.piece_codes
    per = len(pieces) * BOARDS_PER_OUTING // max(len(grown.world.board_codes), BOARDS_PER_OUTING)
    sold = [p for n, p in enumerate(pieces[number * per : (number + 1) * per]) if n % 3 == 0]
    day = _FIRST_DAY + timedelta(days=7 * number)
    outing = plan_outing(shop, new=NewOuting(f"Lantern Fair {number + 1}", day)).outing.code

    def steps(change: Change) -> None:
        for start in range(0, len(sold), PIECES_PER_SLIP):
            some = sold[start : start + PIECES_PER_SLIP]
            told: dict[str, Json] = {
                "day": day.isoformat(), "paid_by": ("cash", "card")[start % 2], "currency": "EUR",
                "venue": "", "outing": outing, "order": "", "tax_ppm": None, "tax_note": "",
                "notes": "", "lines": [_slip_line(piece) for piece in some],
            }  # fmt: skip
            change.append("sale.made", (*some, outing), told)

    shop.commit("sell pieces", steps)
    grown.outings.append(outing)


def _slip_line(piece: Code) -> Json:
    return {
        "piece": piece, "words": "kite", "sale_n": 1, "list_minor": 1800, "paid_minor": 1800,
        "discount_minor": 0, "fee_minor": 0, "tax_minor": 0, "is_gift": False,
    }  # fmt: skip


def _paper(shop: Workshop, grown: Grown) -> None:
    """Orders, waste, consignments and recalls."""
    boards = grown.world.board_codes
    demand = parse_demand(shop, "circle@20:2")
    for number in range(0, len(boards), BOARDS_PER_ORDER):
        order = NewOrder(f"customer {number}", [demand])
        grown.orders.append(take_order(shop, new=order).order.code)
    for _ in range(0, len(boards), BOARDS_PER_CONTAINER):
        view = open_container(shop, new=NewContainer("offcuts"))
        for _item in range(5):
            put_in(shop, container=view.container.code, new=NewWaste("trimmings", weight_g=20.0))
        grown.containers.append(view.container.code)
    for _ in range(0, len(boards), BOARDS_PER_CONSIGNMENT):
        sent = NewConsignment("harbour recycler", "offcuts of boards", 500.0)
        grown.consignments.append(send_consignment(shop, new=sent).code)
    for number in range(0, len(boards), BOARDS_PER_RECALL):
        cause = from_thing(shop.conn, boards[number])
        new = NewRecall(cause, "a coin cell was overlooked", hold=False)
        grown.recalls.append(begin_recall(shop, new=new).recall.code)
    grown.slips += [
        str(number) for (number,) in shop.conn.execute("SELECT number FROM slip ORDER BY number")
    ]
