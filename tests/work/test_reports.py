"""
The workshop's papers as others read them: structure by pdfplumber, words, sources, and consent.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from salvage.errors import BadFile, BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.records.things import Board
from salvage.work.articles import assemble
from salvage.work.clear import NewCheck, record_checks
from salvage.work.consigning import Handed, NewHandOver, confirm_receipt, hand_over
from salvage.work.cutting import NewCut, record_cut
from salvage.work.donors import NewDonor
from salvage.work.history import undo
from salvage.work.impact import print_impact
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell
from salvage.work.receipts import print_receipt
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.reports import print_consignment_note, print_hazard_log
from salvage.work.setup import change_settings
from salvage.work.waste import NewContainer, NewWaste, open_container, put_in
from salvage.work.wordings import copy_wording, list_wordings, set_wording, view_wording
from salvage.work.workshop import Workshop
from salvage.work.year_report import print_year_report
from tests.bench import START, add_board, add_cleared_board, circle_at, cut_circle, dump
from tests.paper import printed
from tests.work.snapshots import phone_jpeg

A4, LETTER = (210.0, 297.0), (215.9, 279.4)
MONATE = "Januar, Februar, März, April, Mai, Juni, Juli, August, September, Oktober, November"
GERMAN = f"""
language = "de"
decimal_mark = ","
months = "{MONATE}, Dezember"
title = "Was aus Ihren Geräten geworden ist"
statement = "Dieser Bericht nennt keinen Wert und ist keine Zuwendungsbestätigung."
"""


def words_in(pdf: bytes) -> str:
    """All words of a document, with single blanks."""
    with printed.opened(pdf) as document:
        return " ".join(" ".join(page.extract_text().split()) for page in document.pages)


@pytest.fixture
def board(empty_shop: Workshop) -> Board:
    """A board with one piece sold and one on the bench."""
    found = add_cleared_board(empty_shop)
    sold = cut_circle(empty_shop, found.code, 30, 40).piece
    assert sold is not None
    cut_circle(empty_shop, found.code, 80, 40)
    sell(empty_shop, piece=sold.code, price_minor=1800, venue="Lantern Fair")
    return found


def test_a_donor_reads_what_became_of_it(empty_shop: Workshop, board: Board) -> None:
    """Boards with a picture, pieces with where they are, masses with the rest, and sources."""
    pdf = print_impact(empty_shop, subject=board.drop_off)
    text = words_in(pdf)
    with printed.opened(pdf) as document:
        pictures = sum(len(page.images) for page in document.pages)

    assert "What became of your equipment" in text
    assert "For a planetarium" in text
    assert "You brought 6.2 kg" in text
    assert "sold at Lantern Fair on 4 May 2026" in text
    assert "with us: rough" in text
    assert "not a tax receipt" in text
    assert "305.15 g/m2" in text
    assert "(estimate," in text
    assert pictures >= 1
    assert printed.read_by_zxing(printed.pages_of(pdf, 200)[0]) == [board.drop_off]


def test_the_figures_on_paper_add_up(empty_shop: Workshop, board: Board) -> None:
    """What is printed is the balance: in grams, the lines and the rest are what came."""
    from salvage.work.drop_off_mass import balance_drop_off

    mass = balance_drop_off(empty_shop.conn, board.drop_off)
    text = words_in(print_impact(empty_shop, subject=board.drop_off))

    assert f"Became pieces {mass.pieces.mg / 1000:.1f} g (estimate" in text
    assert f"Still on our shelf {mass.shelf.mg / 1000:.1f} g" in text
    assert f"Not accounted for yet {mass.unexplained_mg / 1e6:.2f} kg" in text
    assert (
        mass.unexplained_mg
        + sum(each.mg for each in (mass.pieces, mass.dust, mass.recycled, mass.waiting, mass.shelf))
        == 6_200_000
    )


def test_a_report_tells_no_other_donors_story(empty_shop: Workshop, board: Board) -> None:
    """Names, boards, pieces and words of another donor stand on their own report only."""
    other = NewDonor("Skerry Bay Community Radio", naming="named", naming_how="by letter")
    new = NewDropOff(START.date(), "two cards", story="It hummed all night.")
    drop_off = log_drop_off(empty_shop, donor=other, new=new).drop_off
    theirs = add_board(empty_shop, drop_off=drop_off.code)
    mine = words_in(print_impact(empty_shop, subject=board.drop_off))
    own = words_in(print_impact(empty_shop, subject=drop_off.donor))

    for secret in ("Skerry", "hummed", theirs.code, drop_off.code):
        assert secret not in mine
        assert secret in own
    assert board.code not in own


def test_a_name_stands_only_on_the_donors_own_copy(empty_shop: Workshop, board: Board) -> None:
    """A donor who is to be described is described; the record tells which copy it was."""
    usual = words_in(print_impact(empty_shop, subject=board.drop_off))
    own = words_in(print_impact(empty_shop, subject=board.drop_off, with_name=True))
    rows = empty_shop.conn.execute("SELECT naming FROM printed_paper ORDER BY at").fetchall()

    assert "Kelpie Point" not in usual
    assert "Kelpie Point Planetarium" in own
    assert rows == [("described",), ("own copy",)]


def test_a_photo_on_a_report_has_lost_what_the_phone_wrote(empty_shop: Workshop) -> None:
    """A board without an outline is shown by its photo, drawn anew: no place, no device."""
    view = log_drop_off(
        empty_shop, donor=NewDonor("x"), new=NewDropOff(START.date(), "a card", weight_g=90.0)
    )
    from salvage.work.record import NewBoard, record_boards

    (bare,) = record_boards(empty_shop, new=NewBoard(view.drop_off.code, "other"))
    add_photo(empty_shop, code=bare.code, new=NewPhoto(phone_jpeg(), "front.jpg"))
    pdf = print_impact(empty_shop, subject=view.drop_off.code)

    assert b"Exif" not in pdf
    assert "a donor who stays unnamed" in words_in(pdf)
    with printed.opened(pdf) as document:
        assert sum(len(page.images) for page in document.pages) >= 1


@pytest.mark.parametrize(("subject", "error"), [("B", BadValue), ("G", NotFound)])
def test_a_report_is_for_somebody(
    empty_shop: Workshop, board: Board, subject: str, error: type[Exception]
) -> None:
    """A board has no donor's report of its own, nor has nobody."""
    code = board.code if subject == "B" else Code("GC0003U")
    with pytest.raises(error):
        print_impact(empty_shop, subject=code)


