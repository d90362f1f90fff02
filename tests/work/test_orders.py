"""Orders: taken, quoted, made on real boards, handed over, and what is late."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import date, timedelta
from pathlib import Path

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.region import region_of_text
from salvage.store.forget import seals_of_donor
from salvage.work.check import run_checks
from salvage.work.devices import merge_bundle, write_for_others
from salvage.work.forget_customer import forget_customer
from salvage.work.history import undo
from salvage.work.order_making import (
    free_pieces,
    hand_over,
    plan_for_order,
    set_aside,
)
from salvage.work.order_view import OrderView, list_orders, view_order
from salvage.work.orders import (
    NewOrder,
    OrderCorrection,
    answer_quote,
    cancel_order,
    correct_order,
    quote_order,
    take_order,
)
from salvage.work.pieces import sell, set_stage
from salvage.work.plan_cutting import cut_plan
from salvage.work.plan_search import Search
from salvage.work.plans import list_plans
from salvage.work.selling import SaleItem, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.slips import Terms
from salvage.work.times import rate_step
from salvage.work.wishes import parse_demand
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, dump
from tests.work.fleet import Fleet
from tests.work.stall import CASH, DAY, make_pieces

SEARCH = Search(0, lambda: 0.0)
CUSTOMER = "Mirren Faulds"


def _take(shop: Workshop, *lines: str, **more: str | date) -> Code:
    demands = [parse_demand(shop, line) for line in lines or ("circle@20:2",)]
    new = NewOrder(CUSTOMER, demands, **more)  # type: ignore[arg-type]
    return take_order(shop, new=new).order.code


def _accepted(shop: Workshop, *lines: str, each_minor: int = 2400) -> Code:
    order = _take(shop, *lines)
    names = [state.line.name for state in view_order(shop, order=order).lines]
    each = dict.fromkeys(names, each_minor)
    quote_order(shop, order=order, each=each, valid_until=DAY)
    answer_quote(shop, order=order, accepted=True)
    return order


def _cut_all(shop: Workshop, order: Code) -> OrderView:
    (plan,) = (plan for plan, held in view_order(shop, order=order).held_by_plan if held)
    cut_plan(shop, plan=plan)
    return view_order(shop, order=order)


def test_an_order_goes_from_request_to_hand_over(empty_shop: Workshop) -> None:
    """Each step is told by a word, and the slip bears the quoted price."""
    add_cleared_board(empty_shop)
    order = _take(empty_shop)
    phases = [view_order(empty_shop, order=order).phase]
    quote_order(empty_shop, order=order, each={"circle@20": 2400}, valid_until=DAY)
    phases.append(view_order(empty_shop, order=order).phase)
    answer_quote(empty_shop, order=order, accepted=True)
    phases.append(view_order(empty_shop, order=order).phase)
    planned = plan_for_order(empty_shop, order=order, search=SEARCH)
    phases.append(planned.view.phase)
    view = _cut_all(empty_shop, order)
    phases.append(view.phase)
    pieces = [one.code for one in view.lines[0].pieces]
    set_stage(empty_shop, pieces=pieces, stage="ready")
    phases.append(view_order(empty_shop, order=order).phase)
    done = hand_over(empty_shop, order=order, pieces=pieces[:1], terms=CASH)
    phases.append(done.view.phase)
    phases.append(hand_over(empty_shop, order=order, terms=CASH).view.phase)

    assert phases == [
        "asked",
        "quoted",
        "to be planned",
        "reserved",
        "being finished",
        "ready",
        "partly handed over",
        "handed over",
    ]
    assert done.slip.total_minor == 2400
    assert done.slip.slip.customer_order == order
    assert list_orders(empty_shop) == ()
    assert all(line.ok for line in run_checks(empty_shop))


def test_nobody_reads_the_name_on_the_shelf(empty_shop: Workshop) -> None:
    """Plans and reservations bear the order's code; the journal bears only seals."""
    add_cleared_board(empty_shop)
    order = _take(empty_shop, contact="mirren@example.org")
    planned = plan_for_order(empty_shop, order=order, search=SEARCH).planned
    bodies = [body for (body,) in empty_shop.conn.execute("SELECT body FROM event")]

    assert planned.for_whom == f"order {order}"
    assert not [body for body in bodies if "Mirren" in body or "mirren@" in body]
    assert view_order(empty_shop, order=order).name == CUSTOMER


