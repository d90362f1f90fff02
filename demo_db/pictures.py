"""
Photos for the demo: boards on a bench from both sides, and the pieces cut from them on a cloth.

All of it is drawn. The same arguments give the same bytes, and both sides of a board, and each
piece cut from it, show the same board. Real workshops take real photos.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from random import Random
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.photo.square_up import perspective_coefficients
from salvage.records.region import Region, Ring

from .board_plan import HOLE_MM, plan_board
from .board_texture import MASKS, Window, draw_side
from .board_tracks import wire_board
from .scene import (
    PHOTO_PX,
    Corners,
    Place,
    draw_bench,
    draw_linen,
    light_scene,
    see_corners,
)

if TYPE_CHECKING:
    from PIL import Image

_QUALITY = 80

# Laminate seen from its edge, and how much of a board's 1.6 mm a camera above sees of it.
_EDGE_COLOUR = (150, 140, 98)
_EDGE_SEEN_MM = 0.6
_SHADOW_COLOUR = (24, 16, 10)

_CORNER_MM = 1.5
_RIM_MM = 1.0
_SMALLEST_MM = 25.0
_LARGEST_MM = 400.0
_LONGEST_DRAWN_PX = 3000


@dataclass(frozen=True, slots=True)
class BoardPhoto:
    """
    A photo of one side of a board.

    Args:
        jpeg: Its bytes.
        corners_px: Lower left, lower right, upper right and upper left corner of the board, named
            as on its front, in pixels of the photo: what a maker would pick.
    """

    jpeg: bytes
    corners_px: Corners


@dataclass(frozen=True, slots=True)
class BoardLook:
    """
    All that decides what a board looks like.

    Args:
        seed: Any whole number; another seed is another board.
        width_mm: 25 to 400.
        height_mm: 25 to 400.
        mask: Key of :data:`demo_db.board_texture.MASKS`, such as ``green``.
    """

    seed: int
    width_mm: float
    height_mm: float
    mask: str


def board_photo(
    *,
    seed: int,
    width_mm: float,
    height_mm: float,
    mask: str,
    side: str,
    populated: bool = True,
    cuts: tuple[Region, ...] = (),
) -> BoardPhoto:
    """
    A board on the bench, 1600 by 1200 pixels.

    Args:
        seed: See :class:`BoardLook`.
        width_mm: See :class:`BoardLook`.
        height_mm: See :class:`BoardLook`.
        mask: See :class:`BoardLook`.
        side: ``front`` or ``back``.
        populated: Whether the parts are still on.
        cuts: What has been cut out already; the bench shows through.

    Raises:
        BadValue: If a size, the mask or the side is unknown.
    """
    look = BoardLook(seed, width_mm, height_mm, mask)
    _check_look(look, side)
    dice = Random(f"photo {seed} {side} {populated} {len(cuts)}")
    turn = dice.uniform(-4.0, 4.0)
    seen = see_corners(dice, width_mm, height_mm, fill=0.86, turn_degrees=turn)
    board = Region(tuple((round(1000 * x), round(1000 * y)) for x, y in _rounded(look)))
    window = _window_round(board, seen)
    flat = _draw_flat(look, side, window, populated=populated)
    shape = _draw_shape(board, _bores(look), cuts, window)
    lower_left, lower_right, upper_right, upper_left = seen
    if side == "back":
        lower_left, lower_right = lower_right, lower_left
        upper_left, upper_right = upper_right, upper_left
    corners = lower_left, lower_right, upper_right, upper_left
    photo = _lay_down(draw_bench(dice), flat, shape, _frame(window), corners)
    return BoardPhoto(_to_jpeg(light_scene(photo, dice)), corners)


def piece_photo(
    *, board: BoardLook, region: Region, side: str = "front", turn_degrees: float = 0.0
) -> bytes:
    """
    A piece cut from a board, on linen, 1600 by 1200 pixels, as a JPEG.

    Args:
        board: What it was cut from.
        region: Where, in board coordinates.
        side: The side that is up; the back shows the piece mirrored, as it would be.
        turn_degrees: Turns the piece on the cloth, counter-clockwise.

    Raises:
        BadValue: If a size, the mask or the side is unknown.
    """
    _check_look(board, side)
    left, bottom, right, top = (um / 1000 for um in region.bounds_um)
    dice = Random(f"piece {board.seed} {region.to_text()} {side}")
    turn = turn_degrees + dice.uniform(-7.0, 7.0)
    seen = see_corners(dice, right - left, top - bottom, fill=0.78, turn_degrees=turn)
    window = _window_round(region, seen)
    flat = _draw_flat(board, side, window, populated=False)
    shape = _draw_shape(region, [], (), window)
    corners = seen if side == "front" else (seen[1], seen[0], seen[3], seen[2])
    photo = _lay_down(draw_linen(dice), flat, shape, _frame(window), corners)
    return _to_jpeg(light_scene(photo, dice))


def _check_look(look: BoardLook, side: str) -> None:
    if side not in {"front", "back"}:
        raise BadValue(f"'{side}' is not a side of a board", hint="front or back")
    if look.mask not in MASKS:
        raise BadValue(f"'{look.mask}' is not a mask of the demo", hint=", ".join(MASKS))
    for name, size_mm in (("width", look.width_mm), ("height", look.height_mm)):
        if not _SMALLEST_MM <= size_mm <= _LARGEST_MM:
            raise BadValue(
                f"a {name} of {size_mm:g} mm is out of range",
                hint=f"{_SMALLEST_MM:g} up to {_LARGEST_MM:g} mm",
            )


def _window_round(region: Region, seen: Corners) -> Window:
    """The region and a rim, twice as fine as the photo will show it."""
    left, bottom, right, top = (um / 1000 for um in region.bounds_um)
    wide, high = right - left + 2 * _RIM_MM, top - bottom + 2 * _RIM_MM
    fine = 2 * max(
        math.dist(seen[0], seen[1]) / (right - left), math.dist(seen[1], seen[2]) / (top - bottom)
    )
    return Window(
        left - _RIM_MM, top + _RIM_MM, wide, high, min(fine, _LONGEST_DRAWN_PX / max(wide, high))
    )


def _frame(window: Window) -> Corners:
    """The region's corners in pixels of the flat artwork, which is half as fine as its window."""
    rim = _RIM_MM * window.px_per_mm / 2
    right, bottom = (side * window.px_per_mm / 2 - rim for side in (window.wide, window.high))
    return (rim, bottom), (right, bottom), (right, rim), (rim, rim)


