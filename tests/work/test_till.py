"""The till: what lines of scans and keys bring about, and that nothing typed breaks it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadValue, ManyMistakes, NotFound, Refused
from salvage.ids import Code
from salvage.work.outings import view_outing
from salvage.work.packing import unpack
from salvage.work.pieces import view_piece
from salvage.work.till import Till
from salvage.work.till_words import find_piece, read_sale
from salvage.work.workshop import Workshop
from tests.bench import dump
from tests.work.stall import make_pieces, open_stall

YES, CANCEL, DONE, BACK, UNDO = "XX0888E", "XX0977C", "XX1016K", "XX0446T", "XX0663B"


@pytest.fixture
def stall(empty_shop: Workshop) -> tuple[Workshop, Code, list[Code]]:
    """An open stall with three pieces, whose keys are BB, BC and BD."""
    pieces = make_pieces(empty_shop, 1850, 2450, 900)
    return empty_shop, open_stall(empty_shop, pieces), pieces


Stall = tuple[Workshop, Code, list[Code]]


def test_two_keys_and_a_letter_sell_a_piece(stall: Stall) -> None:
    """Without a scanner: the two letters of the list, then c for cash."""
    shop, outing, pieces = stall
    (answer,) = Till(shop, outing=outing).play("bb c")

    assert answer.kind == "sold"
    assert answer.words.endswith("to pay 18.50 EUR by cash")
    assert view_piece(shop.conn, pieces[0]).piece.stage == "sold"


def test_scans_fill_a_basket_until_it_is_paid(stall: Stall) -> None:
    """Each scan is a line of its own; a piece that is scanned twice is in the basket once."""
    shop, outing, pieces = stall
    till = Till(shop, outing=outing)
    told = [till.play(line)[-1] for line in (pieces[0], pieces[1], pieces[1], "-10%")]
    (sold,) = till.play("given:50 k")

    assert [answer.kind for answer in told] == ["basket"] * 4
    assert "to pay 43.00 EUR" in told[2].words
    assert "to pay 38.70 EUR" in told[3].words
    assert "to pay 38.70 EUR by card; change 11.30 EUR" in sold.words
    assert till.basket.is_empty


def test_the_cards_of_the_action_sheet_serve(stall: Stall) -> None:
    """Yes is cash, Taken back and Cancel do what they say, Undo undoes, Done closes."""
    shop, outing, pieces = stall
    till = Till(shop, outing=outing)
    till.play(f"{pieces[0]}")
    till.play(YES)
    till.play(BACK)
    till.play(pieces[0])
    (exchange,) = till.play(f"{pieces[1]} {YES}")
    till.play(pieces[2])
    till.play(CANCEL)
    undone = till.play(UNDO)[0]
    stages = [view_piece(shop.conn, code).piece.stage for code in pieces]
    till.play(DONE)

    assert "to pay 6.00 EUR" in exchange.words
    assert undone.words.startswith("taken back")
    assert stages == ["sold", "ready", "ready"]
    assert till.is_over


def test_refusals_leave_basket_and_record_as_they_were(stall: Stall) -> None:
    """A key that is not there, a sold piece, an empty basket: told, and the till goes on."""
    shop, outing, _ = stall
    till = Till(shop, outing=outing)
    till.play("bb c")
    before = dump(shop)
    answers = [till.play(line)[-1] for line in ("bj", "bb c", "x", "c", "kite=", "?kite c")]

    assert [answer.kind for answer in answers] == [
        *("refused", "refused", "told", "refused", "refused", "refused")
    ]
    assert dump(shop) == before


def test_a_dry_run_sells_nothing(stall: Stall) -> None:
    """Everything is told as if, and nothing is written; then there is nothing to undo."""
    shop, outing, _ = stall
    before = dump(shop)
    till = Till(shop, outing=outing, dry_run=True)
    (sold,) = till.play("bb c")
    (undone,) = till.play("u")

    assert (sold.kind, undone.kind) == ("sold", "refused")
    assert dump(shop) == before


def test_gifts_own_prices_and_lost_labels(stall: Stall) -> None:
    """One line may say it all; help is one key away, and closing tells what was left."""
    shop, outing, _ = stall
    till = Till(shop, outing=outing)
    (sold,) = till.play("BB=15 BC=gift ?small_kite=12 c")
    (helped,) = till.play("?")
    till.play("bd")
    (closed,) = till.play("q")

    assert "(gift)" in sold.words
    assert "to pay 27.00 EUR" in sold.words
    assert helped.words == "help"
    assert closed.words == "the till is closed; the basket was not sold"
    assert view_outing(shop, outing=outing).cash_sales_minor == 2700


def test_words_are_read_all_at_once(stall: Stall) -> None:
    """Every mistake of a line is told together."""
    shop, outing, pieces = stall
    with pytest.raises(ManyMistakes) as told:
        read_sale(shop, words=["ZZ", "BB=dear", "-200%"], outing=outing)
    with pytest.raises(BadValue, match="say what is sold"):
        read_sale(shop, words=["card"], outing=outing)
    said = read_sale(shop, words=["BB", pieces[0], "transfer", "given:20"], outing=outing)

    assert len(told.value.mistakes) == 3
    assert (len(said.items), said.paid_by, said.given_minor) == (1, "transfer", 2000)


def test_a_key_that_two_devices_gave_is_not_guessed(stall: Stall) -> None:
    """Packed apart, two pieces may bear one key: the codes are offered."""
    shop, outing, pieces = stall
    shop.conn.execute("UPDATE outing_piece SET key = 'BB'")
    with pytest.raises(Refused, match="stands for 3 pieces"):
        find_piece(shop, text="bb", outing=outing)
    unpack(shop, outing=outing, pieces=pieces[:2])

    assert find_piece(shop, text="BB", outing=outing) == pieces[2]
    with pytest.raises(NotFound, match="no packed piece has the key"):
        find_piece(shop, text="XX", outing=outing)


@given(st.text(max_size=30))
def test_no_line_breaks_the_till(line: str) -> None:
    """Whatever is typed is answered; a till with nothing to sell never sells."""
    shop = _shop()
    answers = Till(shop).play(line)

    assert all(answer.kind in ("basket", "told", "refused") for answer in answers)


_SHOPS: list[Workshop] = []


def _shop() -> Workshop:
    """One workshop for all examples, in a folder that goes with the process."""
    from pathlib import Path
    from tempfile import mkdtemp

    from tests.bench import make_shop

    if not _SHOPS:
        _SHOPS.append(make_shop(Path(mkdtemp()) / "shop"))
    return _SHOPS[0]