def test_only_boards_of_the_wished_source_are_held(empty_shop: Workshop) -> None:
    """'From the planetarium's boards only': another donor's cleared board stays whole."""
    board = add_cleared_board(empty_shop)
    other = add_drop_off(empty_shop)
    order = _take(empty_shop, drop_off=other)
    nothing = plan_for_order(empty_shop, order=order, search=SEARCH)
    correct_order(
        empty_shop, order=order, new=OrderCorrection(drop_off=board.drop_off), why="misheard"
    )
    found = plan_for_order(empty_shop, order=order, search=SEARCH)

    assert nothing.planned.plan is None
    assert {place.board for place in found.planned.reservations} == {board.code}


def test_what_is_scrap_is_planned_again(empty_shop: Workshop) -> None:
    """One of two cuts cracked: the order lacks one again, and a second plan holds it."""
    from salvage.work.plan_cutting import WhatCameOut

    add_cleared_board(empty_shop)
    order = _accepted(empty_shop)
    first = plan_for_order(empty_shop, order=order, search=SEARCH).planned
    assert first.plan is not None
    spoilt = WhatCameOut(scrap=(first.reservations[0].code,), reason="cracked")
    cut_plan(empty_shop, plan=first.plan.code, came=spoilt)
    lacking = view_order(empty_shop, order=order)
    second = plan_for_order(empty_shop, order=order, search=SEARCH)

    assert (lacking.lines[0].open, lacking.phase) == (1, "partly planned")
    assert [held for _, held in second.view.held_by_plan] == [0, 1]
    assert second.view.phase == "being cut"
    with pytest.raises(Refused, match="lacks nothing"):
        plan_for_order(empty_shop, order=order, search=SEARCH)


