"""Cards and tags of many pieces: what the record keeps of them, and what it notices."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.projection import rebuild
from salvage.work.cards import (
    CardLook,
    choose_pieces,
    preview_cards,
    print_card,
    print_cards,
)
from salvage.work.donors import NewDonor, set_naming
from salvage.work.history import read_history, undo
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import set_price, set_stage
from salvage.work.recall import open_recall
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import add_board, add_cleared_board, clear, cut_circle, dump
from tests.paper.printed import letters
from tests.work.snapshots import phone_jpeg

NAME = "Zephyrine Quill"
TAG, CARD = CardLook("price", "a4"), CardLook("a6")


def _pieces(shop: Workshop, count: int = 3, *, board: Code | None = None) -> list[Code]:
    """Pieces of one cleared board."""
    source = board or add_cleared_board(shop).code
    made = [cut_circle(shop, source, 18 + 33 * n, 40).piece for n in range(count)]
    return [piece.code for piece in made if piece]


def _of_named_donor(shop: Workshop) -> Code:
    donor = NewDonor(NAME, naming="named", naming_how="signed", described_as="a neighbour")
    new = NewDropOff(date(2026, 5, 2), "a box")
    drop_off = log_drop_off(shop, donor=donor, new=new).drop_off.code
    board = add_board(shop, drop_off=drop_off).code
    clear(shop, board)
    return _pieces(shop, 1, board=board)[0]


def _donor(shop: Workshop) -> Code:
    ((code,),) = shop.conn.execute("SELECT code FROM donor")
    return Code(code)


def _kinds(shop: Workshop, piece: Code) -> list[str]:
    return [line.event.kind for line in read_history(shop, piece)]


def test_many_pieces_are_printed_in_one_document(empty_shop: Workshop) -> None:
    """Each piece has its card in the order asked for, and each printing is on its own record."""
    pieces = _pieces(empty_shop)
    made = print_cards(empty_shop, pieces=pieces[::-1], look=CardLook("a7", "letter"))
    words = letters(made.printed.pages[0])
    places = [words.index(piece) for piece in pieces[::-1]]

    assert places == sorted(places)
    assert all("card.printed" in _kinds(empty_shop, piece) for piece in pieces)


def test_a_tag_is_no_card(empty_shop: Workshop) -> None:
    """A printed tag is on record with the price that it says, and counts as no story card."""
    (piece,) = _pieces(empty_shop, 1)
    set_price(empty_shop, pieces=[piece], price_minor=1850)
    print_cards(empty_shop, pieces=[piece], look=TAG)
    (row,) = empty_shop.conn.execute("SELECT piece, design, price_minor, currency FROM printed_tag")
    (count,) = empty_shop.conn.execute("SELECT cards_printed FROM piece").fetchone()

    assert row == (piece, "price", 1850, "EUR")
    assert count == 0
    assert "tag.printed" in _kinds(empty_shop, piece)


def test_tags_that_no_longer_say_the_price_are_found(empty_shop: Workshop) -> None:
    """A new price, or a first one, makes the printed tag stale; the next tag settles it."""
    first, second, third = _pieces(empty_shop)
    set_price(empty_shop, pieces=[first, second], price_minor=1850)
    print_cards(empty_shop, pieces=[first, second, third], look=TAG)
    none = choose_pieces(empty_shop, stale=True)
    set_price(empty_shop, pieces=[first, third], price_minor=2000)
    stale = choose_pieces(empty_shop, stale=True)
    print_cards(empty_shop, pieces=[first], look=TAG)

    assert none == ()
    assert stale == (first, third)
    assert choose_pieces(empty_shop, stale=True) == (third,)


def test_tags_are_rebuilt_from_the_journal(empty_shop: Workshop) -> None:
    """The table of tags is only a view of the record, and a tag taken back leaves it."""
    (piece,) = _pieces(empty_shop, 1)
    print_cards(empty_shop, pieces=[piece], look=TAG)
    before = dump(empty_shop)["printed_tag"]
    with empty_shop.conn:
        rebuild(empty_shop.conn)
    again = dump(empty_shop)["printed_tag"]
    undo(empty_shop, why="wrong paper")

    assert len(before) == 1
    assert before == again
    assert dump(empty_shop)["printed_tag"] == []


def test_pieces_of_a_stage_are_chosen(empty_shop: Workshop) -> None:
    """Those that are ready, oldest first; recalled ones are left out."""
    first, second, third = _pieces(empty_shop)
    set_stage(empty_shop, pieces=[first, second, third], stage="ready")
    open_recall(empty_shop, subject=second, reason="mercury")

    assert choose_pieces(empty_shop, stage="ready") == (first, third)
    assert choose_pieces(empty_shop, stage="sanded") == ()


def test_a_reprint_after_consent_was_withdrawn_names_nobody(empty_shop: Workshop) -> None:
    """The card follows the wish that stands now, and the maker is told that its words changed."""
    piece = _of_named_donor(empty_shop)
    named = print_cards(empty_shop, pieces=[piece], look=CARD)
    same = print_cards(empty_shop, pieces=[piece], look=CardLook("folded"))
    set_naming(empty_shop, donor=_donor(empty_shop), naming="anonymous", naming_how="by letter")
    silent = print_cards(empty_shop, pieces=[piece], look=CARD)
    statement = print_cards(empty_shop, pieces=[piece], look=CardLook("origin"))

    assert "ZephyrineQuill" in letters(named.printed.pages[0])
    assert "Quill" not in letters(silent.printed.pages[0])
    assert "Quill" not in letters(statement.printed.pages[0])
    assert (named.changed, same.changed, silent.changed) == ((), (), (piece,))


def test_the_same_record_gives_the_same_bytes_on_another_day(empty_shop: Workshop) -> None:
    """No date of today is in the file: it bears the day of the record's newest entry."""
    (piece,) = _pieces(empty_shop, 1)
    first = preview_cards(empty_shop, pieces=[piece], look=CARD).printed.pages
    clock = empty_shop.clock
    for _ in range(5000):
        clock()  # minutes go by
    again = preview_cards(empty_shop, pieces=[piece], look=CARD).printed.pages

    assert first == again


