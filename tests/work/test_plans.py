"""Plans of orders: until when they hold, how they are planned again, released and cut."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from salvage.errors import BadValue, Held, NoRoom, NotFound, Refused
from salvage.ids import Code
from salvage.work.check import run_checks
from salvage.work.cutting import reserve
from salvage.work.fitting import BoardFilter
from salvage.work.history import undo
from salvage.work.library import choose_shape
from salvage.work.plan_cutting import WhatCameOut, cut_plan
from salvage.work.planning import (
    Demand,
    PlannedOrder,
    Search,
    plan_order,
    release_order,
    replan_order,
)
from salvage.work.plans import (
    expired_words,
    extend_plan,
    last_day,
    list_plans,
    release_plans,
    view_plan,
)
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import START, SteppingClock, add_board, add_cleared_board, circle_at, clear, dump

FIRST = Search(0, lambda: 0.0)
TODAY = START.date()


def _circles(shop: Workshop, quantity: int, *, width_mm: float = 30.0) -> Demand:
    shape = choose_shape(shop, name="circle", width_mm=width_mm)
    return Demand(shape, quantity, f"circle@{width_mm:g}")


def _plan(shop: Workshop, *demands: Demand, until: date | None = None) -> PlannedOrder:
    wanted = demands or (_circles(shop, 3),)
    return plan_order(shop, demands=wanted, for_whom="order 12", search=FIRST, until=until)


def _code(planned: PlannedOrder) -> Code:
    assert planned.plan is not None
    return planned.plan.code


def _go_on(shop: Workshop, days: int) -> None:
    """Let days pass in the tests' workshop."""
    assert isinstance(shop.clock, SteppingClock)
    shop.clock.now += timedelta(days=days)


def _faults(shop: Workshop) -> list[object]:
    return [line.faults for line in run_checks(shop) if not line.ok]


def test_a_plan_is_a_thing_of_its_own(empty_shop: Workshop) -> None:
    """It has a code, somebody it is for, a last day, its lines, and its places."""
    add_cleared_board(empty_shop)
    planned = _plan(empty_shop, _circles(empty_shop, 2), _circles(empty_shop, 1, width_mm=20))
    view = view_plan(empty_shop, plan=_code(planned))

    assert (view.plan.for_whom, view.plan.holds_until) == ("order 12", "2026-06-03")
    assert [(s.line.name, s.line.quantity, s.held, s.open) for s in view.lines] == [
        ("circle@30", 2, 2, 0),
        ("circle@20", 1, 1, 0),
    ]
    assert [place.line for place in view.places] == [1, 1, 2]
    assert (view.state, view.expired) == ("held", False)
    assert _faults(empty_shop) == []


def test_equal_lines_are_one_and_two_sizes_need_two_names(empty_shop: Workshop) -> None:
    """Two and one of the same circle are three; two sizes under one name are refused."""
    add_cleared_board(empty_shop)
    planned = _plan(empty_shop, _circles(empty_shop, 2), _circles(empty_shop, 1))
    small = choose_shape(empty_shop, name="circle", width_mm=20)
    large = choose_shape(empty_shop, name="circle", width_mm=30)

    assert len(planned.reservations) == 3
    assert [s.line.quantity for s in view_plan(empty_shop, plan=_code(planned)).lines] == [3]
    with pytest.raises(BadValue, match="in two sizes"):
        _plan(empty_shop, Demand(small, 1), Demand(large, 1))


def test_the_last_day_is_chosen_counted_or_the_workshops_own(empty_shop: Workshop) -> None:
    """A day, a number of days, or the setting; one that has passed is refused."""
    change_settings(empty_shop, typed={"hold-days": "10"})

    assert last_day(empty_shop) == TODAY + timedelta(days=10)
    assert last_day(empty_shop, days=3) == TODAY + timedelta(days=3)
    assert last_day(empty_shop, until=TODAY) == TODAY
    for slip in (-1, 1001):
        with pytest.raises(BadValue):
            last_day(empty_shop, until=TODAY + timedelta(days=slip))
    with pytest.raises(BadValue, match="not both"):
        last_day(empty_shop, until=TODAY, days=1)
    with pytest.raises(Exception, match="no number of days"):
        change_settings(empty_shop, typed={"hold-days": "for ever"})


