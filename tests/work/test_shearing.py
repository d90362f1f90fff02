"""Orders for hand shears: straight cuts from edge to edge."""

from __future__ import annotations

import shapely

from salvage.geometry.outline import rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.work.check import run_checks
from salvage.work.cutting import reserve
from salvage.work.library import choose_shape
from salvage.work.plan_cutting import cut_plan
from salvage.work.planning import Demand, Search, plan_order
from salvage.work.plans import view_plan
from salvage.work.record import NewKeepOut, add_keep_outs
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at

SHEARS = Search(0, lambda: 0.0, tool="shears")


def test_shears_cut_from_edge_to_edge_without_kerf(empty_shop: Workshop) -> None:
    """Four quarters of a board are all pieces: no kerf is lost, and the cuts are told in order."""
    board = add_cleared_board(empty_shop)
    shape = choose_shape(empty_shop, name="rectangle", width_mm=60, height_mm=40)
    planned = plan_order(empty_shop, demands=[Demand(shape, 4)], for_whom="tags", search=SHEARS)
    assert planned.plan is not None
    view = view_plan(empty_shop, plan=planned.plan.code)
    done = cut_plan(empty_shop, plan=planned.plan.code)

    assert (view.plan.tool, view.plan.kerf_um) == ("shears", 0)
    assert len(planned.reservations) == 4
    assert planned.unmet == ()
    assert len(view.shears) == 3
    first = view.shears[0]
    assert (first.board, {first.from_x_um, first.to_x_um} & {0, 60_000, 120_000} != set()) == (
        board.code,
        True,
    )
    assert done.cuts[-1].board.usable_um2 == 0  # not a square micrometre went into a kerf
    assert [line.faults for line in run_checks(empty_shop) if not line.ok] == []


def test_shears_leave_boards_alone_on_which_places_are_held(empty_shop: Workshop) -> None:
    """A cut from edge to edge would run through somebody else's piece."""
    board = add_cleared_board(empty_shop)
    spot = circle_at(empty_shop, 20, 20, width_mm=20)
    reserve(empty_shop, board=board.code, spot=spot, for_whom="order 3")
    planned = plan_order(
        empty_shop,
        demands=[Demand(choose_shape(empty_shop, name="circle", width_mm=30), 2)],
        for_whom="tags",
        search=SHEARS,
    )

    assert planned.reservations == ()
    assert "no board is left that straight cuts may cross" in planned.unmet[0].reason


def test_shears_do_not_run_through_a_keep_out(empty_shop: Workshop) -> None:
    """A metal port at the edge would spoil the blades: the cuts go round it, or none is made."""
    board = add_cleared_board(empty_shop)
    port = place(rectangle(30, 30), Placement(0, 0))
    add_keep_outs(empty_shop, board=board.code, keep_outs=[NewKeepOut(port, "port")])
    shape = choose_shape(empty_shop, name="rectangle", width_mm=40, height_mm=25)
    planned = plan_order(empty_shop, demands=[Demand(shape, 9)], for_whom="tags", search=SHEARS)
    assert planned.plan is not None
    inner = to_polygon(port).buffer(-0.1)

    assert planned.reservations
    for cut in view_plan(empty_shop, plan=planned.plan.code).shears:
        ends = [
            (cut.from_x_um / 1000, cut.from_y_um / 1000),
            (cut.to_x_um / 1000, cut.to_y_um / 1000),
        ]
        assert not inner.intersects(shapely.LineString(ends)), cut
