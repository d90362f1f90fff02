"""The hint where traces run densest, on the command line."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from tests.desk import Desk
from tests.work.test_richness import HIGH, SCALE, WIDE, hatched


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with pictures of both sides of a board."""
    (tmp_path / "front.png").write_bytes(hatched((50, 10, 85, 40)))
    (tmp_path / "back.png").write_bytes(hatched((5, 5, 35, 45), mirrored=True))
    return Desk(tmp_path)


def board_of(desk: Desk) -> str:
    """A measured board with both sides photographed."""
    drop_off = desk.do("dropoff add --donor 'Tide Radio' --contents boards --plain").first
    size = f"{WIDE}x{HIGH}"
    board = desk.do(f"board add {drop_off} --type network-board --size {size} --plain").first
    right, low = WIDE * SCALE, HIGH * SCALE
    desk.do(f"photo {board} front.png --corners '0,{low} {right},{low} {right},0 0,0'")
    desk.do(f"photo {board} back.png --side back --corners '{right},{low} 0,{low} 0,0 {right},0'")
    return board


def test_the_best_place_is_told_with_its_caution(desk: Desk) -> None:
    """Three places in mm at most, their score, and that it is a hint; then what to do next."""
    board = board_of(desk)
    told = desk.do(f"board richness {board} --out rich.png")
    record = desk.do(f"board richness {board} --json").value
    best = record["places"][0]

    assert "hint, no measurement" in told.out
    assert f"round {best['x_mm']:g}, {best['y_mm']:g} mm" in told.out
    assert "reserve" in told.err
    assert 55 < best["x_mm"] < 80
    assert best["richer_than_percent"] > 90
    with Image.open(BytesIO((desk.folder / "rich.png").read_bytes())) as picture:
        assert picture.width == WIDE * SCALE
        assert picture.height > HIGH * SCALE


def test_the_back_has_a_map_of_its_own(desk: Desk) -> None:
    """Places on the back are in board coordinates, as everything is."""
    record = desk.do(f"board richness {board_of(desk)} --side back --json").value

    assert record["side"] == "back"
    assert record["places"][0]["x_mm"] < 30


def test_without_a_photo_it_is_said_what_to_do(desk: Desk) -> None:
    """One line says what is missing, one how to mend it; nothing is written."""
    drop_off = desk.do("dropoff add --donor 'Tide Radio' --contents boards --plain").first
    board = desk.do(f"board add {drop_off} --type network-board --size 90x50 --plain").first
    bare = desk.do(f"board add {drop_off} --type network-board --plain").first
    none, unmeasured = (desk.run(f"board richness {code} --out r.png") for code in (board, bare))

    assert none.code == unmeasured.code == 1
    assert "no photo of its front whose corners are known" in none.err
    assert f"salvage measure {board}" in none.err
    assert "no outline yet" in unmeasured.err
    assert not (desk.folder / "r.png").exists()


def test_a_side_that_no_board_has_is_told(desk: Desk) -> None:
    """Only front and back are sides."""
    assert "front" in desk.run(f"board richness {board_of(desk)} --side left").err


def test_the_boards_own_screens_tell_the_richest_place(desk: Desk) -> None:
    """Shown and scanned, a board says where traces run densest; one without a photo does not."""
    board = board_of(desk)
    shown, scanned = desk.do(f"board show {board}"), desk.run(f"scan {board}")
    other = desk.do(
        "board add {} --type modem --size 60x40 --plain".format(
            desk.do("dropoff list --plain").first
        )
    ).first

    assert "densest traces round" in shown.out
    assert "densest traces round" in scanned.out
    assert "densest traces" not in desk.do(f"board show {other}").out