def test_time_alone_changes_no_table(empty_shop: Workshop) -> None:
    """The last day passes: the plan is said to have expired, and not one row is another."""
    add_cleared_board(empty_shop)
    plan = _code(_plan(empty_shop, until=TODAY))
    before = dump(empty_shop)
    _go_on(empty_shop, 1)
    view = view_plan(empty_shop, plan=plan)

    assert (view.state, view.expired) == ("expired", True)
    assert expired_words(empty_shop.conn, empty_shop.today) == (
        f"plan {plan} for order 12 held until 2026-05-04, which has passed",
    )
    assert dump(empty_shop) == before
    assert _faults(empty_shop) == []


def test_an_expired_plan_gives_way_to_the_next_order(empty_shop: Workshop) -> None:
    """A new order takes the places of one whose time is up, by events that say so."""
    add_cleared_board(empty_shop)
    old = _plan(empty_shop, _circles(empty_shop, 6), until=TODAY)
    held = plan_order(
        empty_shop, demands=[_circles(empty_shop, 6)], for_whom="order 13", search=FIRST
    )
    _go_on(empty_shop, 1)
    new = plan_order(
        empty_shop, demands=[_circles(empty_shop, 6)], for_whom="order 14", search=FIRST
    )
    view = view_plan(empty_shop, plan=_code(old))

    assert held.reservations == ()
    assert {place.code for place in new.expired} == {place.code for place in old.reservations}
    assert len(new.reservations) == len(old.reservations) == 6
    assert (view.state, view.plan.reason) == ("released", "held until 2026-05-04")
    assert _faults(empty_shop) == []


def test_expired_plans_are_released_by_name(empty_shop: Workshop) -> None:
    """Only those whose day has passed; where there is none, that is said."""
    add_cleared_board(empty_shop)
    short = _plan(empty_shop, _circles(empty_shop, 1), until=TODAY)
    long = _plan(empty_shop, _circles(empty_shop, 1))
    with pytest.raises(NotFound, match="no plan has expired"):
        release_plans(empty_shop, expired=True)
    _go_on(empty_shop, 1)
    freed = release_plans(empty_shop, expired=True)

    assert [place.plan for place in freed] == [_code(short)]
    assert [view.plan.code for view in list_plans(empty_shop)] == [_code(long)]
    assert len(list_plans(empty_shop, every=True)) == 2


def test_a_plan_is_extended_released_and_then_holds_nothing(empty_shop: Workshop) -> None:
    """More time when it is asked for; a released plan cannot be extended or cut."""
    add_cleared_board(empty_shop)
    plan = _code(_plan(empty_shop))
    later = extend_plan(empty_shop, plan=plan, until=TODAY + timedelta(days=60))
    freed = release_plans(empty_shop, plans=[plan], reason="withdrawn")

    assert later.plan.holds_until == "2026-07-03"
    assert len(freed) == 3
    assert view_plan(empty_shop, plan=plan).state == "released"
    for deed in (
        lambda: extend_plan(empty_shop, plan=plan, until=TODAY),
        lambda: release_plans(empty_shop, plans=[plan]),
        lambda: cut_plan(empty_shop, plan=plan),
    ):
        with pytest.raises(Refused, match="holds no place"):
            deed()


def test_releasing_by_name_releases_the_plans_too(empty_shop: Workshop) -> None:
    """All that is held for somebody goes: planned places and single ones."""
    board = add_cleared_board(empty_shop)
    plan = _code(_plan(empty_shop, _circles(empty_shop, 1)))
    spot = circle_at(empty_shop, 100, 20, width_mm=20)
    reserve(empty_shop, board=board.code, spot=spot, for_whom="order 12")
    freed = release_order(empty_shop, for_whom="order 12", reason="withdrawn")

    assert len(freed) == 2
    assert view_plan(empty_shop, plan=plan).state == "released"


def test_boards_are_kept_off_or_named(empty_shop: Workshop) -> None:
    """Not this one, or only that one; what is then missing says what was asked."""
    first, second = (add_cleared_board(empty_shop).code for _ in range(2))
    off = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 2)],
        for_whom="a",
        search=FIRST,
        filters=BoardFilter(keep_off=(first,)),
    )
    only = plan_order(
        empty_shop,
        demands=[_circles(empty_shop, 9)],
        for_whom="b",
        search=FIRST,
        filters=BoardFilter(only=(first,)),
    )
    (missing,) = only.unmet

    assert {place.board for place in off.reservations} == {second}
    assert {place.board for place in only.reservations} == {first}
    assert missing.quantity == 9 - len(only.reservations)
    assert f"only {first}" in missing.reason


