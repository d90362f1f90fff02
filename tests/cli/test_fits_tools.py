"""What fits with shears, and where the finest area is."""

from __future__ import annotations

from pathlib import Path

from demo_db.pictures import board_photo
from tests.desk import Desk, add_cleared_board


def test_shears_tell_how_many_straight_cuts_give(tmp_path: Path) -> None:
    """Twelve of 40 x 20 mm from 120 x 80 mm, without a kerf between; the offered line cuts."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    line = "fits rectangle --width 40 --height 20 --tool shears"
    one = desk.do(f"{line} --board {board} --json").value
    told = desk.do(f"{line} --board {board} --together").out
    cut = next(row.strip() for row in told.splitlines() if row.strip().startswith("salvage cut"))
    desk.do(cut.removeprefix("salvage "))

    assert (one["verdict"], one["at_least"]) == ("fit", 12)
    assert desk.do(f"{line} --json").value[0]["board"] == board
    assert desk.do(f"board show {board} --json").value["cut_count"] == 1


def test_shears_do_not_cross_what_is_held(tmp_path: Path) -> None:
    """A board on which somebody's place is held is no board for shears."""
    desk = Desk(tmp_path)
    board = add_cleared_board(desk)
    desk.do(f"reserve {board} --shape circle --width 15 --at 60,40 --for a")
    told = desk.run(f"fits rectangle --width 20 --height 10 --tool shears --board {board}")

    assert (told.code, "would cross a place that is held" in told.out) == (1, True)


def test_the_finest_place_is_at_least_as_rich_as_the_usual_one(tmp_path: Path) -> None:
    """With a photo each spot tells its richness, and --finest puts the richest first."""
    desk = Desk(tmp_path)
    bare, board = add_cleared_board(desk), add_cleared_board(desk)
    photo = board_photo(seed=7, width_mm=120, height_mm=80, mask="green", side="front")
    (tmp_path / "front.jpg").write_bytes(photo.jpeg)
    corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in photo.corners_px)
    desk.do(f'photo {board} front.jpg --side front --corners "{corners}"')
    usual, finest = (
        desk.do(f"fits circle --width 25 --board {board} {more} --json").value
        for more in ("", "--finest")
    )
    shelf = desk.do("fits circle --width 25 --finest --json").value

    assert finest["richness"] >= max(spot["richness"] for spot in usual["spots"])
    assert finest["richness"] > 0
    assert [row["board"] for row in shelf] == [board, bare]
    assert shelf[1]["richness"] is None
    assert "a hint" in desk.do(f"fits circle --width 25 --board {board} --finest").out
