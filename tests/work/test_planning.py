"""Planning an order over the shelf."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, NotFound
from salvage.geometry.outline import to_polygon
from salvage.records.region import region_of_text
from salvage.work.check import run_checks
from salvage.work.cutting import NewCut, record_cut, spot_of_reservation
from salvage.work.fitting import BoardFilter
from salvage.work.library import choose_shape
from salvage.work.planning import Demand, Search, list_reservations, plan_order, release_order
from salvage.work.wishes import parse_demand
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, cut_circle, dump

FIRST = Search(0, lambda: 0.0)


def _circles(shop: Workshop, quantity: int, *, width_mm: float = 30.0) -> Demand:
    return Demand(choose_shape(shop, name="circle", width_mm=width_mm), quantity)


def test_an_order_is_held_on_real_boards(empty_shop: Workshop) -> None:
    """Every piece of the order has its place; no two places come closer than the kerf."""
    add_cleared_board(empty_shop)
    plan = plan_order(
        empty_shop, demands=[_circles(empty_shop, 3)], for_whom="order 12", search=FIRST
    )
    places = [to_polygon(region_of_text(one.region)) for one in plan.reservations]
    gaps = [a.distance(b) for i, a in enumerate(places) for b in places[:i]]

    assert [one.for_whom for one in plan.reservations] == ["order 12"] * 3
    assert plan.unmet == ()
    assert min(gaps) >= empty_shop.settings.kerf_mm
    assert [line.faults for line in run_checks(empty_shop) if not line.ok] == []


def test_remnants_are_used_up_first(empty_shop: Workshop) -> None:
    """A board that was cut already is taken before a fresh one that would do as well."""
    add_cleared_board(empty_shop)
    remnant = add_cleared_board(empty_shop)
    cut_circle(empty_shop, remnant.code, 25, 25)
    plan = plan_order(
        empty_shop, demands=[_circles(empty_shop, 2)], for_whom="order 12", search=FIRST
    )

    assert {one.board for one in plan.reservations} == {remnant.code}
    assert plan.fresh_boards == 0


def test_what_cannot_be_met_is_said(empty_shop: Workshop) -> None:
    """More than the shelf holds: what fits is held, the rest is told with its reason."""
    add_cleared_board(empty_shop)
    plan = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 5, width_mm=90.0)],
        for_whom="order 12",
        search=FIRST,
    )

    assert plan.reservations == ()
    assert [(line.quantity, bool(line.reason)) for line in plan.unmet] == [(5, True)]


def test_each_planned_place_can_be_cut(empty_shop: Workshop) -> None:
    """The plan's places are cut one after the other without a conflict."""
    add_cleared_board(empty_shop)
    plan = plan_order(
        empty_shop, demands=[_circles(empty_shop, 4)], for_whom="order 12", search=FIRST
    )
    for held in plan.reservations:
        new = NewCut(held.board, spot_of_reservation(held), reservation=held.code)
        record_cut(empty_shop, new=new)

    assert list_reservations(empty_shop) == ()


def test_filters_and_dry_runs_hold(empty_shop: Workshop) -> None:
    """Only cleared boards if asked; a trial plan leaves nothing behind."""
    add_board(empty_shop)
    before = dump(empty_shop)
    plan = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 1)],
        for_whom="order 12",
        search=FIRST,
        filters=BoardFilter(cleared_only=True),
    )
    tried = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 1)],
        for_whom="order 12",
        search=FIRST,
        dry_run=True,
    )

    assert plan.reservations == ()
    assert len(tried.reservations) == 1
    assert dump(empty_shop) == before


def test_an_order_is_released_as_one(empty_shop: Workshop) -> None:
    """All places under its name go at once; others stay; nothing held is said."""
    add_cleared_board(empty_shop)
    for name in ("order 12", "order 13"):
        plan_order(empty_shop, demands=[_circles(empty_shop, 1)], for_whom=name, search=FIRST)
    freed = release_order(empty_shop, for_whom="order 12", reason="withdrawn")

    assert {one.state for one in freed} == {"released"}
    assert [one.for_whom for one in list_reservations(empty_shop)] == ["order 13"]
    with pytest.raises(NotFound, match="nothing is held"):
        release_order(empty_shop, for_whom="order 12")


def test_orders_are_read_as_typed(empty_shop: Workshop) -> None:
    """Shape, width and quantity in one word; slips are refused."""
    demand = parse_demand(empty_shop, "circle@40:6")

    assert (demand.quantity, demand.shape.region.size_mm) == (6, (40.0, 40.0))
    for slip in ("circle@40:none", "circle@wide:2", "circle:2"):
        with pytest.raises(BadValue):
            parse_demand(empty_shop, slip)
    with pytest.raises(NotFound):
        parse_demand(empty_shop, "dragon:2")
    with pytest.raises(BadValue, match="for whom"):
        plan_order(empty_shop, demands=[demand], for_whom=" ", search=FIRST)
    with pytest.raises(BadValue, match="one or more"):
        plan_order(empty_shop, demands=[], for_whom="order 12", search=FIRST)


def test_held_boards_come_in_only_where_the_cleared_cannot_give_all(empty_shop: Workshop) -> None:
    """An order that a cleared board can give waits for no clearing."""
    held = add_board(empty_shop)
    cleared = add_cleared_board(empty_shop)
    small = plan_order(
        empty_shop, demands=[_circles(empty_shop, 2)], for_whom="order 12", search=FIRST
    )
    release_order(empty_shop, for_whom="order 12")
    large = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 2, width_mm=76)],
        for_whom="order 13",
        search=FIRST,
    )

    assert {one.board for one in small.reservations} == {cleared.code}
    assert {one.board for one in large.reservations} == {cleared.code, held.code}
