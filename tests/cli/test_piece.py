"""Pieces from the bench to the fair and back, with their papers."""

from __future__ import annotations

from pathlib import Path

import pdfplumber
import pytest

from tests.desk import Desk, add_cleared_board, cut_piece


def test_a_piece_goes_to_the_fair_and_comes_back(tmp_path: Path) -> None:
    """Stages, weight, price, sale and return, each told with its code."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    staged = desk.do(f"piece stage {code} ready --note 'two coats'")
    desk.do(f"piece weigh {code} 4.2g")
    priced = desk.do(f"piece price {code} 18,50")
    sold = desk.do(f"piece sell {code} --venue 'Lantern Fair'")
    again = desk.run(f"piece sell {code}")
    back = desk.do(f"piece return {code} --reason 'pin loose'")
    page = desk.do(f"piece show {code}").out

    assert staged.out == f"{code}  circle is ready\n"
    assert "priced 18.50 EUR" in priced.out
    assert f"{code}  circle sold for 18.50 EUR at Lantern Fair on 2026-05-0" in sold.out
    assert (again.code, "sold already" in again.err) == (1, True)
    assert "came back on 2026-05-04: pin loose" in back.out
    assert "weight: 4.2 g" in page
    assert "sold for 18.50 EUR" in page
    assert "came back" in page


def test_several_pieces_take_one_line(tmp_path: Path) -> None:
    """A tray of pieces is priced and staged at once, in any order of codes."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    codes = " ".join(
        desk.code(f"cut {board} --shape circle --width 20 --at {x},40") for x in (20, 60, 100)
    )
    desk.do(f"piece price {codes} 12")
    told = desk.do(f"piece stage {codes} sanded")

    assert told.out.count("is sanded") == 3
    assert {p["price_minor"] for p in desk.do("piece list --json").value} == {1200}
    assert {p["price"] for p in desk.do("piece list --state sanded --json").value} == {"12.00 EUR"}


def test_what_is_wrong_with_a_sale_is_told_together(tmp_path: Path) -> None:
    """A price that is none and a day to come are told in one go."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.run(f"piece sell {code} --price cheap --date 2031-01-01")
    unpriced = desk.run(f"piece sell {code}")

    assert told.code == 1
    assert "  --price: " in told.err
    assert "  --date: " in told.err
    assert "--price" in unpriced.err


def test_a_stage_is_one_of_the_bench(tmp_path: Path) -> None:
    """Sold is not a stage that is set by hand, and a withdrawal says why."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)

    assert desk.run(f"piece stage {code} sold").code == 1
    assert "--note" in desk.run(f"piece stage {code} withdrawn").err
    desk.do(f"piece stage {code} withdrawn --note cracked")
    assert "no card" in desk.run(f"card {code}").err


def test_a_card_is_written_and_counted(tmp_path: Path) -> None:
    """The story card reads as a PDF by another reader, and the record knows of it."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.do(f"card {code}")
    refused = desk.run(f"card {code}")
    desk.do(f"card {code} --large --out big.pdf")
    with pdfplumber.open(tmp_path / f"card-{code}.pdf") as card:
        words = " ".join(page.extract_text() for page in card.pages)

    assert f"story card written: {tmp_path / f'card-{code}.pdf'}" in told.out
    assert refused.code == 1
    assert code in words
    assert "Kelpie Point" not in words
    assert desk.do(f"piece show {code} --json").value["cards_printed"] == 2


def test_a_refused_card_is_not_counted(tmp_path: Path) -> None:
    """Where no file can be written, no card is on record."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    missing = desk.run(f"card {code} --out nowhere/card.pdf")
    folder = desk.run(f"card {code} --out shop")
    dry = desk.do(f"card {code} --dry-run")

    assert (missing.code, folder.code) == (1, 1)
    assert dry.out.startswith("dry run: ")
    assert not list(tmp_path.glob("*.pdf"))
    assert desk.do(f"piece show {code} --json").value["cards_printed"] == 0