def test_the_hazard_log_tells_all_and_what_is_open(empty_shop: Workshop) -> None:
    """In the order of the record, with who; boards that are held, overrides, and sources."""
    held = add_board(empty_shop).code
    removed = NewCheck("coin-cell", "present", "removed", "lifted out", "battery box")
    record_checks(empty_shop, boards=[held], checks=[removed])
    spot = circle_at(empty_shop, 40, 40)
    record_cut(empty_shop, new=NewCut(held, spot, override_reason="a trial piece"))
    pdf = print_hazard_log(empty_shop)
    text = words_in(pdf)

    assert "coin cell (lithium) present removed: lifted out battery box Maren" in text
    assert "Still open" in text
    assert "a trial piece" in text
    assert "40 CFR" in text
    assert "certifies nothing" in text
    assert printed.sizes_mm(pdf)[0] == (297.0, 210.0)


def test_the_hazard_log_keeps_to_its_days_and_board(empty_shop: Workshop) -> None:
    """Nothing of other boards or later days; days in the wrong order are refused."""
    one, two = add_cleared_board(empty_shop).code, add_cleared_board(empty_shop).code
    only = words_in(print_hazard_log(empty_shop, board=one))
    none = words_in(print_hazard_log(empty_shop, until=date(2026, 5, 1)))

    assert one in only
    assert two not in only
    assert "Nothing was recorded in this time." in none
    with pytest.raises(BadValue, match="is after"):
        print_hazard_log(empty_shop, since=date(2026, 5, 4), until=date(2026, 5, 1))


def _sent(shop: Workshop) -> Code:
    cells = open_container(shop, new=NewContainer("lithium-batteries")).container.code
    put_in(shop, container=cells, new=NewWaste("cells", weight_g=30.0))
    items = (Handed(cells, "", 31.0), Handed(add_board(shop).code), Handed(None, "frames", 400.0))
    new = NewHandOver("Quay Street yard", items, "W-77", "Q-88")
    return hand_over(shop, new=new).consignment.code


def test_a_consignment_note_names_items_weights_and_rules(empty_shop: Workshop) -> None:
    """Who, what, how much, which permit and paper, why the words, and where to sign."""
    code = _sent(empty_shop)
    before = words_in(print_consignment_note(empty_shop, consignment=code))
    confirm_receipt(empty_shop, consignment=code, confirmation="R-2", weight_g=460.0)
    pdf = print_consignment_note(empty_shop, consignment=code)
    after = words_in(pdf)

    for told in ("Quay Street yard", "W-77", "Q-88", "frames", "31 g", "400 g", "(estimate)"):
        assert told in after
    assert "40 CFR 273.14(a)" in after
    assert "Together 462.4 g" in after
    assert "Name, date, signature" in after
    assert "Receipt not confirmed yet." in before
    assert "Receipt confirmed on 4 May 2026: R-2" in after
    assert printed.read_by_zbar(printed.pages_of(pdf, 200)[0]) == [code]


def test_the_year_report_counts_and_weighs(empty_shop: Workshop, board: Board) -> None:
    """Masses, numbers, consignments, containers that wait; each estimate with its sources."""
    _sent(empty_shop)
    opened = date(2025, 4, 1)
    open_container(empty_shop, new=NewContainer("lamps", opened_on=opened))
    text = words_in(print_year_report(empty_shop, year=2026))
    before = words_in(print_year_report(empty_shop, year=2025))

    assert "Came in, weighed at the door 12.4 kg" in text
    assert "Pieces made 2" in text
    assert "Pieces sold and not returned 1" in text
    assert "Consignments 1" in text
    assert "Universal Waste - Lamps" in text
    assert "over" in text
    assert "305.15 g/m2" in text
    assert "Pieces made 0" in before
    assert "Universal Waste - Lamps" not in before


