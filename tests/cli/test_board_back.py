"""The back of a board on the command line: kept, asked, or refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk
from tests.work.test_back_side import ALIKE, PLAIN, back_photo, front_photo


def desk_with(folder: Path, seed: int, *, terminal: bool = False) -> tuple[Desk, str]:
    """A desk where the front of a board is measured, its back waits as a file."""
    desk = Desk(folder, terminal=terminal)
    (folder / "front.jpg").write_bytes(front_photo(seed))
    (folder / "back.jpg").write_bytes(back_photo(seed))
    drop_off = desk.do("dropoff add --donor 'Tide Radio' --contents boards --plain").first
    line = f"board add {drop_off} --type network-board --thickness 1.6 --plain"
    board = desk.do(line).first
    desk.do(f"measure {board} front.jpg")
    return desk, board


@pytest.fixture
def alike(tmp_path: Path) -> tuple[Desk, str]:
    """A board that looks alike after half a turn."""
    return desk_with(tmp_path, ALIKE)


def test_the_residual_and_the_next_step_are_told(tmp_path: Path) -> None:
    """How well both sides lie on one another stands in the answer; the map of the back follows."""
    desk, board = desk_with(tmp_path, PLAIN)
    told = desk.do(f"board back {board} back.jpg")
    record = desk.do(f"board back {board} back.jpg --dry-run --json").value
    desk.do(f"board map {board} --side back --out map.png")

    assert "edges within 0." in told.out
    assert "8 of 8 holes agree" in told.out
    assert f"board map {board} --side back" in told.err
    assert record["residual_mm"] < 0.15
    assert record["holes_matched"] == 8
    assert (desk.folder / "map.png").stat().st_size > 10_000


def test_without_a_person_the_question_is_an_error(alike: tuple[Desk, str]) -> None:
    """A script is told both ways and where the pictures lie, and nothing is kept."""
    desk, board = alike
    before = desk.do(f"board show {board} --json").value["photos"]
    told = desk.run(f"board back {board} back.jpg --yes --json")
    ways = told.value["ways"]
    after = desk.do(f"board show {board} --json").value["photos"]
    chosen = desk.do(f"board back {board} back.jpg --turn {ways[1]['turn_deg']} --json").value

    assert told.code == 1
    assert "fits in 2 ways" in told.err
    assert f"--turn {ways[0]['turn_deg']}" in told.err
    assert [Path(way["picture"]).is_file() for way in ways] == [True, True]
    assert after == before
    assert chosen["turn_deg"] == ways[1]["turn_deg"]


def test_a_person_is_asked(tmp_path: Path) -> None:
    """The maker types the number under the picture that is right; anything else is asked again."""
    desk, board = desk_with(tmp_path, ALIKE, terminal=True)
    told = desk.run(f"board back {board} back.jpg", typed="45\n90\n")

    assert told.code == 0
    assert "Which is it: 90 or 270" in told.err
    assert "'45' is none of them" in told.err
    assert "back laid on the front" in told.out


def test_a_photo_of_the_front_is_refused_in_json_too(tmp_path: Path) -> None:
    """A wrong photo gives one clear line, and for a program the same as JSON."""
    desk, board = desk_with(tmp_path, PLAIN)
    told = desk.run(f"board back {board} front.jpg --json")

    assert told.code == 1
    assert "holes" in told.value["error"] or "not sides" in told.value["error"]
    assert "Traceback" not in told.err
