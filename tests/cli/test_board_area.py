"""The ledger of a board's area from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_cleared_board


def test_the_ledger_adds_up_and_tells_what_each_part_is_good_for(tmp_path: Path) -> None:
    """Layers sum to the outline; circle, rectangle and width of the usable rest."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    desk.do(f"cut {board} --shape circle --width 30 --at 30,40")
    value = desk.do(f"board area {board} --json").value
    (part,) = value["fragments"]
    told = desk.do(f"board area {board}").out

    assert sum(value["layers_mm2"].values()) == pytest.approx(9600, abs=0.01)
    assert abs(value["difference_mm2"]) < 1e-6
    assert part["circle_mm"] <= 80
    assert part["rectangle_mm"][1] == pytest.approx(77, abs=3)  # corners are too small
    assert part["rectangle_at_mm"][0] > 60
    assert "part 1:" in told
    assert desk.do(f"board area {board} --plain").out.split("\t")[:3] == [board, "front", "9600.0"]


def test_from_the_back_places_are_mirrored(tmp_path: Path) -> None:
    """The same areas, x counted from the other edge."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    desk.do(f"cut {board} --shape circle --width 30 --at 30,40")
    front, back = (
        desk.do(f"board area {board} --side {side} --json").value for side in ("front", "back")
    )
    x_front, x_back = (v["fragments"][0]["rectangle_at_mm"][0] for v in (front, back))

    assert x_back == pytest.approx(120 - x_front, abs=0.01)
    assert front["layers_mm2"] == back["layers_mm2"]
    assert desk.run(f"board area {board} --side left").code == 1
