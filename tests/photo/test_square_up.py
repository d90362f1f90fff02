from __future__ import annotations

import math
from io import BytesIO

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from salvage.errors import BadFile, BadValue
from salvage.photo.square_up import check_corners, perspective_coefficients, square_up

Points = list[tuple[float, float]]

_PHOTO = (1600, 1200)
_CORNERS: Points = [(210.0, 1010.0), (1390.0, 1080.0), (1280.0, 190.0), (330.0, 150.0)]
_FOUR: Points = [(100, 900), (1500, 900), (1500, 100), (100, 100)]


def _camera(frame: Points, corners: Points) -> np.ndarray:
    """The 3 by 3 matrix of a pinhole camera, solved by numpy as an outside reference."""
    rows, right = [], []
    for (x, y), (u, v) in zip(frame, corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    answer = np.linalg.solve(np.array(rows, float), np.array(right, float))
    return np.append(answer, 1.0).reshape(3, 3)


def _photo_of_dots(dots_mm: Points, size_mm: tuple[float, float], corners: Points) -> bytes:
    """A photo of black dots on white board, each dot drawn where the camera sees it."""
    width, height = size_mm
    camera = _camera([(0, 0), (width, 0), (width, height), (0, height)], corners)
    fine = 4
    image = Image.new("L", (_PHOTO[0] * fine, _PHOTO[1] * fine), 90)
    pen = ImageDraw.Draw(image)
    pen.polygon([(x * fine, y * fine) for x, y in corners], fill=255)
    for x, y in dots_mm:
        rim = [
            (x + 1.2 * math.cos(turn), y + 1.2 * math.sin(turn))
            for turn in np.linspace(0, 2 * math.pi, 40)
        ]
        seen = [camera @ (a, b, 1.0) for a, b in rim]
        pen.polygon([(p[0] / p[2] * fine, p[1] / p[2] * fine) for p in seen], fill=0)
    out = BytesIO()
    image.reduce(fine).save(out, "PNG")
    return out.getvalue()


def _found_dot(squared: np.ndarray, x: float, y: float) -> tuple[float, float]:
    """The centre of darkness near a place, in pixels."""
    left, top, reach = round(x) - 14, round(y) - 14, 28
    dark = 255.0 - squared[top : top + reach, left : left + reach]
    dark[dark < 60] = 0
    ys, xs = np.mgrid[top : top + reach, left : left + reach] + 0.5
    return float((xs * dark).sum() / dark.sum()), float((ys * dark).sum() / dark.sum())


@pytest.mark.parametrize("px_per_mm", [2.0, 3.0, 5.0, 8.0])
def test_known_dots_come_out_at_their_places(px_per_mm: float) -> None:
    """Dots at known millimetres lie within one pixel of where the squared-up picture has them."""
    width, height = 160.0, 100.0
    dots: Points = [(x, y) for x in (12.0, 50.0, 90.0, 148.0) for y in (12.0, 47.0, 88.0)]
    photo = _photo_of_dots(dots, (width, height), _CORNERS)

    png = square_up(
        photo, corners_px=_CORNERS, width_mm=width, height_mm=height, px_per_mm=px_per_mm
    )

    squared = np.asarray(Image.open(BytesIO(png)).convert("L"), float)
    worst = max(
        math.dist(
            _found_dot(squared, x * px_per_mm, (height - y) * px_per_mm),
            (x * px_per_mm, (height - y) * px_per_mm),
        )
        for x, y in dots
    )
    assert squared.shape == (round(height * px_per_mm), round(width * px_per_mm))
    assert worst <= 1.0


def test_the_back_comes_out_in_the_fronts_frame() -> None:
    """Both sides of a board lie on one another, so that a hole is at one place in both."""
    width, height = 160.0, 100.0
    mirrored: Points = [_CORNERS[1], _CORNERS[0], _CORNERS[3], _CORNERS[2]]
    photo = _photo_of_dots([(20.0, 15.0)], (width, height), mirrored)

    png = square_up(
        photo, corners_px=mirrored, width_mm=width, height_mm=height, px_per_mm=5, side="back"
    )

    squared = np.asarray(Image.open(BytesIO(png)).convert("L"), float)
    assert math.dist(_found_dot(squared, 100, 425), (100, 425)) <= 1.0


@given(
    shifts=st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=4, max_size=4),
)
def test_the_eight_numbers_are_those_of_a_reference_solver(
    shifts: list[tuple[float, float]],
) -> None:
    """Our elimination and numpy's agree for every slant of a camera."""
    frame: Points = [(0, 500), (800, 500), (800, 0), (0, 0)]
    corners = [(x + dx, y + dy) for (x, y), (dx, dy) in zip(_FOUR, shifts, strict=True)]

    ours = perspective_coefficients(frame, corners)

    assert np.allclose(ours, _camera(frame, corners).flatten()[:8], rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (_FOUR[:3], "3 corners"),
        ([(100, 900), (1500, 900), (1500, 100), (1700, 100)], "upper left corner .* outside"),
        ([(100, 900), (1500, 900), (1500, 100), (math.nan, 100)], "outside"),
        ([(100, 900), (104, 900), (1500, 100), (100, 100)], "nearly the same place"),
        ([(100, 900), (800, 900), (1500, 900), (100, 100)], "lower right .* on a line"),
        ([(100, 900), (1500, 100), (1500, 900), (100, 100)], "cross"),
        ([(100, 900), (1500, 900), (300, 700), (100, 100)], "cross"),
        ([(1500, 900), (100, 900), (100, 100), (1500, 100)], "wrong way round for the front"),
    ],
)
def test_corners_that_cannot_be_a_boards_are_refused(corners: Points, words: str) -> None:
    """A slip while picking is told at once, with the name of the corner."""
    with pytest.raises(BadValue, match=words):
        check_corners(corners, photo_px=_PHOTO)


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_a_board_may_lie_any_way_up_in_the_photo(turn: int) -> None:
    """A photo with the board upside down is as good as any."""
    turned = _FOUR[turn:] + _FOUR[:turn]

    check_corners(turned, photo_px=_PHOTO)
    with pytest.raises(BadValue, match="wrong way round for the back"):
        check_corners(turned, photo_px=_PHOTO, side="back")


