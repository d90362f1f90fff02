from __future__ import annotations

import pytest
from PIL import ImageChops, ImageStat

from demo_db.board_plan import plan_board
from demo_db.board_texture import MASKS, Window, draw_side
from demo_db.board_tracks import wire_board

_TINY = (4, 30.0, 26.0)
_LARGE = (1, 160.0, 100.0)


@pytest.mark.parametrize("mask", sorted(MASKS))
def test_every_mask_lets_tracks_and_letters_stand_out(mask: str) -> None:
    """On each colour of board a maker can see the tracks."""
    colours = MASKS[mask]

    assert max(abs(a - b) for a, b in zip(colours.copper, colours.track, strict=True)) >= 12
    assert max(abs(a - b) for a, b in zip(colours.copper, colours.print, strict=True)) >= 60


@pytest.mark.parametrize("board", [_TINY, _LARGE])
@pytest.mark.parametrize("px_per_mm", [1.5, 8.0])
def test_a_board_can_be_drawn_at_any_size(
    board: tuple[int, float, float], px_per_mm: float
) -> None:
    """From a thumbnail to a close look, with or without room for the name."""
    window = Window(0.0, board[2], board[1], board[2], px_per_mm)

    picture = draw_side(
        plan_board(*board),
        wire_board(*board),
        side="front",
        mask="green",
        window=window,
        populated=True,
    )

    assert picture.size == (round(board[1] * px_per_mm), round(board[2] * px_per_mm))
    assert ImageStat.Stat(picture).stddev[1] > 10


def test_a_close_look_shows_the_same_place_as_the_whole() -> None:
    """A piece's photo and its board's photo show the same tracks."""
    plan, wiring = plan_board(*_LARGE), wire_board(*_LARGE)
    whole = Window(0.0, 100.0, 160.0, 100.0, 10.0)
    close = Window(40.0, 70.0, 50.0, 40.0, 10.0)

    far, near = (
        draw_side(plan, wiring, side="front", mask="blue", window=window, populated=False)
        for window in (whole, close)
    )

    difference = ImageChops.difference(far.crop((400, 300, 900, 700)), near)
    assert max(ImageStat.Stat(difference).mean) < 1.0


def test_the_name_is_left_out_where_there_is_no_room() -> None:
    """A board of the size of a stamp has no place for a name."""
    assert plan_board(*_TINY).name_at is None
    assert plan_board(*_LARGE).name_at is not None
