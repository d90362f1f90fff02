"""Outings: packed with keys, sold from, counted, and closed with every difference explained."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.work.check import run_checks
from salvage.work.history import undo
from salvage.work.outing_day import Count, bring_home, close_outing, move_cash, open_outing
from salvage.work.outings import (
    NewOuting,
    OutingCorrection,
    correct_outing,
    find_outing,
    list_outings,
    plan_outing,
    view_outing,
)
from salvage.work.packing import key_of, pack, ready_pieces, unpack
from salvage.work.pieces import sell, view_piece
from salvage.work.selling import SaleItem, Terms, sell_pieces
from salvage.work.stock_take import list_lost
from salvage.work.workshop import Workshop
from tests.bench import dump
from tests.work.stall import CASH, DAY, make_pieces, open_stall


def test_keys_are_two_letters_and_then_three() -> None:
    """The first 256 pieces are sold with two keys; none of 1000 keys is given twice."""
    keys = [key_of(number) for number in range(1000)]

    assert len(set(keys)) == 1000
    assert {len(key) for key in keys[:256]} == {2}
    assert {len(key) for key in keys[256:]} == {3}


def test_a_piece_keeps_its_key_when_it_is_packed_again(empty_shop: Workshop) -> None:
    """The printed packing list stays true."""
    pieces = make_pieces(empty_shop, 1850, 2450)
    code = plan_outing(empty_shop, new=NewOuting("Lantern Fair", DAY)).outing.code
    before = pack(empty_shop, outing=code, pieces=pieces).pieces
    unpack(empty_shop, outing=code, pieces=pieces[:1], reason="scratched")
    after = pack(empty_shop, outing=code, pieces=pieces[:1]).pieces

    assert [one.key for one in before] == ["BB", "BC"]
    assert after == before


def test_all_that_is_ready_is_offered_once(empty_shop: Workshop) -> None:
    """What is packed for one fair is not offered for another, nor packed for it."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    first = plan_outing(empty_shop, new=NewOuting("Lantern Fair", DAY)).outing.code
    second = plan_outing(empty_shop, new=NewOuting("Harbour market", DAY)).outing.code
    pack(empty_shop, outing=first, pieces=[tern])
    with pytest.raises(Refused, match=f"packed for {first}"):
        pack(empty_shop, outing=second, pieces=[tern])

    assert ready_pieces(empty_shop) == (kite,)


def test_the_box_holds_what_it_should(empty_shop: Workshop) -> None:
    """Float, cash sales, a stall fee out of the box; a card sale does not touch it."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    code = open_stall(empty_shop, [tern, kite])
    sell_pieces(empty_shop, items=[SaleItem(tern)], terms=CASH)
    sell_pieces(empty_shop, items=[SaleItem(kite)], terms=Terms(DAY, "card", outing=code))
    move_cash(empty_shop, outing=code, amount_minor=-3500, reason="stall fee")
    view = view_outing(empty_shop, outing=code)

    # CASH names neither venue nor outing, so it is the stall's as well.
    assert view.cash_sales_minor == 1850
    assert view.card_sales_minor == 2450
    assert view.expected_minor == 5000 + 1850 - 3500
    with pytest.raises(Refused, match=r"only 33\.50 EUR"):
        move_cash(empty_shop, outing=code, amount_minor=-3351, reason="lunch")


def test_a_day_ends_with_a_count(empty_shop: Workshop) -> None:
    """One sold, one home, one gone: what is gone is lost like at any stock-take."""
    tern, kite, leaf = make_pieces(empty_shop, 1850, 2450, 900)
    code = open_stall(empty_shop, [tern, kite, leaf])
    sell(empty_shop, piece=tern)
    bring_home(empty_shop, outing=code, pieces=[kite])
    right = Count(5000 + 1850)
    with pytest.raises(Refused, match=f"1 packed piece is neither sold nor home: {leaf}"):
        close_outing(empty_shop, outing=code, count=right)
    with pytest.raises(BadValue, match="pieces are missing: say what explains it"):
        close_outing(empty_shop, outing=code, count=Count(6850, all_missing=True))
    count = Count(6850, missing=(leaf,), reason="gone from the table")
    view = close_outing(empty_shop, outing=code, count=count)

    assert [one.state for one in view.pieces] == ["sold", "home", "missing"]
    assert [lost.code for lost in list_lost(empty_shop)] == [leaf]
    assert view.outing.stock_take == list_lost(empty_shop)[0].stock_take
    with pytest.raises(Refused, match="not found at a stock-take"):
        sell(empty_shop, piece=leaf)
    assert all(line.ok for line in run_checks(empty_shop))


def test_cash_that_differs_is_explained(empty_shop: Workshop) -> None:
    """Half a euro short is told, and closes only with a word why."""
    (tern,) = make_pieces(empty_shop, 1850)
    code = open_stall(empty_shop, [tern])
    sell(empty_shop, piece=tern)
    with pytest.raises(BadValue, match=r"68.00 EUR were counted and 68.50 EUR expected"):
        close_outing(empty_shop, outing=code, count=Count(6800))
    count = Count(6800, reason="wrong change given")
    view = close_outing(empty_shop, outing=code, count=count)

    assert (view.outing.expected_minor, view.outing.counted_minor) == (6850, 6800)


def test_a_sale_that_was_counted_is_undone_only_after_the_count(empty_shop: Workshop) -> None:
    """The closing rests on its sales: it is told, and must be taken back first."""
    (tern,) = make_pieces(empty_shop, 1850)
    code = open_stall(empty_shop, [tern])
    sold = sell_pieces(empty_shop, items=[SaleItem(tern)], terms=CASH).sale
    assert sold is not None
    close_outing(empty_shop, outing=code, count=Count(6850))
    with pytest.raises(Refused, match="outing closed"):
        undo(empty_shop, operation=sold.slip.operation)
    undo(empty_shop)
    undo(empty_shop, operation=sold.slip.operation)

    assert view_outing(empty_shop, outing=code).outing.state == "open"
    assert view_piece(empty_shop.conn, tern).piece.stage == "ready"


def test_what_comes_home_was_not_sold(empty_shop: Workshop) -> None:
    """A piece that lies there although it counts as sold is told, not counted."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    code = open_stall(empty_shop, [tern])
    sell(empty_shop, piece=tern)
    with pytest.raises(Refused, match="on record as sold"):
        bring_home(empty_shop, outing=code, pieces=[tern])
    view = bring_home(empty_shop, outing=code, pieces=[kite, kite])

    assert [(one.piece.code, one.state) for one in view.pieces] == [(tern, "sold"), (kite, "home")]


