"""Cutting a held place at the bench: with its plan's own tool and kerf."""

from __future__ import annotations

from salvage.work.bench_deeds import do_deed
from salvage.work.bench_words import Deed
from salvage.work.cutting import reserve
from salvage.work.library import choose_shape
from salvage.work.planning import Demand, Search, plan_order
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at


def _cut_row(shop: Workshop) -> tuple[str, int]:
    (row,) = shop.conn.execute("SELECT tool, kerf_um FROM cut").fetchall()
    return row[0], row[1]


def test_the_bench_cuts_a_plans_place_with_the_plans_tool(empty_shop: Workshop) -> None:
    """A place that was laid for hand shears loses no kerf when it is cut by scan."""
    add_cleared_board(empty_shop)
    shape = choose_shape(empty_shop, name="rectangle", width_mm=60, height_mm=40)
    search = Search(0, lambda: 0.0, tool="shears")
    planned = plan_order(empty_shop, demands=[Demand(shape, 1)], for_whom="tags", search=search)
    (place,) = planned.reservations
    do_deed(empty_shop, deed=Deed("cut", "cut it", place.board, place.code))

    assert _cut_row(empty_shop) == ("shears", 0)


def test_the_bench_keeps_the_kerf_that_a_plan_was_made_with(empty_shop: Workshop) -> None:
    """The workshop changes its bit after the plan: the plan's own kerf is cut and recorded."""
    add_cleared_board(empty_shop)
    shape = choose_shape(empty_shop, name="circle", width_mm=30)
    search = Search(0, lambda: 0.0)
    planned = plan_order(empty_shop, demands=[Demand(shape, 1)], for_whom="tags", search=search)
    (place,) = planned.reservations
    change_settings(empty_shop, typed={"kerf-mm": "3"})
    do_deed(empty_shop, deed=Deed("cut", "cut it", place.board, place.code))

    assert _cut_row(empty_shop) == ("router", 2000)


def test_a_place_held_by_itself_is_cut_with_the_usual_kerf(empty_shop: Workshop) -> None:
    """Nobody planned it, so the workshop's own numbers count."""
    board = add_cleared_board(empty_shop)
    place = reserve(empty_shop, board=board.code, spot=circle_at(empty_shop, 40, 40), for_whom="x")
    change_settings(empty_shop, typed={"kerf-mm": "3"})
    do_deed(empty_shop, deed=Deed("cut", "cut it", place.board, place.code))

    assert _cut_row(empty_shop) == ("router", 3000)
