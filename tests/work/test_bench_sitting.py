"""A sitting at the bench: scans become deeds in the record, one by one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from salvage.records.actions import ACTIONS
from salvage.store.journal import read_events
from salvage.store.lookup import load_board, load_piece
from salvage.work.bench_sitting import Sitting
from salvage.work.check import run_checks
from salvage.work.cutting import reserve
from salvage.work.places import name_places
from salvage.work.workshop import Workshop
from tests.bench import circle_at, make_shop
from tests.work.stock import Stock

CARD = {action.name: action.code for action in ACTIONS}


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    """A workshop with one of everything."""
    with make_shop(tmp_path) as shop:
        yield Stock(shop)


def count(shop: Workshop) -> int:
    """Events in the journal."""
    return len(tuple(read_events(shop.conn)))


def play(sitting: Sitting, *lines: str) -> str:
    """Kind and words of the last answer."""
    answers = [answer for line in lines for answer in sitting.play(line)]
    return f"{answers[-1].kind}: {answers[-1].words}"


def test_a_reserved_place_is_cut_by_scans_alone(stock: Stock) -> None:
    """Cut, board, Yes: the place is cut, its piece has a code, and the next sitting knows it."""
    sitting = Sitting(stock.shop)
    asked = play(sitting, CARD["cut"], stock.board)
    before = count(stock.shop)
    done = play(sitting, CARD["confirm"])

    assert asked.startswith("asked: cut circle at 95 mm, 20 mm")
    assert "circle cut from" in done
    assert count(stock.shop) > before
    assert Sitting(stock.shop).bench.done[-1].before


def test_places_are_cut_in_the_order_in_which_they_were_reserved(stock: Stock) -> None:
    """Two of three places at once, the oldest first; the third is told."""
    for x_mm in (30, 60):
        spot = circle_at(stock.shop, x_mm, 10, width_mm=10)
        reserve(stock.shop, board=stock.board, spot=spot, for_whom="order 4")
    sitting = Sitting(stock.shop)
    answer = play(sitting, "c", "2", stock.board, "y")
    (last,) = sitting.play(stock.board)

    assert answer.count("cut from") == 2
    assert last.words.startswith("cut circle at 60 mm")


def test_undo_takes_the_last_deed_of_the_sitting_back(stock: Stock) -> None:
    """Undo names the deed, and the piece is as it was."""
    sitting = Sitting(stock.shop)
    play(sitting, "n", stock.piece)
    assert load_piece(stock.shop.conn, stock.piece).stage == "sanded"
    answer = play(sitting, CARD["undo"], CARD["confirm"])

    assert answer.startswith("done: undone: set stage")
    assert load_piece(stock.shop.conn, stock.piece).stage == "rough"


def test_a_refusal_of_the_record_is_told_and_the_bench_goes_on(stock: Stock) -> None:
    """What somebody else has done meanwhile is refused, with the reason, and nothing is written."""
    sitting = Sitting(stock.shop)
    play(sitting, "c", stock.board)
    other = Sitting(stock.shop)
    play(other, "c", stock.board, "y")
    before = count(stock.shop)
    answer = play(sitting, "y")

    assert answer == f"refused: {stock.reservation} is cut already"
    assert count(stock.shop) == before


def test_boards_are_moved_to_a_scanned_shelf(stock: Stock) -> None:
    """The shelf's own label, then the boards on it."""
    (shelf,) = name_places(stock.shop, names=["shelf A3"])
    answer = play(Sitting(stock.shop), shelf.code, stock.board)

    assert answer == f"done: {stock.board} moved to shelf A3".replace(" moved", "  moved")
    assert load_board(stock.shop.conn, stock.board).place == "shelf A3"


def test_a_foreign_keyboard_is_named_once(stock: Stock) -> None:
    """The first scan through a French layout says so; the code counts all the same."""
    sitting = Sitting(stock.shop)
    digits = str.maketrans("1234567890", "&é\"'(-è_çà")
    first = sitting.play(stock.board.translate(digits))
    second = sitting.play(stock.piece.translate(digits))

    assert "French keyboard" in first[0].words
    assert stock.board in first[1].words
    assert [answer.kind for answer in second] == ["shown"]


def test_a_trigger_held_too_long_stages_once(stock: Stock) -> None:
    """Twice within a second is once, and said; a second later it is on purpose."""
    sitting = Sitting(stock.shop)
    sitting.play("n", at_s=0.0)
    sitting.play(stock.piece, at_s=1.0)
    (told,) = sitting.play(stock.piece, at_s=1.4)
    assert "counts once" in told.words
    assert load_piece(stock.shop.conn, stock.piece).stage == "sanded"
    sitting.play(stock.piece, at_s=9.0)

    assert load_piece(stock.shop.conn, stock.piece).stage == "sealed"


def test_two_codes_in_one_line_are_two_scans(stock: Stock) -> None:
    """A scanner that left out an Enter loses nothing, but answers no question with what follows."""
    other = stock.cut_at(97, 57)
    sitting = Sitting(stock.shop)
    sitting.play("n")
    answers = sitting.play(stock.piece + other)
    asked = sitting.play(f"{CARD['cut']} {stock.board} {CARD['confirm']}")

    assert [answer.kind for answer in answers] == ["done", "done"]
    assert [answer.kind for answer in asked] == ["told", "asked"]
    assert sitting.bench.question


def test_a_dry_run_leaves_no_trace(stock: Stock) -> None:
    """Practising with the scanner changes nothing."""
    before = count(stock.shop)
    answer = play(Sitting(stock.shop, dry_run=True), "c", stock.board, "y")

    assert answer.startswith("done: ")
    assert count(stock.shop) == before


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_line_raises_and_the_record_stays_sound(stock: Stock, data: st.DataObject) -> None:
    """Any scans in any order: nothing raises, and what was not confirmed is not cut."""
    codes: list[str] = [stock.held, stock.board, stock.piece, stock.sold, stock.drop_off.code]
    codes += [stock.recall, stock.reservation, "BC0002K", "junk", "12", "7.50", *CARD.values()]
    sitting = Sitting(stock.shop)
    for line in data.draw(st.lists(st.sampled_from(codes), max_size=12)):
        asked = bool(sitting.bench.question)
        cuts = stock.shop.conn.execute("SELECT count(*) FROM cut").fetchone()
        sitting.play(line)
        if line != CARD["confirm"] or not asked:
            assert stock.shop.conn.execute("SELECT count(*) FROM cut").fetchone() == cuts

    assert all(check.ok for check in run_checks(stock.shop))