def test_a_stall_is_open_once_on_a_device(empty_shop: Workshop) -> None:
    """Two stalls at once on one device would mix up their cash."""
    open_stall(empty_shop, [])
    other = plan_outing(empty_shop, new=NewOuting("Harbour market", DAY)).outing.code
    with pytest.raises(Refused, match=r"Lantern Fair.* is open on this device"):
        open_outing(empty_shop, outing=other)
    with pytest.raises(Refused, match="is planned, not open"):
        bring_home(empty_shop, outing=other, pieces=[])
    with pytest.raises(Refused, match="is planned, not open"):
        sell_pieces(
            empty_shop,
            items=[SaleItem(words="kite", price_minor=1)],
            terms=Terms(DAY, outing=other),
        )

    assert view_outing(empty_shop, outing=other).outing.state == "planned"


def test_an_outing_is_found_by_code_name_or_being_the_only_one(empty_shop: Workshop) -> None:
    """People say "lantern"; where two fit, the codes are offered."""
    code = plan_outing(empty_shop, new=NewOuting("Lantern Fair", DAY)).outing.code

    assert find_outing(empty_shop, state="planned") == code
    assert find_outing(empty_shop, typed="lantern") == code
    assert find_outing(empty_shop, typed=code.lower()) == code
    plan_outing(empty_shop, new=NewOuting("Second lantern fair", DAY))
    with pytest.raises(Refused, match="2 outings fit"):
        find_outing(empty_shop, typed="lantern")
    with pytest.raises(NotFound, match="no outing 'harbour'"):
        find_outing(empty_shop, typed="harbour")
    with pytest.raises(NotFound, match="no outing is open"):
        find_outing(empty_shop, state="open")
    assert len(list_outings(empty_shop)) == 2


def test_a_correction_keeps_old_and_new(empty_shop: Workshop) -> None:
    """The fee was typed wrong; what would end before it begins is refused whole."""
    code = plan_outing(empty_shop, new=NewOuting("Lantern Fair", DAY)).outing.code
    new = OutingCorrection(stall_fee_minor=4000, place="Quay")
    view = correct_outing(empty_shop, outing=code, new=new, why="raised")
    before = dump(empty_shop)

    assert (view.outing.stall_fee_minor, view.outing.place) == (4000, "Quay")
    for bad, words in (
        (OutingCorrection(begins_on=date(2026, 5, 9)), "before it begins"),
        (OutingCorrection(place="Quay"), "nothing about"),
        (OutingCorrection(name=" "), "has a name"),
    ):
        with pytest.raises(BadValue, match=words):
            correct_outing(empty_shop, outing=code, new=bad, why="misread")
    with pytest.raises(BadValue, match="say why"):
        correct_outing(empty_shop, outing=code, new=new, why=" ")
    assert dump(empty_shop) == before


def test_odd_steps_are_refused(empty_shop: Workshop) -> None:
    """Unpacking what is not packed, cash of nothing, strangers among the missing."""
    (tern,) = make_pieces(empty_shop, 1850)
    code = open_stall(empty_shop, [])
    with pytest.raises(Refused, match="is not packed"):
        unpack(empty_shop, outing=code, pieces=[tern])
    with pytest.raises(BadValue, match="say how much and why; salvage outing cash out 35"):
        move_cash(empty_shop, outing=code, amount_minor=0, reason="x")
    with pytest.raises(Refused, match="is not missing"):
        close_outing(empty_shop, outing=code, count=Count(5000, missing=(Code(tern),), reason="x"))
    close_outing(empty_shop, outing=code, count=Count(5000))
    with pytest.raises(Refused, match="is closed"):
        pack(empty_shop, outing=code, pieces=[tern])

    assert view_outing(empty_shop, outing=code).pieces == ()