def test_an_unknown_side_is_refused() -> None:
    """A board has two sides."""
    with pytest.raises(BadValue, match="front or back"):
        check_corners(_FOUR, photo_px=_PHOTO, side="top")


@pytest.mark.parametrize(
    ("sizes", "words"),
    [
        ({"width_mm": 0.0}, "width 0"),
        ({"height_mm": math.inf}, "height inf"),
        ({"px_per_mm": -1.0}, "scale -1"),
        ({"px_per_mm": 200.0}, "million pixels"),
    ],
)
def test_senseless_sizes_are_refused(sizes: dict[str, float], words: str) -> None:
    """A picture of a board has a size that a laptop can hold."""
    asked = {"width_mm": 160.0, "height_mm": 100.0, "px_per_mm": 5.0} | sizes

    with pytest.raises(BadValue, match=words):
        square_up(
            b"",
            corners_px=_FOUR,
            width_mm=asked["width_mm"],
            height_mm=asked["height_mm"],
            px_per_mm=asked["px_per_mm"],
        )


def test_what_is_no_photo_is_refused() -> None:
    """Squaring up trusts nothing that intake would not."""
    with pytest.raises(BadFile, match="empty"):
        square_up(b"", corners_px=_FOUR, width_mm=160, height_mm=100, px_per_mm=5)


def test_corners_on_one_line_have_no_perspective() -> None:
    """Three corners on a line leave the camera undecided."""
    with pytest.raises(BadValue, match="on one line"):
        perspective_coefficients([(0, 0), (1, 0), (2, 0), (3, 0)], _FOUR)
