"""
A photo taken at a slant, squared up to the board's own frame by four picked corners.

Honest limits, measured on synthetic photos with known truth: four clicks on the corners of a board
of hand size come out at about 1 mm and 2 % of area, because the lens bends what this takes for
straight. Good enough to see which part is left; not good enough to steer a router by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, TypeAlias

from salvage.errors import BadValue
from salvage.photo.upright import JPEG_QUALITY, upright_image

if TYPE_CHECKING:
    from PIL import Image

PixelPoint: TypeAlias = tuple[float, float]
"""A place in the upright photo: x to the right, y downwards, the upper left corner at (0, 0)."""

MOST_SQUARED_PIXELS = 40_000_000
"""Pixels of the largest squared-up picture: a board of 400 by 250 mm at 20 pixels per mm."""

_CORNER_NAMES = ("lower left", "lower right", "upper right", "upper left")

# Two edges that meet at less than about 3 degrees, or at more than 177, are a picking mistake.
_LEAST_SINE = 0.05
_SHORTEST_EDGE_PX = 8.0

# A click on the very rim may be rounded outwards by half a pixel.
_RIM_PX = 0.5

_LONGEST_PHOTO_PX = 65_535


def check_corners(
    corners_px: Sequence[PixelPoint], *, photo_px: tuple[int, int], side: str = "front"
) -> None:
    """
    Refuse corners that cannot be those of a board.

    Args:
        corners_px: Lower left, lower right, upper right and upper left corner of the board's
            bounding box as they are named when its front is looked at.
        photo_px: Width and height of the upright photo.
        side: ``front`` or ``back``, whichever the photo shows. Seen from the back, the lower left
            corner stands at the lower right of the photo.

    Raises:
        BadValue: If there are not four, one lies outside the photo, two are too near, three are
            nearly on one line, edges cross, or the order is that of the other side.

    >>> check_corners([(10, 90), (90, 90), (90, 10), (10, 10)], photo_px=(100, 100))
    """
    if side not in {"front", "back"}:
        raise BadValue(f"'{side}' is not a side of a board", hint="front or back")
    if len(corners_px) != 4:
        raise BadValue(
            f"{len(corners_px)} corners were picked", hint="pick four: " + ", ".join(_CORNER_NAMES)
        )
    for name, (x, y) in zip(_CORNER_NAMES, corners_px, strict=True):
        inside = -_RIM_PX <= x <= photo_px[0] + _RIM_PX and -_RIM_PX <= y <= photo_px[1] + _RIM_PX
        if not inside:
            raise BadValue(
                f"the {name} corner ({x:g}, {y:g}) lies outside the photo",
                hint=f"the photo is {photo_px[0]} by {photo_px[1]} pixels",
            )
    _check_turns(corners_px, front=side == "front")


def _check_turns(corners_px: Sequence[PixelPoint], *, front: bool) -> None:
    sines = []
    for place, name in enumerate(_CORNER_NAMES):
        (ax, ay), (bx, by), (cx, cy) = (corners_px[(place + step) % 4] for step in (-1, 0, 1))
        into, out = math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by)
        if min(into, out) < _SHORTEST_EDGE_PX:
            raise BadValue(
                f"the {name} corner is nearly the same place as its neighbour",
                hint="pick each corner of the board once",
            )
        # Pixels run downwards, so a front's corners turn with a negative sign.
        sines.append(-((bx - ax) * (cy - by) - (by - ay) * (cx - bx)) / (into * out))
        if abs(sines[-1]) < _LEAST_SINE:
            raise BadValue(
                f"the {name} corner lies nearly on a line with its neighbours",
                hint="pick the four corners of the board",
            )
    if min(sines) < 0 < max(sines):
        raise BadValue("the edges between the corners cross", hint=_order_hint())
    if (sines[0] > 0) != front:
        raise BadValue(
            f"the corners run the wrong way round for the {'front' if front else 'back'}",
            hint=_order_hint(),
        )


def _order_hint() -> str:
    return "the order, named as on the board's front, is " + ", ".join(_CORNER_NAMES)


def square_up(
    data: bytes,
    *,
    corners_px: Sequence[PixelPoint],
    width_mm: float,
    height_mm: float,
    px_per_mm: float,
    side: str = "front",
) -> bytes:
    """
    The board out of a photo, in board coordinates, as a PNG.

    The upper left pixel of the result is the upper left corner of the board's bounding box as seen
    on the front. A photo of the back therefore comes out as if looked at through the board, so that
    both sides lie on one another; mirror it to show it.

    Args:
        data: Bytes of the photo.
        corners_px: See :func:`check_corners`; in pixels of the upright photo.
        width_mm: Width of the board's bounding box.
        height_mm: Height of the board's bounding box.
        px_per_mm: Pixels of the result for each millimetre.
        side: ``front`` or ``back``.

    Raises:
        BadFile: If the photo cannot be used.
        BadValue: If the corners or sizes make no sense.
    """
    from PIL import Image

    size = _squared_size(width_mm, height_mm, px_per_mm)
    photo = upright_image(data, longest_px=_LONGEST_PHOTO_PX)
    check_corners(corners_px, photo_px=photo.size, side=side)
    photo, corners = _shrink_to_need(photo, corners_px, size)
    width, height = size
    frame = ((0.0, height), (width, height), (width, 0.0), (0.0, 0.0))
    squared = photo.transform(
        size,
        Image.Transform.PERSPECTIVE,
        perspective_coefficients(frame, corners),
        resample=Image.Resampling.BICUBIC,
    )
    out = BytesIO()
    squared.save(out, "PNG")
    return out.getvalue()


def square_up_jpeg(
    data: bytes,
    *,
    corners_px: Sequence[PixelPoint],
    photo_px: tuple[int, int],
    size_mm: tuple[float, float],
    longest_px: int,
) -> bytes:
    """
    The board's front out of a photo, small and quick, as a JPEG to print beneath a map.

    Args:
        data: Bytes of the photo.
        corners_px: As for :func:`square_up`, and checked when they were picked.
        photo_px: Width and height of the upright photo that they were picked in.
        size_mm: Width and height of the board's bounding box.
        longest_px: Longer side of the result.

    Raises:
        BadFile: If the photo cannot be used.
    """
    from PIL import Image

    scale = longest_px / max(size_mm)
    size = _squared_size(*size_mm, scale)
    # Twice as fine as the result is fine enough, and spares most of the decoding.
    photo = upright_image(data, longest_px=2 * longest_px)
    shrunk = photo.size[0] / photo_px[0]
    corners = [(x * shrunk, y * shrunk) for x, y in corners_px]
    width, height = size
    frame = ((0.0, height), (width, height), (width, 0.0), (0.0, 0.0))
    squared = photo.transform(
        size,
        Image.Transform.PERSPECTIVE,
        perspective_coefficients(frame, corners),
        resample=Image.Resampling.BICUBIC,
    )
    out = BytesIO()
    squared.save(out, "JPEG", quality=JPEG_QUALITY)
    return out.getvalue()


def _squared_size(width_mm: float, height_mm: float, px_per_mm: float) -> tuple[int, int]:
    for name, value in (("width", width_mm), ("height", height_mm), ("scale", px_per_mm)):
        if not (math.isfinite(value) and value > 0):
            raise BadValue(f"the {name} {value:g} is out of range", hint="more than 0")
    pixels = width_mm * height_mm * px_per_mm**2
    if pixels > MOST_SQUARED_PIXELS:
        raise BadValue(
            f"{px_per_mm:g} pixels per mm make {pixels / 1e6:.0f} million pixels",
            hint=f"at most {MOST_SQUARED_PIXELS // 1_000_000} million; ask for fewer per mm",
        )
    return max(1, round(width_mm * px_per_mm)), max(1, round(height_mm * px_per_mm))


def _shrink_to_need(
    photo: Image.Image, corners_px: Sequence[PixelPoint], size: tuple[int, int]
) -> tuple[Image.Image, list[PixelPoint]]:
    # A photo much finer than the result would alias; average whole blocks of pixels first.
    edges = [math.dist(corners_px[i], corners_px[(i + 1) % 4]) for i in range(4)]
    factor = int(min(edges[i] / size[i % 2] for i in range(4)))
    if factor < 2:
        return photo, list(corners_px)
    return photo.reduce(factor), [(x / factor, y / factor) for x, y in corners_px]


def perspective_coefficients(
    seen_from: Sequence[PixelPoint], taken_at: Sequence[PixelPoint]
) -> tuple[float, ...]:
    """
    The eight numbers a to h that carry each point of one picture to its place in another.

    ``x' = (a x + b y + c) / (g x + h y + 1)`` and ``y' = (d x + e y + f) / (g x + h y + 1)``, the
    way round that Pillow asks for: from the picture to be made to the picture taken from.

    Args:
        seen_from: Four points of the picture to be made.
        taken_at: Where they lie in the picture taken from, in the same order.

    Raises:
        BadValue: If three of the points lie on one line.
    """
    rows = []
    for (x, y), (u, v) in zip(seen_from, taken_at, strict=True):
        rows.append([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u])
        rows.append([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v])
    return tuple(_solve(rows))


def _solve(rows: list[list[float]]) -> list[float]:
    """Unknowns of linear equations, by Gaussian elimination with partial pivoting."""
    count = len(rows)
    for column in range(count):
        pivot = max(range(column, count), key=lambda row: abs(rows[row][column]))
        if abs(rows[pivot][column]) < 1e-9:
            raise BadValue("three of the corners lie on one line", hint="pick them once more")
        rows[column], rows[pivot] = rows[pivot], rows[column]
        for row in range(column + 1, count):
            share = rows[row][column] / rows[column][column]
            rows[row] = [
                there - share * here for there, here in zip(rows[row], rows[column], strict=True)
            ]
    answer = [0.0] * count
    for row in reversed(range(count)):
        known = sum(rows[row][other] * answer[other] for other in range(row + 1, count))
        answer[row] = (rows[row][count] - known) / rows[row][row]
    return answer