def test_an_article_is_not_one_more_piece_of_the_year(empty_shop: Workshop) -> None:
    """Two pieces and the pair made of them are two pieces, as on the donor's report."""
    code = add_cleared_board(empty_shop).code
    cuts = [cut_circle(empty_shop, code, x, 40) for x in (30, 80)]
    assemble(empty_shop, parts=[cut.piece.code for cut in cuts if cut.piece], name="disc pair")
    text = words_in(print_year_report(empty_shop, year=2026))

    assert "Pieces made 2" in text


@pytest.mark.parametrize(("paper", "size"), [("a4", A4), ("letter", LETTER)])
def test_papers_keep_to_the_page_of_the_place(
    empty_shop: Workshop, board: Board, paper: str, size: tuple[float, float]
) -> None:
    """ISO 216 A4, or Letter of 8.5 by 11 inches; a receipt is half of it."""
    change_settings(empty_shop, typed={"paper": paper, "units": "inch", "date-format": "mdy"})
    report = print_impact(empty_shop, subject=board.drop_off)
    half = print_receipt(empty_shop, drop_off=board.drop_off)
    halves = {"a4": (148.0, 210.0), "letter": (139.7, 215.9)}

    assert printed.sizes_mm(report)[0] == size
    assert printed.sizes_mm(half) == [halves[paper]]
    assert "05/02/2026" in words_in(half)
    assert "13.67 lb" in words_in(half)  # 6200 g over 453.59237 g


def test_a_workshop_writes_its_own_words(empty_shop: Workshop, board: Board) -> None:
    """Set, printed with, and on record: each paper tells which version it was printed in."""
    print_impact(empty_shop, subject=board.drop_off)
    ours = view_wording(empty_shop, document="impact")
    own = set_wording(empty_shop, document="impact", data=GERMAN.encode())
    text = words_in(print_impact(empty_shop, subject=board.drop_off))
    now = view_wording(empty_shop, document="impact")

    assert "Was aus Ihren Geräten geworden ist" in text
    assert "keine Zuwendungsbestätigung" in text
    assert "6,2 kg" in text
    assert "4 Mai 2026" in text
    assert (ours.printed, own.printed, now.printed) == (1, 0, 1)
    assert ours.sha256 != now.sha256
    assert (ours.language, now.language, len(now.own)) == ("en", "de", 5)
    assert [view.document for view in list_wordings(empty_shop)][:2] == ["receipt", "impact"]
    assert 'title = "Was aus' in copy_wording(empty_shop, document="impact")
    assert 'title = "What' in copy_wording(empty_shop, document="impact", standard=True)


def test_ours_come_back(empty_shop: Workshop) -> None:
    """By an empty wording, or by undoing; the same twice is refused."""
    first = set_wording(empty_shop, document="year", data=b'title = "Jahr"')
    with pytest.raises(Refused, match="is so already"):
        set_wording(empty_shop, document="year", data=b'title = "Jahr"')
    set_wording(empty_shop, document="year", data=b"")
    after = view_wording(empty_shop, document="year")
    undo(empty_shop)

    assert after.own == {}
    assert view_wording(empty_shop, document="year") == first
    before = dump(empty_shop)
    with pytest.raises(BadFile, match="may not be empty"):
        set_wording(empty_shop, document="year", data=b'statement = ""')
    set_wording(empty_shop, document="year", data=b'title = "x"', dry_run=True)

    assert dump(empty_shop) == before


@pytest.mark.parametrize("name", ["Αστεροσκοπείο Νηρηίδων", "Музей связи Тихой Бухты"])
def test_names_in_other_scripts_are_printed(empty_shop: Workshop, name: str) -> None:
    """Greek and Cyrillic letters come with the fonts that are shipped."""
    donor = NewDonor(name, naming="named", naming_how="at the door")
    view = log_drop_off(empty_shop, donor=donor, new=NewDropOff(START.date(), "a box"))
    pdf = print_impact(empty_shop, subject=view.drop_off.code)

    assert name in words_in(pdf)


def test_a_trial_prints_and_records_nothing(
    empty_shop: Workshop, board: Board, tmp_path: Path
) -> None:
    """A dry run makes the paper and leaves the record as it was."""
    code = _sent(empty_shop)
    before = dump(empty_shop)
    papers = (
        print_impact(empty_shop, subject=board.drop_off, dry_run=True),
        print_hazard_log(empty_shop, dry_run=True),
        print_consignment_note(empty_shop, consignment=code, dry_run=True),
        print_year_report(empty_shop, year=2026, dry_run=True),
        print_receipt(empty_shop, drop_off=board.drop_off, dry_run=True),
    )

    assert all(pdf.startswith(b"%PDF") for pdf in papers)
    assert dump(empty_shop) == before