def test_a_preview_is_on_no_record(empty_shop: Workshop) -> None:
    """Looking at a card changes nothing, and a trial run of printing rolls back."""
    (piece,) = _pieces(empty_shop, 1)
    before = dump(empty_shop)
    shown = preview_cards(empty_shop, pieces=[piece], look=CardLook("a6", dpi=100))
    print_cards(empty_shop, pieces=[piece], look=TAG, dry_run=True)

    assert [page[:4] for page in shown.printed.pages] == [b"\x89PNG"] * 2
    assert dump(empty_shop) == before


def test_one_piece_that_must_not_be_sold_stops_the_sheet(empty_shop: Workshop) -> None:
    """No sheet is printed with a hole in it: the piece is named, and nothing is recorded."""
    first, second = _pieces(empty_shop, 2)
    open_recall(empty_shop, subject=second, reason="mercury")
    before = dump(empty_shop)
    with pytest.raises(Refused, match=f"{second} is recalled"):
        print_cards(empty_shop, pieces=[first, second], look=TAG)

    assert dump(empty_shop) == before


def test_a_photo_is_made_ready_once(empty_shop: Workshop) -> None:
    """The second card of a piece takes the photo that the first made; a new photo is seen."""
    (piece,) = _pieces(empty_shop, 1)
    add_photo(empty_shop, code=piece, new=NewPhoto(phone_jpeg(), "a.jpg"))
    first = print_card(empty_shop, piece=piece, dry_run=True)
    again = print_card(empty_shop, piece=piece, dry_run=True)
    (empty_shop.folder / "cache.db").unlink()

    assert first == again == print_card(empty_shop, piece=piece, dry_run=True)
