"""What an export of one thing holds: its line, and all that concerned it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from salvage.ids import Code
from salvage.records.events import Event
from salvage.work.cutting import release
from salvage.work.export_epcis import export_epcis
from salvage.work.export_line import gather_line
from salvage.work.library import choose_shape
from salvage.work.materials import NewBatch, add_batch, use_batches
from salvage.work.planning import Demand, Search, plan_order, release_order
from salvage.work.recall import close_recall, open_recall
from salvage.work.recall_settle import settle_items
from tests.bench import make_shop
from tests.work.stock import Stock


@pytest.fixture(name="stock")
def _stock(tmp_path: Path) -> Stock:
    return Stock(make_shop(tmp_path))


def _kinds(stock: Stock, about: Code) -> list[str]:
    return [event.kind for event in _events(stock, about)]


def _events(stock: Stock, about: Code) -> tuple[Event, ...]:
    return gather_line(stock.shop, about=about).events


def test_a_recall_belongs_to_all_that_it_held(stock: Stock) -> None:
    """Of piece and board: opened, settled and closed; the neighbour is not named by it."""
    recall = open_recall(stock.shop, subject=stock.board, reason="nickel").recall.code
    settle_items(
        stock.shop, recall=recall, outcome="not affected", items=[stock.piece], note="tested"
    )
    close_recall(stock.shop, recall=recall, outcome="fine", anyway="a drill")
    told = [kind for kind in _kinds(stock, stock.piece) if kind.startswith("recall.")]
    document = json.loads(export_epcis(stock.shop, about=stock.piece).data)
    held = [e for e in document["epcisBody"]["eventList"] if e.get("disposition") == "recalled"]

    assert told == ["recall.begun", "recall.settled", "recall.closed", "recall.left_open"]
    assert [kind for kind in _kinds(stock, stock.board) if kind.startswith("recall.")] == told
    assert len(held) == 1
    assert stock.sold not in json.dumps(document)


def test_a_reservation_that_was_released_belongs_to_its_board(stock: Stock) -> None:
    """Made and let go; another board's recall and reservation do not belong to it."""
    release(stock.shop, reservation=stock.reservation, reason="withdrawn")
    told = _kinds(stock, stock.board)

    assert told.count("reservation.made") == told.count("reservation.released") == 1
    assert "recall.begun" not in told
    assert "reservation.made" not in _kinds(stock, stock.piece)


def test_a_plan_belongs_to_the_boards_that_it_held(stock: Stock) -> None:
    """From making to releasing, and the plan's own line holds the places that it let go."""
    demand = Demand(choose_shape(stock.shop, name="circle", width_mm=12), 1, "circle@12")
    plan_order(stock.shop, demands=[demand], for_whom="order 9", search=Search(0, lambda: 0.0))
    release_order(stock.shop, for_whom="order 9", reason="late")
    ((plan, board),) = stock.shop.conn.execute(
        "SELECT plan, board FROM reservation WHERE plan <> ''"
    )
    wanted = {"plan.made", "reservation.made", "reservation.released", "plan.released"}

    assert wanted <= set(_kinds(stock, Code(board)))
    assert wanted <= set(_kinds(stock, Code(plan)))


def test_a_batch_belongs_to_the_pieces_that_it_went_into(stock: Stock) -> None:
    """Its receipt and its use; not its use in others."""
    batch = add_batch(stock.shop, new=NewBatch("sealant", "varnish")).batch.code
    use_batches(stock.shop, batches=[batch], pieces=[stock.piece])
    told = _kinds(stock, stock.piece)

    assert [kind for kind in told if kind.startswith("batch.")] == ["batch.received", "batch.used"]
    assert "batch.used" not in _kinds(stock, stock.sold)
