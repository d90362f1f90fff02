"""Stock-takes: what differs from the record, and how it is settled and taken back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from salvage.errors import Held, NotFound, Refused
from salvage.ids import Code
from salvage.store.lookup import load_board, load_piece
from salvage.work.check import run_checks
from salvage.work.cutting import release
from salvage.work.history import undo
from salvage.work.look import look_at
from salvage.work.pieces import sell
from salvage.work.places import name_places
from salvage.work.record import move_board, retire_board
from salvage.work.stock_take import (
    Settlement,
    begin_stock_take,
    find_again,
    list_lost,
    open_stock_take,
    record_seen,
    settle_stock_take,
    view_stock_take,
)
from salvage.work.trace import where_now
from salvage.work.workshop import Workshop
from tests.bench import add_board, cut_circle, make_shop
from tests.work.stock import Stock, projection


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    """A workshop with one of everything, the board on shelf 2, and a stock-take begun."""
    with make_shop(tmp_path) as shop:
        one = Stock(shop)
        move_board(shop, board=one.board, place="shelf 2")
        begin_stock_take(shop)
        yield one


def differences(shop: Workshop) -> dict[str, str]:
    """Kind of difference by code."""
    view = view_stock_take(shop, take=open_stock_take(shop.conn))
    return {one.code: one.kind for one in view.differences}


def test_what_was_not_seen_is_missing(stock: Stock) -> None:
    """Boards and pieces of the record; what is sold is not expected on the shelf."""
    assert differences(stock.shop) == {
        stock.board: "missing",
        stock.held: "missing",
        stock.piece: "missing",
    }


def test_what_is_as_recorded_does_not_differ(stock: Stock) -> None:
    """Seen at its place, or at no place that was said."""
    record_seen(stock.shop, codes=[stock.board], place="Shelf 2")
    record_seen(stock.shop, codes=[stock.held, stock.piece], source="shelf.jpg")

    assert differences(stock.shop) == {}


def test_the_odd_ones_are_named(stock: Stock) -> None:
    """At another place, sold but there, retired but there, and a stranger."""
    retire_board(stock.shop, board=stock.held, reason="used up")
    stranger = Code("BC0002J")
    codes = [stock.board, stock.sold, stock.held, stranger, stock.piece]
    sights = record_seen(stock.shop, codes=codes, place="box 9")

    assert differences(stock.shop) == {
        stock.board: "elsewhere",
        stock.sold: "sold",
        stock.held: "retired",
        stranger: "unknown",
    }
    assert [sight.is_odd for sight in sights] == [True, True, True, True, False]


def test_a_label_of_a_place_says_where(stock: Stock) -> None:
    """The shelf's code stands for its name; what is no thing to count is told."""
    (shelf,) = name_places(stock.shop, names=["shelf 7"])
    record_seen(stock.shop, codes=[stock.board], place=shelf.code)
    (sight,) = record_seen(stock.shop, codes=[stock.drop_off.code])

    assert differences(stock.shop)[stock.board] == "elsewhere"
    assert sight.words == "a drop-off is not counted"


def test_seen_again_is_said_and_written_once(stock: Stock) -> None:
    """The same label in two photos is one thing; another shelf is where it lies."""
    record_seen(stock.shop, codes=[stock.board, stock.board], place="shelf 2")
    before = len(stock.shop.conn.execute("SELECT 1 FROM event").fetchall())
    (again,) = record_seen(stock.shop, codes=[stock.board])
    assert again.words == "seen before, as recorded"
    assert len(stock.shop.conn.execute("SELECT 1 FROM event").fetchall()) == before
    record_seen(stock.shop, codes=[stock.board], place="shelf 3")

    assert differences(stock.shop)[stock.board] == "elsewhere"


def test_a_place_expects_only_its_own_boards(stock: Stock) -> None:
    """A stock-take of one shelf misses nothing from another."""
    settle_stock_take(stock.shop, settlement=Settlement(), close=True)
    begin_stock_take(stock.shop, place="shelf 2")

    assert differences(stock.shop) == {stock.board: "missing"}


def test_settling_writes_events_that_one_undo_takes_back(stock: Stock) -> None:
    """Lost, moved, returned: each as said; undo brings every table back as it was."""
    record_seen(stock.shop, codes=[stock.board, stock.sold], place="box 9")
    before = projection(stock.shop)
    settlement = Settlement(
        lost=[stock.held, stock.piece], moved=[stock.board], returned=[stock.sold]
    )
    done = settle_stock_take(stock.shop, settlement=settlement, close=True)
    board, sold = load_board(stock.shop.conn, stock.board), load_piece(stock.shop.conn, stock.sold)

    assert done.left == ()
    assert (board.place, sold.stage) == ("box 9", "returned")
    assert {one.code for one in list_lost(stock.shop)} == {stock.held, stock.piece}
    assert all(check.ok for check in run_checks(stock.shop))
    undo(stock.shop)
    assert projection(stock.shop) == before


