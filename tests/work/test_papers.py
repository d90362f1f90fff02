"""Papers: true to the record, readable by machines, and silent about names."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue, NoGlyph, NotFound, Refused
from salvage.geometry.outline import rectangle
from salvage.ids import Code, next_code
from salvage.paper.stock import STOCKS
from salvage.store.journal import read_head
from salvage.work.card_words import format_day, with_article
from salvage.work.cards import print_card
from salvage.work.clear import NewCheck, record_checks
from salvage.work.donors import NewDonor, set_naming
from salvage.work.labels import codes_without_label, print_labels
from salvage.work.papers import compose_card
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import set_stage, view_piece
from salvage.work.recall import open_recall
from salvage.work.receipts import print_receipt
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, clear, cut_circle, dump
from tests.paper.printed import letters, opened, pages_of, read_by_zbar, read_by_zxing
from tests.work.snapshots import MARK, phone_jpeg

NAME = "Zephyrine Quill"
CONTACT = "Cormorant Lane 5"
ROLL = STOCKS["roll-57x32"]
COPPER = (164 / 255, 85 / 255, 31 / 255)


def _drop_off(shop: Workshop, naming: str, *, contents: str = "a box of cards") -> Code:
    donor = NewDonor(
        NAME,
        naming=naming,
        described_as="a planetarium",
        contact=CONTACT,
        naming_how="said at the counter",
    )
    parts = (("hard disk", 2),)
    new = NewDropOff(date(2026, 5, 2), contents, weight_g=6200, data_parts=parts)
    return log_drop_off(shop, donor=donor, new=new).drop_off.code


def _piece(
    shop: Workshop, drop_off: Code, *, kind: str = "expansion-card", week: str = "9843"
) -> Code:
    new = NewBoard(drop_off, kind, maker="Orrery", date_code=week, outline=rectangle(120, 80))
    board = record_boards(shop, new=new)[0]
    clear(shop, board.code)
    piece = cut_circle(shop, board.code, 40, 40).piece
    assert piece is not None
    return piece.code


def _squeezed(text: str) -> str:
    return "".join(text.split())


def _says(pdf: bytes, text: str) -> bool:
    """Whether the text stands in the document, wherever its lines break."""
    return _squeezed(text) in letters(pdf)


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize(
    ("naming", "says"),
    [
        ("named", f"Given by {NAME}."),
        ("described", "Given by a planetarium."),
        ("anonymous", "Given by a donor who stays unnamed."),
    ],
)
def test_a_card_calls_the_donor_only_as_agreed(
    empty_shop: Workshop, naming: str, says: str, large: bool
) -> None:
    """The name is on the card with consent to be named, and nowhere else; the contact never."""
    piece = _piece(empty_shop, _drop_off(empty_shop, naming))
    pdf = print_card(empty_shop, piece=piece, large=large)

    assert _says(pdf, says)
    assert _says(pdf, NAME) is (naming == "named")
    assert (b"Quill" in pdf, b"Cormorant" in pdf) == (False, False)  # nor in its metadata
    assert not _says(pdf, CONTACT)
    assert not _says(pdf, "Cormorant")


@pytest.mark.parametrize("stock", STOCKS.values(), ids=list(STOCKS))
def test_no_label_names_a_donor(empty_shop: Workshop, stock: object) -> None:
    """Labels stick to boards that strangers see: not even a named donor is on them."""
    drop_off = _drop_off(empty_shop, "named")
    piece = _piece(empty_shop, drop_off)
    ((board,),) = empty_shop.conn.execute("SELECT code FROM board")
    codes = [board, piece, drop_off]
    pdf = print_labels(empty_shop, codes=codes, stock=stock).pdf  # type: ignore[arg-type]

    assert _says(pdf, board)
    assert not _says(pdf, "Zephyrine")
    assert not _says(pdf, "Cormorant")


def test_the_next_card_follows_the_newest_wish(empty_shop: Workshop) -> None:
    """A consent given later is on the next card, and one taken back is off it."""
    drop_off = _drop_off(empty_shop, "anonymous")
    piece = _piece(empty_shop, drop_off)
    ((donor,),) = empty_shop.conn.execute("SELECT code FROM donor")
    cards = [print_card(empty_shop, piece=piece)]
    for naming in ("named", "described", "anonymous"):
        set_naming(empty_shop, donor=donor, naming=naming, naming_how="by letter")
        cards.append(print_card(empty_shop, piece=piece))

    assert [_says(card, NAME) for card in cards] == [False, True, False, False]
    assert [_says(card, "a planetarium") for card in cards] == [False, False, True, False]
    ((count,),) = empty_shop.conn.execute("SELECT cards_printed FROM piece")
    assert count == 4


@pytest.mark.parametrize(
    ("week", "says"),
    [
        ("9843", "A date code on it, 9843, points to 1998."),
        # ISO 8601: week 1 of 2009 begins on Monday 29 December 2008, and is of 2009 all the same.
        ("0901", "A date code on it, 0901, points to 2009."),
        ("2018", "A date code on it, 2018, points to 2020."),
    ],
)
def test_a_date_code_is_told_as_a_hint(empty_shop: Workshop, week: str, says: str) -> None:
    """The card says what the code points to, by its own year."""
    pdf = print_card(empty_shop, piece=_piece(empty_shop, add_drop_off(empty_shop), week=week))

    assert _says(pdf, says)


@pytest.mark.parametrize("week", ["", "AX7", "7400", "9999"])
def test_what_is_no_date_code_is_not_told(empty_shop: Workshop, week: str) -> None:
    """A part number or a smudge makes no sentence, and no age."""
    pdf = print_card(empty_shop, piece=_piece(empty_shop, add_drop_off(empty_shop), week=week))

    assert not _says(pdf, "date code on it")


def test_a_board_of_unknown_type_reads_as_english(empty_shop: Workshop) -> None:
    """Where nobody knew the type, the card speaks of a circuit board."""
    pdf = print_card(empty_shop, piece=_piece(empty_shop, add_drop_off(empty_shop), kind="other"))

    assert _says(pdf, "Circle, cut from a circuit board")
    assert _says(pdf, "It was a circuit board, marked Orrery.")
    assert not _says(pdf, "an other")


def test_a_card_needs_no_photo(empty_shop: Workshop) -> None:
    """Neither the board's nor the piece's: the place on the outline is drawn all the same."""
    pdf = print_card(empty_shop, piece=_piece(empty_shop, add_drop_off(empty_shop)))
    with opened(pdf) as document:
        pictures = sum(len(page.images) for page in document.pages)
        filled = [s for s in document.pages[0].curves if s["fill"] and s["non_stroking_color"]]
    copper = [s for s in filled if s["non_stroking_color"] == pytest.approx(COPPER, abs=0.01)]

    assert pictures == 0
    assert len(copper) == 1  # the piece's own place


def test_photos_on_a_card_carry_nothing_but_pixels(empty_shop: Workshop) -> None:
    """The phone's place, time and owner stay in the kept original."""
    piece = _piece(empty_shop, add_drop_off(empty_shop))
    ((board,),) = empty_shop.conn.execute("SELECT code FROM board")
    corners = ((0, 400), (300, 400), (300, 0), (0, 0))
    new = NewPhoto(phone_jpeg(), "IMG_1.jpg", corners_px=corners)
    add_photo(empty_shop, code=board, new=new)
    add_photo(empty_shop, code=piece, new=NewPhoto(phone_jpeg(), "IMG_2.jpg"))
    pdf = print_card(empty_shop, piece=piece)
    with opened(pdf) as document:
        streams = [image["stream"] for page in document.pages for image in page.images]
        pictures = [stream.get_rawdata() or b"" for stream in streams]

    card = compose_card(empty_shop, view_piece(empty_shop.conn, piece))

    assert card.place_map is not None
    assert len(pictures) == 3  # the piece, its blurred colours behind it, and the board
    for data in (pdf, *pictures, card.photo, card.place_map.photo):
        assert MARK.encode() not in data
        assert b"Exif" not in data
        assert b"IMG_" not in data