def test_given_places_stay_while_the_rest_is_planned_again(empty_shop: Workshop) -> None:
    """Two of three places stay to the micrometre; the third is sought on another board."""
    first = add_cleared_board(empty_shop).code
    planned = _plan(empty_shop)
    second = add_cleared_board(empty_shop).code
    keep = planned.reservations[:2]
    again = replan_order(
        empty_shop,
        plan=_code(planned),
        hold=[place.code for place in keep],
        search=FIRST,
        filters=BoardFilter(keep_off=(first,)),
    )
    view = view_plan(empty_shop, plan=_code(planned))

    assert again.kept == keep
    assert [place.board for place in again.reservations] == [second]
    assert set(view.held) == {*keep, *again.reservations}
    assert [state.open for state in view.lines] == [0]
    assert _faults(empty_shop) == []


def test_planning_again_that_cannot_be_is_refused_and_changes_nothing(
    empty_shop: Workshop,
) -> None:
    """A stranger's place, nothing left, or no place for the rest: the plan stays as it was."""
    board = add_cleared_board(empty_shop).code
    plan = _code(planned := _plan(empty_shop))
    everything = [place.code for place in planned.reservations]
    before = dump(empty_shop)
    with pytest.raises(NotFound, match="does not hold RX0001"):
        replan_order(empty_shop, plan=plan, hold=[Code("RX0001B")], search=FIRST)
    with pytest.raises(Refused, match="nothing of"):
        replan_order(empty_shop, plan=plan, hold=everything, search=FIRST)
    with pytest.raises(Refused, match="stays as it was"):
        replan_order(
            empty_shop, plan=plan, hold=[], search=FIRST, filters=BoardFilter(keep_off=(board,))
        )

    assert dump(empty_shop) == before


def test_a_plan_is_cut_in_one_step(empty_shop: Workshop) -> None:
    """Every place becomes a piece of its shape, and the step is one operation."""
    add_cleared_board(empty_shop)
    planned = _plan(empty_shop)
    done = cut_plan(empty_shop, plan=_code(planned))
    view = view_plan(empty_shop, plan=_code(planned))
    (operations,) = empty_shop.conn.execute(
        "SELECT count(DISTINCT operation) FROM event WHERE kind = 'cut.made'"
    ).fetchone()

    assert [cut.piece is not None for cut in done.cuts] == [True] * 3
    assert [cut.cut.region for cut in done.cuts] == [p.region for p in planned.reservations]
    assert operations == 1
    assert (view.state, view.held) == ("cut", ())
    assert [(state.cut, state.open) for state in view.lines] == [(3, 0)]
    assert _faults(empty_shop) == []


def test_what_failed_is_told_apart(empty_shop: Workshop) -> None:
    """One place cracked, one was not cut: a piece, a scrap, and a place that stays held."""
    add_cleared_board(empty_shop)
    planned = _plan(empty_shop)
    good, cracked, later = (place.code for place in planned.reservations)
    came = WhatCameOut(leave=(later,), scrap=(cracked,), reason="cracked at a via")
    done = cut_plan(empty_shop, plan=_code(planned), came=came)
    (state,) = view_plan(empty_shop, plan=_code(planned)).lines

    assert [(c.cut.reservation, c.cut.outcome, c.cut.reason) for c in done.cuts] == [
        (good, "piece", ""),
        (cracked, "scrap", "cracked at a via"),
    ]
    assert [place.code for place in done.left] == [later]
    assert (state.cut, state.scrap, state.held, state.open) == (1, 1, 1, 1)


def test_one_board_of_a_plan_is_cut_alone(empty_shop: Workshop) -> None:
    """The other board's places stay held."""
    for _ in range(2):
        add_cleared_board(empty_shop)
    planned = _plan(empty_shop, _circles(empty_shop, 8))
    boards = sorted({place.board for place in planned.reservations})
    done = cut_plan(empty_shop, plan=_code(planned), came=WhatCameOut(boards=(boards[0],)))

    assert len(boards) == 2
    assert {cut.cut.board for cut in done.cuts} == {boards[0]}
    assert {place.board for place in done.left} == {boards[1]}


