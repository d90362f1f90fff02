"""Mats, measuring, fits and handing over from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from tests.desk import Desk, Told
from tests.faces.steps_measure import mat_photo

SHAPE = "--shape circle --width 30"


def _refused(told: Told) -> str:
    assert told.code == 1
    return told.err + told.out


def _cleared(desk: Desk, *, size: str = "120x80") -> str:
    drop_off = desk.do("dropoff add --donor Kelpie --contents boards --plain").first
    board = desk.do(f"board add {drop_off} --type expansion-card --size {size} --plain").first
    desk.do(f"board clear {board} --absent all-open --how looked")
    return board


def test_a_mat_is_printed_checked_and_listed(tmp_path: Path) -> None:
    """Paper first, then the ruler; the list shows what it said."""
    desk = Desk(tmp_path)
    printed = desk.do("mat print --paper a4 --out mat.pdf --json").value
    desk.do("mat check 199.6 200.1")
    (mat,) = desk.do("mat list --json").value

    assert (tmp_path / "mat.pdf").read_bytes().startswith(b"%PDF")
    assert printed["serial"] == mat["serial"]
    assert (mat["bar_x_mm"], mat["bar_y_mm"]) == (199.6, 200.1)
    assert mat["serial"] in desk.do("mat list").out


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("mat check 150 200", "100 %"),
        ("mat check 200 200 --mat M9", "there is no mat 'M9'"),
        ("mat print --paper a9", "no size of a mat"),
        ("mat print --colour beige", "no colour of a mat"),
    ],
)
def test_a_mat_that_cannot_be_is_refused(tmp_path: Path, line: str, says: str) -> None:
    """A ruler that is far off, a mat that is not there, a paper or colour that is none."""
    desk = Desk(tmp_path)
    desk.do("mat print --out first.pdf")
    told = _refused(desk.run(line))

    assert says in told


def test_a_board_is_measured_with_no_typed_dimension(tmp_path: Path) -> None:
    """From a photo to a board with outline, holes and interval, ready for the next scan."""
    desk = Desk(tmp_path)
    (tmp_path / "one.jpg").write_bytes(mat_photo())
    drop_off = desk.do("dropoff add --donor Kelpie --contents boards --plain").first
    board = desk.do(f"board add {drop_off} --type network-board --plain").first
    desk.do("mat print")
    found = desk.do(f"measure {board} one.jpg --overlay look.jpg --json").value
    width = max(x for x, _ in found["outline_mm"])
    told = _refused(desk.run(f"scan {board}"))

    assert width == pytest.approx(181.0, abs=2.0)  # the seeded layout is 180.98 mm wide
    assert found["interval_mm"] > 0
    assert found["area_interval_mm2"][0] < found["area_mm2"] < found["area_interval_mm2"][1]
    assert (tmp_path / "look.jpg").read_bytes().startswith(b"\xff\xd8")
    assert "no outline" not in told


def test_a_photo_without_a_mat_is_refused_with_a_mend(tmp_path: Path) -> None:
    """One line says what to do, and the board keeps having no outline."""
    desk = Desk(tmp_path)
    drop_off = desk.do("dropoff add --donor Kelpie --contents boards --plain").first
    board = desk.do(f"board add {drop_off} --type network-board --plain").first
    none = _refused(desk.run(f"measure {board} nothing.jpg"))
    (tmp_path / "text.jpg").write_text("no photo")
    Image.new("RGB", (1600, 1200), (120, 90, 60)).save(tmp_path / "bench.png")
    no_mat = _refused(desk.run(f"measure {board} bench.png"))
    text = _refused(desk.run(f"measure {board} text.jpg"))

    assert "is not there" in none
    assert "salvage mat print" in no_mat
    assert "text.jpg" in text
    assert desk.do(f"board show {board} --json").value["outline"] is None


def test_the_shelf_answers_with_boards_and_places(tmp_path: Path) -> None:
    """Which board, and where on it; the offered command line is accepted as it stands."""
    desk = Desk(tmp_path)
    board = _cleared(desk)
    (row,) = desk.do("fits circle --width 30 --json").value
    one = desk.do(f"fits circle --width 30 --board {board}").out
    lines = [line.strip() for line in one.splitlines() if line.strip().startswith("salvage cut")]
    desk.do(lines[0].removeprefix("salvage ") + " --width 30")

    assert (row["board"], row["verdict"]) == (board, "fit")
    assert "go on it together" in one
    assert desk.do(f"board show {board} --json").value["cut_count"] == 1


def test_no_board_is_said(tmp_path: Path) -> None:
    """An empty answer is told in words, and one board by itself ends with 1."""
    desk = Desk(tmp_path)
    board = _cleared(desk, size="60x40")

    assert "no board on the shelf" in desk.do("fits circle --width 90").err
    assert "does not fit" in _refused(desk.run(f"fits circle --width 90 --board {board}"))
    assert _refused(desk.run(f"fits circle --width 90 --board {board} --plain")).startswith(
        f"{board}\tno"
    )


def test_a_board_is_handed_over_in_three_forms(tmp_path: Path) -> None:
    """Drawing and setup sheet are written; a held board is refused."""
    desk = Desk(tmp_path)
    board = _cleared(desk)
    desk.do(f'reserve {board} {SHAPE} --at 60,40 --for "order 12"')
    for form, start in (("svg", b"<?xml"), ("dxf", b"  0"), ("sheet", b"%PDF")):
        desk.do(f"handover {board} --form {form} --out out.{form}")

        assert (tmp_path / f"out.{form}").read_bytes().startswith(start)
    assert "svg, dxf, sheet" in _refused(desk.run(f"handover {board} --form pdf"))
    assert "front, back" in _refused(desk.run(f"handover {board} --side up"))


def test_after_handing_over_the_reserved_place_is_cut(tmp_path: Path) -> None:
    """The next command cuts the first place that was drawn; letters may be of any case."""
    desk = Desk(tmp_path)
    board = _cleared(desk)
    held = desk.code(f'reserve {board} {SHAPE} --at 60,40 --for "order 12"')
    told = desk.do(f"handover {board} --form SVG --side b")
    desk.do(told.err.strip().removeprefix("next: salvage "))

    assert f"SVG drawing with the back up written: {tmp_path}/{board}-back.svg" in told.out
    assert told.err.endswith(f"--reservation {held}\n")
    assert desk.run(f"handover {board} --form sheet --show-code").code == 2
    assert "nothing is reserved" in _refused(desk.run(f"handover {board} --out b.svg"))