@pytest.mark.parametrize("web_address", ["", "https://tidewrack.example/s"])
def test_the_code_on_a_card_is_read_back_by_both_readers(
    empty_shop: Workshop, web_address: str
) -> None:
    """From the printed page at 300 dpi, by two readers that we did not write."""
    if web_address:
        change_settings(empty_shop, typed={"web-address": web_address})
    piece = _piece(empty_shop, add_drop_off(empty_shop))
    pages = pages_of(print_card(empty_shop, piece=piece), 300)
    wanted = f"{web_address.upper()}/{piece}" if web_address else piece

    assert {text for page in pages for text in read_by_zbar(page)} == {wanted}
    assert {text for page in pages for text in read_by_zxing(page)} == {wanted}


def test_codes_on_labels_and_receipts_are_read_back_by_both_readers(empty_shop: Workshop) -> None:
    """Board, piece and drop-off on a sheet, and the drop-off's receipt."""
    drop_off = add_drop_off(empty_shop)
    piece = _piece(empty_shop, drop_off)
    ((board,),) = empty_shop.conn.execute("SELECT code FROM board")
    codes = [board, piece, drop_off]
    (sheet,) = pages_of(print_labels(empty_shop, codes=codes, stock=STOCKS["a4-3x8"]).pdf, 203)
    (paper,) = pages_of(print_receipt(empty_shop, drop_off=drop_off), 203)

    assert read_by_zbar(sheet) == read_by_zxing(sheet) == sorted(codes)
    assert read_by_zbar(paper) == read_by_zxing(paper) == [drop_off]


