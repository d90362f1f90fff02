"""``salvage alert``: one line at the keyboard holds every board of a kind."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_board, cut_piece

RAISE = 'alert raise clock-battery --type expansion-card --reason "leaks" --source "bulletin 7"'


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with a new workshop."""
    return Desk(tmp_path)


def test_one_line_holds_every_board_and_names_what_was_cut(desk: Desk) -> None:
    """The maker reads which boards are held, which are cut, and how to call pieces back."""
    piece = cut_piece(desk)
    board = desk.do("board list --plain").first
    told = desk.do(RAISE)

    assert "1 board of 1 held until looked over" in told.out
    assert f"CUT ALREADY, {piece} rough" in told.out
    assert f"salvage recall open {board} --reason" in told.err
    assert desk.run(f"cut {board} --shape circle --width 20 --at 90,40").code == 1
    assert "bulletin 7" in desk.do(f"board clear {board}").out


def test_a_dry_run_shows_what_would_be_held(desk: Desk) -> None:
    """Nobody wants to hold fifty boards to see whether it would be fifty."""
    cut_piece(desk)
    board = desk.do("board list --plain").first
    told = desk.do(f"{RAISE} --dry-run")

    assert board in told.out
    assert desk.do("board list --state cleared --plain").first == board
    assert "no alert was ever raised" in desk.do("alert list").err


def test_an_alert_is_listed_shown_and_lifted(desk: Desk) -> None:
    """By the end of its id, in each form."""
    board = add_board(desk)
    alert = desk.code(RAISE)
    shown = desk.do(f"alert show {alert} --json").value
    desk.do(f'alert lift {alert} --reason "withdrawn"')
    (listed,) = desk.do("alert list --json").value

    assert (shown["held_count"], shown["lifted"]) == (1, "")
    assert [one["code"] for one in shown["boards"]] == [board]
    assert listed["lifted"] == "withdrawn"
    assert f"{alert}  clock-battery on expansion card: leaks" in desk.do(f"alert show {alert}").out


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("alert raise clock-batery --maker A --reason x --source y", "nearest: clock-battery"),
        ("alert raise toner --maker A --source y", "--reason"),
        ("alert raise clock-battery --maker A --reason x", "--source"),
        ("alert raise clock-battery --type x --reason x --source y", "not a board type"),
        ("alert raise clock-battery --to 2015 --reason x --source y", "can be the year 2015"),
        ("alert lift ffffffff --reason x", "names 0 alerts"),
    ],
)
def test_a_bad_line_is_refused_in_one(desk: Desk, line: str, says: str) -> None:
    """What is wrong, where, and the mend."""
    add_board(desk)
    told = desk.run(line)

    assert told.code == 1
    assert says in told.err
    assert "Traceback" not in told.err