def test_a_held_board_stops_the_cut_before_anything_is_written(empty_shop: Workshop) -> None:
    """One of two boards is not cleared: not even the cleared one's cuts are recorded."""
    add_cleared_board(empty_shop)
    held = add_board(empty_shop)
    planned = _plan(empty_shop, _circles(empty_shop, 8))
    before = dump(empty_shop)

    assert {place.board for place in planned.reservations} >= {held.code}
    with pytest.raises(Held, match=held.code):
        cut_plan(empty_shop, plan=_code(planned))
    assert dump(empty_shop) == before
    clear(empty_shop, held.code)
    assert len(cut_plan(empty_shop, plan=_code(planned)).cuts) == len(planned.reservations)


def test_slips_in_what_came_out_are_refused(empty_shop: Workshop) -> None:
    """Scrap without a reason, a place named twice, a stranger's place, nothing left to cut."""
    add_cleared_board(empty_shop)
    planned = _plan(empty_shop)
    plan, codes = _code(planned), tuple(place.code for place in planned.reservations)
    stranger = Code("RX0001B")
    for came, error, words in (
        (WhatCameOut(scrap=codes[:1]), BadValue, "why it is scrap"),
        (WhatCameOut(scrap=codes[:1], leave=codes[:1], reason="x"), BadValue, "left and scrap"),
        (WhatCameOut(leave=(stranger,)), NotFound, "holds no place RX0001B"),
        (WhatCameOut(boards=(Code("BX0001B"),)), NotFound, "holds no place on"),
        (WhatCameOut(leave=codes), BadValue, "nothing is left to cut"),
    ):
        with pytest.raises(error, match=words):
            cut_plan(empty_shop, plan=plan, came=came)


def test_a_dry_run_of_every_step_leaves_nothing(empty_shop: Workshop) -> None:
    """Whoever only tries it changes no row."""
    add_cleared_board(empty_shop)
    plan = _code(_plan(empty_shop))
    before = dump(empty_shop)
    cut_plan(empty_shop, plan=plan, dry_run=True)
    release_plans(empty_shop, plans=[plan], dry_run=True)
    extend_plan(empty_shop, plan=plan, until=TODAY, dry_run=True)
    replan_order(empty_shop, plan=plan, hold=[], search=FIRST, dry_run=True)

    assert dump(empty_shop) == before


def test_each_step_of_a_plan_is_undone(empty_shop: Workshop) -> None:
    """Cut, planned again, extended, planned: taken back one after the other to the first rows."""
    add_cleared_board(empty_shop)
    kept = {"event", "event_item", "undone", "counter"}

    def rows() -> dict[str, list[tuple[object, ...]]]:
        return {name: found for name, found in dump(empty_shop).items() if name not in kept}

    states = [rows()]
    plan = _code(_plan(empty_shop))
    states.append(rows())
    extend_plan(empty_shop, plan=plan, until=TODAY + timedelta(days=90))
    states.append(rows())
    replan_order(empty_shop, plan=plan, hold=[], search=FIRST)
    states.append(rows())
    cut_plan(empty_shop, plan=plan)
    for state in reversed(states):
        undo(empty_shop)

        assert rows() == state
    assert _faults(empty_shop) == []


def test_places_taken_meanwhile_are_said(empty_shop: Workshop) -> None:
    """While the search ran somebody reserved there: the plan is not made, and says why."""
    board = add_cleared_board(empty_shop)
    (place,) = _plan(empty_shop, _circles(empty_shop, 1, width_mm=70)).reservations
    release_order(empty_shop, for_whom="order 12")
    spot = circle_at(empty_shop, place.x_um / 1000, place.y_um / 1000)
    ticks = iter(range(1000))

    def somebody_else() -> float:
        if next(ticks) == 0:
            reserve(empty_shop, board=board.code, spot=spot, for_whom="order 99")
        return 0.0

    search = Search(0, somebody_else)  # the clock is asked when the shelf has been read
    with pytest.raises(NoRoom, match="the shelf changed"):
        plan_order(
            empty_shop,
            demands=[_circles(empty_shop, 1, width_mm=70)],
            for_whom="order 12",
            search=search,
        )
