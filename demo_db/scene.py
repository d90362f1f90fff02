"""
Where the demo's photos are taken: a wooden bench, a linen cloth, a window to the upper left.
"""

from __future__ import annotations

import math
from random import Random
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from PIL import Image

Place: TypeAlias = tuple[float, float]
"""A place in pixels of a photo: x to the right, y downwards."""

Corners: TypeAlias = tuple[Place, Place, Place, Place]
"""Lower left, lower right, upper right and upper left corner."""

PHOTO_PX = (1600, 1200)
"""Width and height of every photo."""

# Distance of the camera in widths of what is photographed: a phone held over the bench.
_CAMERA_AWAY = 2.6


def see_corners(
    dice: Random, wide: float, high: float, *, fill: float, turn_degrees: float
) -> Corners:
    """
    Where a camera held not quite straight sees the corners of a board lying on the bench.

    Args:
        dice: Decides how crooked.
        wide: Of the board; any unit.
        high: Of the board; the same unit.
        fill: Share of the photo that the board takes along its tighter direction.
        turn_degrees: How far the board is turned on the bench, counter-clockwise.

    Returns:
        Lower left, lower right, upper right and upper left corner as seen in the photo.
    """
    turn = math.radians(turn_degrees)
    tilt = math.radians(dice.uniform(6.0, 13.0)) * dice.choice((-1, 1, 1))
    away = _CAMERA_AWAY * max(wide, high)
    seen: list[Place] = []
    for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        flat = complex(x * wide / 2, y * high / 2) * complex(math.cos(turn), math.sin(turn))
        depth = away + flat.imag * math.sin(tilt)
        seen.append((flat.real / depth, -flat.imag * math.cos(tilt) / depth))
    left, right = min(x for x, _ in seen), max(x for x, _ in seen)
    top, bottom = min(y for _, y in seen), max(y for _, y in seen)
    scale = fill * min(PHOTO_PX[0] / (right - left), PHOTO_PX[1] / (bottom - top))
    shift_x = PHOTO_PX[0] / 2 + dice.uniform(-16, 16) - scale * (left + right) / 2
    shift_y = PHOTO_PX[1] / 2 + dice.uniform(-12, 12) - scale * (top + bottom) / 2
    one, two, three, four = ((shift_x + scale * x, shift_y + scale * y) for x, y in seen)
    return one, two, three, four


def _noise(dice: Random, size: tuple[int, int]) -> Image.Image:
    from PIL import Image

    return Image.frombytes("L", size, dice.randbytes(size[0] * size[1]))


def _grain(dice: Random, size: tuple[int, int], cells: tuple[int, int]) -> Image.Image:
    """Noise of as many cells as asked for, stretched smoothly over a picture."""
    from PIL import Image

    return _noise(dice, cells).resize(size, Image.Resampling.BICUBIC)


def draw_bench(dice: Random) -> Image.Image:
    """A worn wooden bench of three planks."""
    from PIL import Image, ImageChops, ImageDraw, ImageOps

    wide, high = PHOTO_PX
    fine = _grain(dice, PHOTO_PX, (14, 400))
    coarse = _grain(dice, PHOTO_PX, (5, 60))
    streaks = Image.blend(coarse, fine, 0.45)
    wood = ImageOps.colorize(
        streaks, black=(112, 82, 56), mid=(158, 122, 86), white=(190, 156, 116)
    )
    planks = Image.new("L", PHOTO_PX, 255)
    pen = ImageDraw.Draw(planks)
    y = -dice.randint(0, 240)
    while y < high:
        step = dice.randint(330, 420)
        pen.rectangle((0, y, wide, y + step), fill=dice.randint(214, 255))
        pen.line((0, y, wide, y), fill=96, width=5)
        pen.line((0, y + 4, wide, y + 4), fill=170, width=3)
        y += step
    return ImageChops.multiply(wood, Image.merge("RGB", (planks, planks, planks)))


def draw_linen(dice: Random) -> Image.Image:
    """An oat-coloured linen cloth, woven of uneven threads."""
    from PIL import Image, ImageChops, ImageOps

    wide, high = PHOTO_PX
    thread = 7
    # One crossing: a warp thread over a weft thread, then the other way round.
    weave = Image.new("L", (2 * thread, 2 * thread), 150)
    for i in range(2 * thread):
        for j in range(2 * thread):
            over = (i // thread + j // thread) % 2
            across = (i if over else j) % thread
            weave.putpixel((i, j), round(150 + 70 * math.sin(math.pi * (across + 0.5) / thread)))
    tiled = Image.new("L", PHOTO_PX)
    for i in range(0, wide, 2 * thread):
        for j in range(0, high, 2 * thread):
            tiled.paste(weave, (i, j))
    warp = _grain(dice, PHOTO_PX, (wide // thread, 7))
    weft = _grain(dice, PHOTO_PX, (9, high // thread))
    slubs = Image.blend(warp, weft, 0.5)
    cloth = Image.blend(tiled, ImageChops.add(slubs, Image.new("L", PHOTO_PX, 60)), 0.42)
    return ImageOps.colorize(
        cloth, black=(150, 138, 116), mid=(206, 195, 172), white=(238, 230, 212)
    )


def light_scene(photo: Image.Image, dice: Random) -> Image.Image:
    """
    The photo in the light of a window at the upper left, with the grain of a small camera.

    Args:
        photo: Of the size :data:`PHOTO_PX`.
        dice: Decides where the light falls.
    """
    from PIL import Image, ImageChops, ImageFilter, ImageOps

    fall = Image.new("L", (8, 6), 0)
    for i in range(8):
        for j in range(6):
            far = math.dist((i / 7, j / 5), (0.28, 0.2))
            fall.putpixel((i, j), round(255 - 66 * far**1.4 + dice.uniform(-4, 4)))
    light = fall.resize(photo.size, Image.Resampling.BICUBIC)
    lit = ImageChops.multiply(photo, Image.merge("RGB", (light, light, light)))
    glow = Image.radial_gradient("L").resize((2 * photo.width, 2 * photo.height))
    # The gradient is black in its middle, which lies over the upper left third of the photo.
    shine = ImageOps.invert(glow).crop((1100, 900, 1100 + photo.width, 900 + photo.height))
    lit.paste((255, 250, 238), (0, 0), shine.point(lambda level: level // 9))
    grain = _noise(dice, (400, 300)).resize(PHOTO_PX, Image.Resampling.BILINEAR)
    speck = Image.merge("RGB", (grain, grain, grain))
    return Image.blend(lit, speck, 0.018).filter(ImageFilter.UnsharpMask(1.2, 60, 2))
