"""What is promised to somebody is seen wherever the board is seen."""

from __future__ import annotations

from pathlib import Path

from tests.desk import Desk, add_cleared_board

PLACE = "--shape circle --width 15"


def test_a_board_tells_what_is_held_on_it(tmp_path: Path) -> None:
    """Code, shape, place and for whom; a place that was let go is not told any more."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    held = desk.code(f"reserve {board} {PLACE} --at 30,40 --for 'order 12'")
    gone = desk.code(f"reserve {board} {PLACE} --at 60,40 --for 'order 13'")
    desk.do(f"release {gone}")
    line = f"  reserved {held}: circle at 30 mm, 40 mm, front, for order 12"
    shown, scanned = desk.do(f"board show {board}").out, desk.do(f"scan {board}").out
    codes = [
        [reservation["code"] for reservation in desk.do(f"{words} {board} --json").value[key]]
        for words, key in (("board show", "reservations"), ("scan", "reservations"))
    ]

    assert line in shown.splitlines()
    assert line in scanned.splitlines()
    assert gone not in shown + scanned
    assert codes == [[held], [held]]


def test_many_places_leave_the_map_on_the_screen(tmp_path: Path) -> None:
    """Of more than four the scan tells how many; the board's page tells all."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    for number in range(6):
        desk.do(f"reserve {board} {PLACE} --at {10 + 18 * number},40 --for 'order {number}'")
    scanned = desk.do(f"scan {board}").out

    assert scanned.count("  reserved R") == 4
    assert f"  … and 2 places more; see 'salvage board show {board}'" in scanned
    assert desk.do(f"board show {board}").out.count("  reserved R") == 6