def test_new_labels_are_printed_once(tmp_path: Path) -> None:
    """--new takes what never had a label, and then there is nothing left."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)
    told = desk.do("label --new --stock a4-3x7 --start 5")
    nothing = desk.do("label --new --out more.pdf")
    one = desk.do(f"label {code} --stock 57x32mm --out one.pdf")
    with pdfplumber.open(tmp_path / "labels.pdf") as sheet:
        words = sheet.pages[0].extract_text()

    assert "2 labels for a4-3x7" in told.out
    assert code in words
    assert "has had its label" in nothing.err
    assert "1 label for roll-57x32" in one.out
    assert not (tmp_path / "more.pdf").exists()


def test_labels_need_to_know_what_for(tmp_path: Path) -> None:
    """Neither codes nor --new, or both, is misuse; an unknown stock is told with those known."""
    desk = Desk(tmp_path)
    code = cut_piece(desk)

    assert desk.run("label").code == 2
    assert desk.run(f"label {code} --new").code == 2
    assert "a4-3x8" in desk.run(f"label {code} --stock a3-9x9").err


def test_a_photo_is_kept_as_it_is(tmp_path: Path) -> None:
    """Photos of pieces and deliveries are kept; corners belong to boards."""
    from PIL import Image

    desk = Desk(tmp_path)
    code = cut_piece(desk)
    Image.new("RGB", (64, 48), (9, 9, 9)).save(tmp_path / "p.png")
    told = desk.do(f"photo {code} p.png --side other --caption tern")
    corners = desk.run(f"photo {code} p.png --corners '1,1 9,1 9,9 1,9'")
    three = desk.run(f"photo {code} p.png --corners '1,1 9,1 9,9'")
    drop_off = desk.do("dropoff list --plain").first
    box = desk.do(f"dropoff photo {drop_off} p.png")

    assert "photo 1 kept, 64 x 48 px" in told.out
    assert "boards only" in corners.err
    assert "four corners" in three.err
    assert "photo 1" in box.out
    assert len(list((tmp_path / "shop" / "files").glob("*/*"))) == 1


@pytest.mark.parametrize(
    "line",
    ["card {piece}", "label {piece}", "board map {board}", "scan {board} --map", "mat print"],
)
def test_a_folder_that_is_not_there_is_named(tmp_path: Path, line: str) -> None:
    """Each command that writes a file says which folder is missing, and writes nothing."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    board = desk.do("board list --plain").first
    words = line.format(piece=piece, board=board)
    out = "nosuch/x.pdf" if words.endswith("--map") else "--out nosuch/x.pdf"
    before = desk.do("journal --json").value
    told = desk.run(f"{words} {out}")

    assert told.code == 1
    assert told.err.endswith("the folder nosuch is not there\n  make it first, or name another\n")
    assert desk.do("journal --json").value == before


def test_a_dry_run_says_that_no_file_was_written(tmp_path: Path) -> None:
    """The card is made to see whether it can be, and neither file nor record is left of it."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    told = desk.do(f"card {piece} --out tern.pdf --dry-run")

    assert told.out == f"dry run: {piece}  story card would go to {tmp_path / 'tern.pdf'}\n"
    assert told.err == "nothing was recorded, and no file was written (--dry-run)\n"
    assert not (tmp_path / "tern.pdf").exists()
    assert desk.do(f"piece show {piece} --json").value["cards_printed"] == 0


def test_a_sale_reads_as_people_say_it(tmp_path: Path) -> None:
    """Where, then when; and a piece that came back says so in the same words everywhere."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    sold = desk.do(f"piece sell {piece} --price 18.50 --venue 'Harbour fair'")
    back = desk.do(f"piece return {piece} --reason 'pin came loose'")
    desk.do(f"piece stage {piece} ready")
    desk.do(f"piece sell {piece} --price 18")
    lines = desk.do(f"piece show {piece}").out.splitlines()

    assert sold.out == f"{piece}  circle sold for 18.50 EUR at Harbour fair on 2026-05-04\n"
    assert back.out == f"{piece}  circle came back on 2026-05-04: pin came loose\n"
    both = "at Harbour fair on 2026-05-04, came back on 2026-05-04: pin came loose"
    assert lines[-2:] == [f"  sold for 18.50 EUR {both}", "  sold for 18.00 EUR on 2026-05-04"]


def test_facts_of_a_board_read_as_people_say_them(tmp_path: Path) -> None:
    """Evidence stands in brackets, and no blank stands before a comma."""
    from PIL import Image

    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    Image.new("RGB", (64, 48), (9, 9, 9)).save(tmp_path / "p.png")
    desk.do(f"board lead {code} tested --evidence 'swab: neg'")
    kept = desk.do(f"photo {code} p.png --side back").out
    desk.do(f"photo {code} p.png --caption 'after rain'")
    page = desk.do(f"board show {code}").out

    assert kept == f"{code}  photo 1 kept, back, 64 x 48 px\n"
    for line in ("  lead: tested (swab: neg)", "  photo 1: back", "  photo 2: front, after rain"):
        assert line in page.splitlines()
    assert " ," not in page