def test_a_held_board_shows_it_on_its_label(empty_shop: Workshop) -> None:
    """Held and recalled are written large; a cleared board's label has no alert."""
    board = add_cleared_board(empty_shop).code
    cleared = print_labels(empty_shop, codes=[board], stock=ROLL).pdf
    piece = cut_circle(empty_shop, board, 40, 40).piece
    assert piece is not None
    record_checks(empty_shop, boards=[board], checks=[NewCheck("coin-cell", "present")])
    held = print_labels(empty_shop, codes=[board], stock=ROLL).pdf
    open_recall(empty_shop, subject=board, reason="mercury")
    recalled = print_labels(empty_shop, codes=[board], stock=ROLL).pdf
    sold_never = print_labels(empty_shop, codes=[piece.code], stock=ROLL).pdf

    assert [_says(pdf, "HELD") for pdf in (cleared, held, recalled)] == [False, True, False]
    assert [_says(pdf, "RECALLED: do not cut") for pdf in (held, recalled)] == [False, True]
    assert _says(sold_never, "RECALLED: do not sell")


def test_what_lacks_a_label_is_known(empty_shop: Workshop) -> None:
    """Each new thing asks for a label once; printing is noted, a trial is not."""
    drop_off = add_drop_off(empty_shop)
    piece = _piece(empty_shop, drop_off)
    ((board,),) = empty_shop.conn.execute("SELECT code FROM board")
    before = dump(empty_shop)
    print_labels(empty_shop, codes=[board], stock=ROLL, dry_run=True)
    tried = dump(empty_shop)
    without = codes_without_label(empty_shop)
    print_labels(empty_shop, codes=[board, board, piece], stock=ROLL)

    assert tried == before
    assert without == (board, piece)
    assert codes_without_label(empty_shop) == ()


def test_labels_are_for_boards_pieces_and_drop_offs(empty_shop: Workshop) -> None:
    """Nothing to print, another kind, or an unknown code is refused, and nothing is noted."""
    add_drop_off(empty_shop)
    ((donor,),) = empty_shop.conn.execute("SELECT code FROM donor")
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="no label to print"):
        print_labels(empty_shop, codes=[], stock=ROLL)
    with pytest.raises(BadValue, match="is a donor; labels are for"):
        print_labels(empty_shop, codes=[donor], stock=ROLL)
    with pytest.raises(NotFound, match="no board"):
        print_labels(empty_shop, codes=[next_code("B", "K", 0)[0]], stock=ROLL)

    assert dump(empty_shop) == before


@pytest.mark.parametrize("naming", ["named", "described", "anonymous"])
def test_a_receipt_has_the_name_only_on_request(empty_shop: Workshop, naming: str) -> None:
    """The workshop's copy follows the wish; the donor's own copy may carry the name."""
    drop_off = _drop_off(empty_shop, naming)
    usual = print_receipt(empty_shop, drop_off=drop_off)
    own = print_receipt(empty_shop, drop_off=drop_off, with_name=True)

    assert _says(usual, NAME) is (naming == "named")
    assert _says(own, NAME)
    assert not _says(own, "Cormorant")


def test_a_receipt_promises_no_more_than_is_kept(empty_shop: Workshop) -> None:
    """What arrived, its weight, the disks, and the state of the record; a trial writes nothing."""
    drop_off = _drop_off(empty_shop, "anonymous")
    before = dump(empty_shop)
    head = read_head(empty_shop.conn, empty_shop.settings.device)
    pdf = print_receipt(empty_shop, drop_off=drop_off, dry_run=True)

    for text in (
        drop_off,
        "a box of cards",
        "6.2 kg",
        "2 × hard disk",
        "To be returned, sanitised or destroyed; the record will say how.",
        f"Record {head.count}, {head.hash[:8]}",
    ):
        assert _says(pdf, text), text
    assert dump(empty_shop) == before


def test_a_card_bears_witness_to_the_record(empty_shop: Workshop) -> None:
    """It prints the head of the chain, and the chain keeps the hash of what it said."""
    piece = _piece(empty_shop, add_drop_off(empty_shop))
    head = read_head(empty_shop.conn, empty_shop.settings.device)
    pdf = print_card(empty_shop, piece=piece)
    trial = print_card(empty_shop, piece=piece, dry_run=True)
    print_card(empty_shop, piece=piece)
    said = empty_shop.conn.execute(
        "SELECT json_extract(body, '$.data.text_sha256') FROM event WHERE kind = 'card.printed'"
    ).fetchall()

    assert _says(pdf, f"Record {head.count}, {head.hash[:8]}")
    assert trial[:5] == b"%PDF-"
    assert len(said) == 2
    assert said[0] == said[1]  # the same words, though the record has grown