def test_a_piece_that_waits_is_sold_to_nobody_else(empty_shop: Workshop) -> None:
    """Set aside, cut for the order, or a stranger: each is told apart."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    order = _accepted(empty_shop, "circle@12:1")
    set_aside(empty_shop, order=order, pieces=[tern])
    with pytest.raises(Refused, match=f"{tern} waits for the order {order}"):
        sell(empty_shop, piece=tern)
    with pytest.raises(Refused, match="own already"):
        set_aside(empty_shop, order=order, pieces=[tern])
    with pytest.raises(Refused, match="is not of"):
        hand_over(empty_shop, order=order, pieces=[kite], terms=CASH)
    free_pieces(empty_shop, pieces=[tern], reason="wants another")
    with pytest.raises(Refused, match="is not set aside"):
        free_pieces(empty_shop, pieces=[tern])
    sold = sell_pieces(empty_shop, items=[SaleItem(tern)], terms=CASH)

    assert sold.to_pay_minor == 1850


def test_a_cancelled_order_lets_everything_go(empty_shop: Workshop) -> None:
    """Its boards are usable again, its pieces for sale; the order stays on record."""
    (tern,) = make_pieces(empty_shop, 1850)
    before = empty_shop.conn.execute("SELECT usable_um2 FROM board").fetchall()
    order = _accepted(empty_shop, "circle@12:1", "circle@20:2")
    plan_for_order(empty_shop, order=order, search=SEARCH)
    set_aside(empty_shop, order=order, pieces=[tern], line="circle@12")
    view = cancel_order(empty_shop, order=order, reason="moved away")

    assert view.phase == "cancelled"
    assert list_plans(empty_shop) == ()
    assert empty_shop.conn.execute("SELECT usable_um2 FROM board").fetchall() == before
    assert sell(empty_shop, piece=tern).piece.stage == "sold"
    for again in (
        lambda: cancel_order(empty_shop, order=order, reason="again"),
        lambda: plan_for_order(empty_shop, order=order, search=SEARCH),
        lambda: quote_order(empty_shop, order=order, each={}, valid_until=DAY),
        lambda: hand_over(empty_shop, order=order, terms=CASH),
    ):
        with pytest.raises(Refused, match="is cancelled"):
            again()


def test_a_declined_quote_lets_boards_go_and_may_be_made_again(empty_shop: Workshop) -> None:
    """The customer comes back a week later: the same order is quoted anew."""
    add_cleared_board(empty_shop)
    order = _take(empty_shop)
    plan_for_order(empty_shop, order=order, search=SEARCH)
    quote_order(empty_shop, order=order, each={"circle@20": 2400}, valid_until=DAY)
    declined = answer_quote(empty_shop, order=order, accepted=False, reason="dear")
    again = quote_order(empty_shop, order=order, each={"circle@20": 2000}, valid_until=DAY)

    assert (declined.phase, list_plans(empty_shop)) == ("declined", ())
    assert [quote.total_minor for quote in again.quotes] == [4800, 4000]
    assert again.lines[0].each_minor == 2000


def test_a_quote_ends_on_its_day(empty_shop: Workshop) -> None:
    """After its last day a quote is told as expired and cannot be accepted."""
    order = _take(empty_shop)
    quote_order(empty_shop, order=order, each={"circle@20": 2400}, valid_until=DAY)
    clock = empty_shop.clock
    empty_shop.clock = lambda: clock() + timedelta(days=1)

    assert view_order(empty_shop, order=order).phase == "quote expired"
    with pytest.raises(Refused, match="was valid until 2026-05-04"):
        answer_quote(empty_shop, order=order, accepted=True)


def test_the_makers_rule_prices_a_quote(empty_shop: Workshop) -> None:
    """24.00 an hour, 20 minutes, 1.00 for selling: 9.00 each."""
    order = _take(empty_shop, "circle@20:2")
    with pytest.raises(Refused, match="no hourly rate"):
        quote_order(empty_shop, order=order, each={}, valid_until=DAY)
    change_settings(empty_shop, typed={"hourly-rate": "24", "selling-cost": "1"})
    with pytest.raises(Refused, match="no time or rate is known for circle"):
        quote_order(empty_shop, order=order, each={}, valid_until=DAY)
    rate_step(empty_shop, step="cutting", seconds=1200, shape="circle")
    view = quote_order(empty_shop, order=order, each={}, valid_until=DAY)

    assert view.quotes[0].total_minor == 2 * 900
    with pytest.raises(BadValue, match="asks for no 'tern'"):
        quote_order(empty_shop, order=order, each={"tern": 1}, valid_until=DAY)


def test_the_first_due_comes_first_and_late_is_told(empty_shop: Workshop) -> None:
    """One late, one pressing, one without a day; what is handed over is not late."""
    make_pieces(empty_shop, 1850)
    later = _take(empty_shop, due_on=DAY + timedelta(days=5))
    none = _take(empty_shop)
    first = _take(empty_shop, due_on=DAY)
    pressing = [view.is_pressing for view in list_orders(empty_shop)]
    clock = empty_shop.clock
    empty_shop.clock = lambda: clock() + timedelta(days=2)
    views = list_orders(empty_shop)

    assert [view.order.code for view in views] == [first, later, none]
    assert pressing == [True, True, False]
    assert [view.is_late for view in views] == [True, False, False]
    assert [view.days_left for view in views] == [-2, 3, None]


def test_an_order_is_mended_until_something_is_made(empty_shop: Workshop) -> None:
    """Two more of them: a new quote is needed; with boards held, it is refused with the list."""
    add_cleared_board(empty_shop)
    order = _accepted(empty_shop)
    lines = [parse_demand(empty_shop, "circle@20:4")]
    view = correct_order(
        empty_shop, order=order, new=OrderCorrection(lines=lines), why="wants two more"
    )

    assert (view.phase, view.wanted) == ("asked", 4)
    plan_for_order(empty_shop, order=order, search=SEARCH)
    with pytest.raises(Refused, match="holds 4 places"):
        correct_order(
            empty_shop, order=order, new=OrderCorrection(lines=lines[:1]), why="wants fewer"
        )


def test_reasons_and_notes_may_not_tell_the_name(empty_shop: Workshop) -> None:
    """What the journal keeps in clear holds no word of the customer's name."""
    order = _take(empty_shop)
    before = dump(empty_shop)
    for attempt in (
        lambda: _take(empty_shop, notes="ring Faulds first"),
        lambda: cancel_order(empty_shop, order=order, reason="Mirren moved"),
        lambda: correct_order(
            empty_shop, order=order, new=OrderCorrection(notes="for Mirren"), why="x"
        ),
        lambda: forget_customer(empty_shop, order=order, reason="Mirren asked"),
    ):
        with pytest.raises(BadValue, match="part of the sealed"):
            attempt()

    assert dump(empty_shop) == before