def test_a_lost_board_is_not_cut_until_it_is_found(stock: Stock) -> None:
    """The record does not let anybody cut what nobody can find."""
    release(stock.shop, reservation=stock.reservation)
    settle_stock_take(stock.shop, settlement=Settlement(lost=[stock.board]))
    assert "not found at stock-take" in look_at(stock.shop, board=stock.board).obstacles[0].words
    with pytest.raises(Held, match="not found"):
        cut_circle(stock.shop, stock.board, 97, 57)
    find_again(stock.shop, codes=[stock.board])

    assert look_at(stock.shop, board=stock.board).go
    with pytest.raises(Refused, match="is not lost"):
        find_again(stock.shop, codes=[stock.board])


def test_a_lost_piece_is_not_sold_until_it_is_found(stock: Stock) -> None:
    """Whoever has it before her says so first; until then every screen tells that it is lost."""
    settle_stock_take(stock.shop, settlement=Settlement(lost=[stock.piece]))
    told = where_now(stock.shop.conn, load_piece(stock.shop.conn, stock.piece))
    with pytest.raises(Refused, match="not found at a stock-take; if it lies before you"):
        sell(stock.shop, piece=stock.piece, price_minor=900)
    find_again(stock.shop, codes=[stock.piece])

    assert "not found at the stock-take" in told
    assert sell(stock.shop, piece=stock.piece, price_minor=900).piece.stage == "sold"


def test_what_was_lost_turns_up_at_the_next_stock_take(stock: Stock) -> None:
    """Lost things are not missed a second time; seen, they are found."""
    settle_stock_take(stock.shop, settlement=Settlement(lost=[stock.held]), close=True)
    begin_stock_take(stock.shop)
    assert stock.held not in differences(stock.shop)
    record_seen(stock.shop, codes=[stock.held])
    assert differences(stock.shop)[stock.held] == "found"
    settle_stock_take(stock.shop, settlement=Settlement(found=[stock.held]))

    assert list_lost(stock.shop) == ()


def test_only_what_differs_so_is_settled_so(stock: Stock) -> None:
    """A board that is there is not lost; nothing of the step is written."""
    record_seen(stock.shop, codes=[stock.board], place="shelf 2")
    with pytest.raises(Refused, match="cannot be settled as lost"):
        settle_stock_take(
            stock.shop, settlement=Settlement(lost=[stock.held, stock.board]), close=True
        )

    assert list_lost(stock.shop) == ()
    assert open_stock_take(stock.shop.conn).state == "open"


def test_one_stock_take_at_a_time(stock: Stock) -> None:
    """A second one is refused while the first is open; without one nothing is counted."""
    with pytest.raises(Refused, match="is open since"):
        begin_stock_take(stock.shop)
    settle_stock_take(stock.shop, settlement=Settlement(), close=True)

    with pytest.raises(NotFound, match="no stock-take is going on"):
        record_seen(stock.shop, codes=[stock.board])


def test_being_seen_rests_on_nothing(stock: Stock) -> None:
    """A board's last move can be undone although a stock-take has seen the board since."""
    record_seen(stock.shop, codes=[stock.held])
    moved = [
        operation
        for (operation,) in stock.shop.conn.execute(
            "SELECT operation FROM event WHERE kind = 'board.moved'"
        )
    ]
    undo(stock.shop, operation=moved[0])

    assert load_board(stock.shop.conn, stock.board).place == ""


def test_a_scan_says_what_the_whole_difference_says(stock: Stock) -> None:
    """Judged one by one or all at once, each thing differs in the same way."""
    codes = [stock.board, stock.held, stock.piece, stock.sold, Code("BZ0002A")]
    sights = {one.code: one for one in record_seen(stock.shop, codes=codes, place="loft")}
    whole = view_stock_take(stock.shop, take=open_stock_take(stock.shop.conn)).differences
    odd = {one.code: one.words for one in whole if one.code in codes}

    assert {code for code, sight in sights.items() if sight.is_odd} == set(odd)
    assert all(sights[code].words == words for code, words in odd.items())
    assert stock.sold in odd
    assert Code("BZ0002A") in odd


def test_what_a_scan_reads_does_not_grow_with_the_stock(stock: Stock) -> None:
    """Counted in steps of the store, where a thing was seen before and nothing is written."""

    def steps(codes: list[Code]) -> int:
        count = 0

        def step() -> int:
            nonlocal count
            count += 1
            return 0

        stock.shop.conn.set_progress_handler(step, 1)
        record_seen(stock.shop, codes=codes)
        stock.shop.conn.set_progress_handler(None, 1)
        return count

    record_seen(stock.shop, codes=[stock.piece])
    few = steps([stock.piece])
    for _ in range(60):
        add_board(stock.shop, drop_off=stock.drop_off.code)
    many = steps([stock.piece])

    assert 0 < many <= few + 5
