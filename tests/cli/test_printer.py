"""Printers, label stock, places and the action sheet from the command line."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from salvage.records.actions import ACTIONS
from tests.desk import Desk, add_board
from tests.paper.printed import letters, pages_of, read_by_zxing


def test_a_printer_is_measured_and_then_puts_labels_right(tmp_path: Path) -> None:
    """Set, test, check: the next labels for that printer lie elsewhere on the page."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do("printer set counter --dpi 300 --stock a4-3x7")
    told = desk.do("printer test counter --out test.pdf")
    desk.do(f"label {board} --printer counter --out before.pdf")
    desk.do("printer check counter --left 21 --top 20 --width 170 --height 257")
    after = desk.do(f"label {board} --printer counter --out after.pdf --json").value
    before, moved = (
        pages_of((tmp_path / name).read_bytes(), 150)[0].point(lambda v: 255 * (v < 128)).getbbox()
        for name in ("before.pdf", "after.pdf")
    )

    assert "next: salvage printer check counter --left 20 --top 20" in told.err
    assert "Testpage:counter" in letters((tmp_path / "test.pdf").read_bytes())
    assert after["printer"] == "counter"
    assert after["stock"] == "a4-3x7"
    assert before is not None
    assert moved is not None
    assert before[0] - moved[0] == pytest.approx(150 / 25.4, abs=1.5)


def test_all_readings_that_are_wrong_are_told_at_once(tmp_path: Path) -> None:
    """Two slips of the pen are two lines, and nothing is kept."""
    desk = Desk(tmp_path)
    desk.do("printer set counter")
    told = desk.run("printer check counter --left x --top 20 --width -1 --height 257")

    assert told.code == 1
    assert "2 mistakes" in told.err
    assert desk.do("printer list --json").value[0]["checked_at"] == ""


def test_a_page_fitted_to_the_paper_is_told_so(tmp_path: Path) -> None:
    """A frame that is 4 per cent small is the print dialogue's doing, not the printer's."""
    desk = Desk(tmp_path)
    desk.do("printer set counter")
    told = desk.run("printer check counter --left 23 --top 25 --width 163.2 --height 246.7")

    assert told.code == 1
    assert "at 100 %" in told.err


def test_bitmaps_are_written_one_a_page(tmp_path: Path) -> None:
    """A name that ends in .png gives what a label printer's queue wants."""
    desk = Desk(tmp_path)
    first, second = add_board(desk), add_board(desk)
    told = desk.do(f"label {first} {second} --stock 50x25mm --out l.png --json").value
    pictures = [Image.open(io.BytesIO(Path(file).read_bytes())) for file in told["files"]]

    assert [Path(file).name for file in told["files"]] == ["l-1.png", "l-2.png"]
    assert {(picture.size, picture.mode) for picture in pictures} == {((400, 200), "1")}
    assert [read_by_zxing(p.convert("L")) for p in pictures] == [[first], [second]]


def test_a_shelf_gets_a_code_with_its_label(tmp_path: Path) -> None:
    """One command names the shelf and prints its label; the scanned code then takes a board."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    told = desk.do('label --place "shelf A3" --stock 57x32mm --out p.pdf --json').value
    (code,) = told["codes"]
    (page,) = pages_of((tmp_path / "p.pdf").read_bytes(), 203.2)
    desk.do(f"board move {board} {code}")

    assert read_by_zxing(page) == [code]
    assert "shelfA3" in letters((tmp_path / "p.pdf").read_bytes())
    assert desk.do("place list --json").value[0]["boards"] == [board]
    assert desk.do(f"board show {board} --json").value["place"] == "shelf A3"


def test_a_refused_design_names_no_place(tmp_path: Path) -> None:
    """Nothing is half done: a design that is not known leaves no new shelf behind."""
    desk = Desk(tmp_path)
    add_board(desk)
    told = desk.run('label --place "shelf A3" --design poster')

    assert told.code == 1
    assert "board, place, tag, card" in told.err
    assert desk.do("place list --json").value == []


def test_a_dry_run_tells_what_it_would_name(tmp_path: Path) -> None:
    """A shelf that was only tried has no code, and the line says so."""
    desk = Desk(tmp_path)
    add_board(desk)
    told = desk.run('label --place "shelf A3" --out p.pdf --dry-run')

    assert "shelf A3" in told.err
    assert desk.do("place list --json").value == []
    assert not (tmp_path / "p.pdf").exists()


def test_the_action_sheet_is_one_page(tmp_path: Path) -> None:
    """All actions stand on it, each in characters too."""
    desk = Desk(tmp_path)
    add_board(desk)
    desk.do("label --actions --paper letter --out a.pdf")
    pdf = (tmp_path / "a.pdf").read_bytes()
    (page,), said = pages_of(pdf, 203.2), letters(pdf)

    assert read_by_zxing(page) == sorted(action.code for action in ACTIONS)
    assert [action.code for action in ACTIONS if action.code not in said] == []


@pytest.mark.parametrize(("start", "place"), [("5", 5), ("2,2", 5), ("8,3", 24)])
def test_a_half_used_sheet_starts_anywhere(tmp_path: Path, start: str, place: int) -> None:
    """By number or by row and column, the label lies on the first free place."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do(f"label {board} --start {start} --out l.pdf")
    (page,) = pages_of((tmp_path / "l.pdf").read_bytes(), 100)
    box = page.point(lambda value: 255 * (value < 128)).getbbox()
    row, column = divmod(place - 1, 3)

    assert box is not None
    assert box[0] >= column * 70 / 25.4 * 100 - 1
    assert box[1] >= (0.5 + row * 37) / 25.4 * 100 - 1
    assert box[3] <= (0.5 + (row + 1) * 37) / 25.4 * 100 + 1


@pytest.mark.parametrize("start", ["0", "25", "9,1", "1,4", "x", "1,2,3"])
def test_a_place_off_the_sheet_is_refused(tmp_path: Path, start: str) -> None:
    """The refusal says how many places there are."""
    desk = Desk(tmp_path)
    told = desk.run(f"label {add_board(desk)} --start {start}")

    assert told.code == 1
    assert "1 to 24" in told.err


def test_own_stock_is_printed_on(tmp_path: Path) -> None:
    """A sheet described by its measures is there by its name."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    desk.do("printer stock bins --page a4 --grid 3x8 --label 63.5x33.9 --gap 2.5x0")
    told = desk.do(f"label {board} --stock BINS --out l.pdf --json").value

    assert told["stock"] == "bins"
    assert [stock["is_own"] for stock in desk.do("printer stocks --json").value][:2] == [
        True,
        False,
    ]