def test_no_card_for_what_must_not_be_sold(empty_shop: Workshop) -> None:
    """Recalled and withdrawn pieces get none; an unknown one is not found."""
    piece = _piece(empty_shop, add_drop_off(empty_shop))
    set_stage(empty_shop, pieces=[piece], stage="withdrawn", note="broken")
    with pytest.raises(Refused, match="withdrawn: no card"):
        print_card(empty_shop, piece=piece)
    set_stage(empty_shop, pieces=[piece], stage="ready")
    open_recall(empty_shop, subject=piece, reason="mercury")
    with pytest.raises(Refused, match="recalled: no card"):
        print_card(empty_shop, piece=piece)
    with pytest.raises(NotFound, match="no piece"):
        print_card(empty_shop, piece=next_code("P", "K", 0)[0])


def test_markup_in_words_stays_words(empty_shop: Workshop) -> None:
    """What a donor or a board says is never taken for an instruction to the printer."""
    nasty = '#set text(red) $x$ *b* _i_ \\ "q" <a> @b // `c`'
    drop_off = _drop_off(empty_shop, "anonymous", contents=nasty)
    new = NewBoard(drop_off, "expansion-card", maker=nasty, outline=rectangle(120, 80))
    board = record_boards(empty_shop, new=new)[0]
    clear(empty_shop, board.code)
    piece = cut_circle(empty_shop, board.code, 40, 40).piece
    assert piece is not None

    assert _says(print_card(empty_shop, piece=piece.code), nasty)
    assert _says(print_receipt(empty_shop, drop_off=drop_off), nasty)


@pytest.mark.parametrize(
    ("noun", "words"),
    [("expansion card", "an expansion card"), ("UPS board", "a UPS board"), ("orb", "an orb")],
)
def test_nouns_have_their_article(noun: str, words: str) -> None:
    """A and an, by the first letter."""
    assert with_article(noun) == words


def test_days_are_written_alike_everywhere() -> None:
    """Whatever language the machine speaks."""
    assert format_day(date(2026, 12, 1)) == "1 December 2026"


# Private use (Unicode 23.5) and a noncharacter: no font on any machine has them.
NOWHERE = "\ue000\U0010fffe"


def test_a_label_is_not_held_up_by_a_character(empty_shop: Workshop) -> None:
    """A maker's odd mark becomes an empty square, its code is read, and the square is explained."""
    drop_off = add_drop_off(empty_shop)
    new = NewBoard(drop_off, "other", maker=f"Orr{NOWHERE[0]}ery", place=f"box {NOWHERE}")
    board = record_boards(empty_shop, new=new)[0].code
    printed = print_labels(empty_shop, codes=[board], stock=ROLL)
    (page,) = pages_of(printed.pdf, 203)

    assert set(printed.missing) == set(NOWHERE)
    assert _says(printed.pdf, "Orr□ery")
    assert read_by_zxing(page) == [board]


def test_a_sheet_in_a_script_without_a_font_is_printed_all_the_same(empty_shop: Workshop) -> None:
    """Hundreds of missing characters take no longer than a few; what has a font stays."""
    private = "".join(chr(0xE000 + n) for n in range(100))
    new = NewBoard(add_drop_off(empty_shop), "other", maker="Café", place=private)
    board = record_boards(empty_shop, new=new)[0].code
    printed = print_labels(empty_shop, codes=[board], stock=ROLL)

    assert set(private) <= set(printed.missing)
    assert _says(printed.pdf, "Café")


def test_a_card_and_a_receipt_name_what_cannot_be_printed(empty_shop: Workshop) -> None:
    """What a buyer or donor takes home has no empty squares; the line says on which paper."""
    change_settings(empty_shop, typed={"name": "Tide\ue000wrack"})
    drop_off = add_drop_off(empty_shop)
    piece = _piece(empty_shop, drop_off)
    before = dump(empty_shop)
    with pytest.raises(NoGlyph, match=f"on the story card of {piece}") as caught:
        print_card(empty_shop, piece=piece)
    with pytest.raises(NoGlyph, match=f"on the receipt of {drop_off}"):
        print_receipt(empty_shop, drop_off=drop_off)

    assert "salvage setup fonts-folder=DIR" in caught.value.hint
    assert dump(empty_shop) == before