def test_odd_orders_are_refused(empty_shop: Workshop) -> None:
    """Nothing asked for, no name, a day gone by, twice the same, no such shape in the order."""
    (tern,) = make_pieces(empty_shop, 1850)
    line = parse_demand(empty_shop, "circle@20:1")
    for new, words in (
        (NewOrder(CUSTOMER, []), "one or more of each shape"),
        (NewOrder(" ", [line]), "whose order"),
        (NewOrder(CUSTOMER, [line, line]), "comes twice"),
        (NewOrder(CUSTOMER, [line], due_on=DAY - timedelta(days=1)), "has passed"),
    ):
        with pytest.raises(BadValue, match=words):
            take_order(empty_shop, new=new)
    order = take_order(empty_shop, new=NewOrder(CUSTOMER, [parse_demand(empty_shop, "oval@20:1")]))
    code = order.order.code
    with pytest.raises(BadValue, match="does not ask for"):
        set_aside(empty_shop, order=code, pieces=[tern])
    with pytest.raises(Refused, match="asked, not quoted"):
        answer_quote(empty_shop, order=code, accepted=True)
    with pytest.raises(Refused, match=r"nothing of .* is ready"):
        hand_over(empty_shop, order=code, terms=CASH)
    with pytest.raises(BadValue, match="nothing about"):
        correct_order(empty_shop, order=code, new=OrderCorrection(contact=""), why="x")
    with pytest.raises(BadValue, match="say why"):
        cancel_order(empty_shop, order=code, reason=" ")
    with pytest.raises(NotFound, match="no order"):
        forget_customer(empty_shop, order=Code("NC0001U"), reason="asked")


def test_a_forgotten_customer_leaves_no_byte(empty_shop: Workshop) -> None:
    """Name, a corrected name and contact are erased; order and chain stay, undo is refused."""
    order = _take(empty_shop, contact="mirren@example.org")
    correct_order(empty_shop, order=order, new=OrderCorrection(name="M. Fauldes"), why="misspelt")
    done = forget_customer(empty_shop, order=order, reason="asked by letter")
    again = forget_customer(empty_shop, order=order, reason="asked by letter")
    raw = empty_shop.path.read_bytes()
    view = view_order(empty_shop, order=order)

    assert (done.erased, again.erased) == (3, 0)
    assert (view.name, view.contact, bool(view.forgotten_at)) == ("", "", True)
    assert b"Faulds" not in raw
    assert b"mirren@" not in raw
    assert len(seals_of_donor(empty_shop.conn, order)) == 3
    assert all(line.ok for line in run_checks(empty_shop))
    with pytest.raises(Refused, match="cannot be undone"):
        undo(empty_shop)


def test_other_devices_forget_with_the_next_merge(tmp_path: Path) -> None:
    """Erased at home, the name goes from the tablet with the next bundle; none brings it back."""
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        home, tablet = fleet.shops
        order = _take(home)
        fleet.exchange_all()
        known = view_order(tablet, order=order).name
        old = write_for_others(tablet, everything=True).data
        forget_customer(home, order=order, reason="asked by letter")
        fleet.exchange_all()
        merge_bundle(home, data=old, name="old")

        assert known == CUSTOMER
        for shop in (home, tablet):
            assert view_order(shop, order=order).name == ""
            assert b"Faulds" not in shop.path.read_bytes()


def test_a_customers_own_outline_is_held_as_it_was_drawn(empty_shop: Workshop) -> None:
    """The order keeps the outline itself, so that a later change of the library changes nothing."""
    from salvage.work.library import ShapeIntake, add_shape

    def drawn(width: int) -> bytes:
        size = f'width="{width}mm" height="10mm" viewBox="0 0 {width} 10"'
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
            f'<path d="M0 0 H{width} V10 H0 Z"/></svg>'
        ).encode()

    add_cleared_board(empty_shop)
    add_shape(empty_shop, name="own", data=drawn(25), file_name="own.svg", intake=ShapeIntake())
    order = _take(empty_shop, "own:1")
    add_shape(empty_shop, name="own", data=drawn(30), file_name="own.svg", intake=ShapeIntake())
    planned = plan_for_order(empty_shop, order=order, search=SEARCH).planned

    (place,) = planned.reservations
    assert sorted(region_of_text(place.region).size_mm) == [10, 25]


def test_a_full_order_is_handed_over_with_a_discount(empty_shop: Workshop) -> None:
    """A piece of the order is sold at its quoted price, not at the marked one."""
    from salvage.work.slips import Discount

    (tern,) = make_pieces(empty_shop, 9900)
    order = _accepted(empty_shop, "circle@12:1", each_minor=2000)
    set_aside(empty_shop, order=order, pieces=[tern])
    terms = Terms(DAY, "transfer")
    done = hand_over(empty_shop, order=order, terms=terms, discount=Discount(ppm=100_000))

    assert done.slip.total_minor == 1800
    assert done.slip.slip.paid_by == "transfer"
    with pytest.raises(Refused, match="is handed over"):
        cancel_order(empty_shop, order=order, reason="too late")
