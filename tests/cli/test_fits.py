"""Where a shape fits, told in lines that cut exactly what was offered."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest

from tests.desk import Desk, add_board, add_cleared_board

WISHES = (
    "circle --width 30",
    "oval --width 40 --height '25 mm' --kerf 0 --clearance 3",
    "teardrop --width 1in --kerf 3,5 --either-face",
    "half-moon --width 33.333 --angles 30,75",
)


def offers(told: str) -> list[str]:
    """The command lines that stand in an answer, without the program's name."""
    lines = (line.strip() for line in told.splitlines())
    return [line.removeprefix("salvage ") for line in lines if line.startswith("salvage cut")]


def in_a_copy(desk: Desk, number: int) -> Desk:
    """A desk on a copy of the workshop as it is now."""
    folder = desk.folder / f"copy {number}"
    shutil.copytree(desk.shop, folder / "shop")
    return Desk(folder)


@pytest.mark.parametrize("wish", WISHES)
def test_a_pasted_line_cuts_what_was_offered(tmp_path: Path, wish: str) -> None:
    """Size, kerf, place and face: nothing that was asked for is lost on the way to the router."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    asked = f"fits {wish} --board {board} --most 3"
    record = desk.do(f"{asked} --json").value
    lines = offers(desk.do(asked).out)
    for number, (line, spot) in enumerate(zip(lines, record["spots"], strict=True)):
        found = in_a_copy(desk, number).do(f"{line} --json").value["cut"]
        xs, ys = zip(*found["region"][0], strict=True)
        wide, high = (max(xs) - min(xs)) / 1000, (max(ys) - min(ys)) / 1000

        assert (found["x_mm"], found["y_mm"]) == (spot["x_mm"], spot["y_mm"])
        assert (found["angle_deg"], found["side"]) == (spot["angle_deg"], spot["side"])
        assert found["kerf_mm"] == ({"oval": 0, "teardrop": 3.5}.get(wish.partition(" ")[0], 2.0))
        # pi a b / 4, turned or not (geometry of the ellipse); the others by their box.
        if wish.startswith("oval"):
            assert found["area_mm2"] == pytest.approx(math.pi * 40 * 25 / 4, rel=0.002)
        if wish.startswith("circle"):
            assert (wide, high) == pytest.approx((30, 30), abs=0.05)
    assert len(lines) > 0


@pytest.mark.parametrize("wish", WISHES)
def test_the_next_command_asks_the_same(tmp_path: Path, wish: str) -> None:
    """What is pasted after the shelf's answer gives places for the same wish."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    (line,) = (row for row in desk.do(f"fits {wish}").err.splitlines() if row.startswith("next: "))
    told = desk.do(f"{line.removeprefix('next: salvage ')} --json").value

    assert told["spots"] == desk.do(f"fits {wish} --board {board} --json").value["spots"]


def test_the_workshop_that_was_named_is_named_again(tmp_path: Path) -> None:
    """Who names the workshop with --shop finds it in every line to paste."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    desk.shop.rename(tmp_path / "other shop")
    told = desk.do(f"fits circle --width 30 --board {board} --shop 'other shop'").out

    desk.do(f"{offers(told)[0]} --dry-run")
    assert "--shop 'other shop'" in desk.do("fits circle --width 30 --shop 'other shop'").err


def test_places_for_one_piece_are_alternatives(tmp_path: Path) -> None:
    """The list says that it is a choice, and how to get places that go side by side."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    asked = f"fits teardrop --width 20 --board {board}"
    lines = desk.do(asked).out.splitlines()
    count = desk.do(f"{asked} --json").value["at_least"]

    assert lines[1] == "one of:"
    assert lines[-1] == f"at least {count} go on it together; --together lists their places"


def test_places_together_are_all_cut(tmp_path: Path) -> None:
    """With --together every line can be pasted, one after the other."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    asked = f"fits circle --width 30 --kerf 1 --board {board} --together"
    told = desk.do(asked).out
    count = desk.do(f"{asked} --json").value["at_least"]
    plain = desk.do(f"{asked} --plain").out.splitlines()
    for line in offers(told):
        desk.do(line)

    assert f"all {count}, beside one another:" in told
    assert count >= 4  # two rows of two leave room to spare on 120 x 80 mm
    assert (len(offers(told)), len(plain)) == (count, count)
    assert desk.do(f"board show {board} --json").value["cut_count"] == count


def test_ranges_are_told_in_plain_numbers(tmp_path: Path) -> None:
    """What may be 0 says so, in fits and in cut."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    both = desk.run("fits circle --width 30 --kerf -1 --clearance 90").err
    cut = desk.run(f"cut {board} --shape circle --width 30 --at 60,40 --kerf -1").err

    assert "--kerf: -1 is out of range; 0 or more, up to 20 mm" in both
    assert "--clearance: 90 is out of range; 0 or more, up to 50 mm" in both
    assert cut == "salvage: --kerf: -1 is out of range\n  0 or more, up to 50 mm\n"
    desk.do(f"cut {board} --shape circle --width 30 --at 60,40 --kerf 0 --dry-run")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("--together", "--board"),
        ("--board {board} --cleared --type backplane", "leave --cleared, --type out"),
    ],
)
def test_options_that_would_mean_nothing_are_refused(tmp_path: Path, more: str, says: str) -> None:
    """A filter beside a named board would be passed over, so it is asked about."""
    desk = Desk(tmp_path)
    board = add_board(desk)
    told = desk.run(f"fits circle --width 30 {more.format(board=board)}")

    assert (told.code, told.out) == (2, "")
    assert says in told.err