def _draw_flat(look: BoardLook, side: str, window: Window, *, populated: bool) -> Image.Image:
    plan = plan_board(look.seed, look.width_mm, look.height_mm)
    wiring = wire_board(look.seed, look.width_mm, look.height_mm)
    drawn = draw_side(plan, wiring, side=side, mask=look.mask, window=window, populated=populated)
    return drawn.reduce(2)


def _rounded(look: BoardLook) -> list[Place]:
    """The board's edge with its corners rounded, in mm."""
    middles = (
        (look.width_mm - _CORNER_MM, look.height_mm - _CORNER_MM, 0),
        (_CORNER_MM, look.height_mm - _CORNER_MM, 90),
        (_CORNER_MM, _CORNER_MM, 180),
        (look.width_mm - _CORNER_MM, _CORNER_MM, 270),
    )
    return [
        (
            x + _CORNER_MM * math.cos(math.radians(start + turn)),
            y + _CORNER_MM * math.sin(math.radians(start + turn)),
        )
        for x, y, start in middles
        for turn in range(0, 91, 15)
    ]


def _bores(look: BoardLook) -> list[Place]:
    return list(plan_board(look.seed, look.width_mm, look.height_mm).holes)


def _draw_shape(
    region: Region, bores: Sequence[Place], cuts: Sequence[Region], window: Window
) -> Image.Image:
    """White where there is board, black where one looks through."""
    from PIL import Image, ImageDraw

    shape = Image.new("L", window.size, 0)
    pen = ImageDraw.Draw(shape)
    pen.polygon(_to_px(region.outer, window), fill=255)
    for ring in (*region.holes, *(cut.outer for cut in cuts)):
        pen.polygon(_to_px(ring, window), fill=0)
    for x, y in bores:
        pen.ellipse(window.box(x, y, HOLE_MM / 2, HOLE_MM / 2), fill=0)
    return shape.reduce(2)


def _to_px(ring: Ring, window: Window) -> list[Place]:
    return [window.place(x / 1000, y / 1000) for x, y in ring]


def _lay_down(
    ground: Image.Image, flat: Image.Image, shape: Image.Image, frame: Corners, corners: Corners
) -> Image.Image:
    """The flat artwork on the ground, with its shadow, its sawn edge and a glint along the rim."""
    from PIL import Image, ImageChops, ImageFilter

    look_up = perspective_coefficients(corners, frame)
    way = Image.Transform.PERSPECTIVE
    seen = flat.transform(PHOTO_PX, way, look_up, resample=Image.Resampling.BICUBIC)
    mask = shape.transform(PHOTO_PX, way, look_up, resample=Image.Resampling.BICUBIC)
    px_per_mm = math.dist(corners[0], corners[1]) / math.dist(frame[0], frame[1])
    px_per_mm *= (frame[0][0] or 1.0) / _RIM_MM
    thick = max(2, round(_EDGE_SEEN_MM * px_per_mm))
    photo = ground.copy()
    shadow = _moved(mask, 2 * thick, 3 * thick).filter(ImageFilter.GaussianBlur(1.8 * thick))
    photo.paste(_SHADOW_COLOUR, (0, 0), shadow.point(lambda level: level * 150 // 255))
    edge = mask
    for step in range(1, thick + 1):
        edge = ImageChops.lighter(edge, _moved(mask, step // 2, step))
    photo.paste(_EDGE_COLOUR, (0, 0), edge)
    photo.paste(seen, (0, 0), mask)
    glint = ImageChops.subtract(mask, _moved(mask, 2, 2))
    photo.paste((255, 255, 250), (0, 0), glint.point(lambda level: level * 60 // 255))
    return photo


def _moved(mask: Image.Image, right: int, down: int) -> Image.Image:
    from PIL import Image

    moved = Image.new("L", mask.size, 0)
    moved.paste(mask, (right, down))
    return moved


def _to_jpeg(photo: Image.Image) -> bytes:
    out = BytesIO()
    photo.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()
