"""Boards that hand shears have parted: nothing is held or cut across a straight cut."""

from __future__ import annotations

import pytest

from salvage.errors import NoRoom
from salvage.ids import Code
from salvage.store.lookup import load_board
from salvage.work.area import account_board
from salvage.work.check import run_checks
from salvage.work.cutting import reserve
from salvage.work.fitting import Wish, fits_here
from salvage.work.history import undo
from salvage.work.library import choose_shape
from salvage.work.plan_cutting import cut_plan
from salvage.work.planning import Demand, Search, plan_order
from salvage.work.plans import release_plans
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at
from tests.work.stock import last_operation

SHEARS = Search(0, lambda: 0.0, tool="shears")


def _sheared_plan(shop: Workshop) -> tuple[Code, Code]:
    """A board of 120 x 80 mm, and a plan that shears a tag of 60 x 40 mm from its corner."""
    board = add_cleared_board(shop).code
    shape = choose_shape(shop, name="rectangle", width_mm=60, height_mm=40)
    planned = plan_order(shop, demands=[Demand(shape, 1)], for_whom="tags", search=SHEARS)
    assert planned.plan is not None
    return board, planned.plan.code


def _parts(shop: Workshop, board: Code) -> int:
    ledger = account_board(shop.conn, load_board(shop.conn, board))
    assert ledger is not None
    return len(ledger.fragments)


def _faults(shop: Workshop) -> list[object]:
    return [line.faults for line in run_checks(shop) if not line.ok]


def test_no_usable_part_spans_a_cut_of_the_shears(empty_shop: Workshop) -> None:
    """After two straight cuts the rest is two panels, and the record says so."""
    board, plan = _sheared_plan(empty_shop)
    cut_plan(empty_shop, plan=plan)

    assert _parts(empty_shop, board) == 2
    assert _faults(empty_shop) == []
    undo(empty_shop, operation=last_operation(empty_shop), why="slip")
    assert _faults(empty_shop) == []


@pytest.mark.parametrize("is_cut", [False, True])
def test_nothing_is_held_across_a_straight_cut(empty_shop: Workshop, is_cut: bool) -> None:
    """Neither where the shears went, nor where they will go for a plan that holds."""
    board, plan = _sheared_plan(empty_shop)
    if is_cut:
        cut_plan(empty_shop, plan=plan)
    across = circle_at(empty_shop, 60, 60, width_mm=30)
    with pytest.raises(NoRoom, match="lies across the straight cut"):
        reserve(empty_shop, board=board, spot=across, for_whom="order 3")
    inside = reserve(
        empty_shop, board=board, spot=circle_at(empty_shop, 95, 60, width_mm=20), for_whom="x"
    )

    assert inside.state == "held"
    assert _faults(empty_shop) == []


def test_a_plan_that_is_let_go_parts_nothing(empty_shop: Workshop) -> None:
    """Its lines were never cut, so the board is whole again."""
    board, plan = _sheared_plan(empty_shop)
    release_plans(empty_shop, plans=[plan], reason="withdrawn")
    held = reserve(empty_shop, board=board, spot=circle_at(empty_shop, 60, 60), for_whom="x")

    assert held.state == "held"
    assert _parts(empty_shop, board) == 1
    assert _faults(empty_shop) == []


def test_a_parted_board_is_not_sheared_from_edge_to_edge(empty_shop: Workshop) -> None:
    """The edge of the board is no panel's edge any more."""
    board, plan = _sheared_plan(empty_shop)
    cut_plan(empty_shop, plan=plan)
    shape = choose_shape(empty_shop, name="circle", width_mm=20)
    fit = fits_here(empty_shop, board=board, wish=Wish(shape, 0.0, tool="shears"))

    assert fit.verdict == "no"
    assert "parted" in fit.reason
