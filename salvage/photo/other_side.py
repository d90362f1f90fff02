"""
Pictures of a board's back in the front's frame, and the two to choose from where it fits twice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.photo.map_styles import INK, PAPER
from salvage.photo.map_text import font_of_height
from salvage.photo.upright import upright_image

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from salvage.photo.register import SidePlace
    from salvage.records.region import Region

_LONGEST_PX = 20_000
_CHOICE_PX, _GAP_PX, _LETTER_PX, _TEXT_PX = 520, 28, 26, 20
_PLAIN = (232, 238, 231)


def draw_back(
    squared_png: bytes, place: SidePlace, *, px_per_mm: float, size_mm: tuple[float, float]
) -> bytes:
    """
    The back as it is seen when the board is turned over like a page, as a PNG.

    Its lower right pixel is the lower left corner of the front's bounding box.

    Args:
        squared_png: The back in its own measured frame.
        place: How that frame lies in the front's.
        px_per_mm: Scale of both pictures.
        size_mm: Width and height of the front's bounding box.
    """
    from PIL import Image

    picture = upright_image(squared_png, longest_px=_LONGEST_PX)
    width, height = size_mm
    columns, rows = max(1, round(width * px_per_mm)), max(1, round(height * px_per_mm))
    # From a pixel of the new picture to one of the old: the way back through the place.
    turn = math.radians(place.turn_deg)
    cos, sin = math.cos(turn) / place.scale, math.sin(turn) / place.scale

    def taken_from(column: float, row: float) -> tuple[float, float]:
        x, y = width - column / px_per_mm, height - row / px_per_mm
        dx, dy = x - place.shift_mm[0], y - place.shift_mm[1]
        u, v = -(cos * dx + sin * dy), cos * dy - sin * dx
        return u * px_per_mm, picture.height - v * px_per_mm

    ox, oy = taken_from(0, 0)
    (ax, ay), (bx, by) = taken_from(1, 0), taken_from(0, 1)
    seen = picture.transform(
        (columns, rows),
        Image.Transform.AFFINE,
        (ax - ox, bx - ox, ox, ay - oy, by - oy, oy),
        resample=Image.Resampling.BICUBIC,
        fillcolor=PAPER,
    )
    out = BytesIO()
    seen.save(out, "PNG")
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class SideChoice:
    """
    One way in which the back may belong to the front.

    Args:
        back_png: The back turned over like a page, from :func:`draw_back`.
        words: What stands above it, such as the flag that chooses it.
    """

    back_png: bytes
    words: str


def draw_choice(choice: SideChoice, *, front_png: bytes | None, outline: Region) -> bytes:
    """
    Front and back beside one another, the same two corners marked A and B on both, as a PNG.

    Args:
        choice: One way.
        front_png: The squared-up front; None where no photo shows it.
        outline: The front's outline, drawn where there is no photo.
    """
    from PIL import Image, ImageDraw

    width, height = outline.size_mm
    scale = _CHOICE_PX / max(width, height)
    size = max(1, round(width * scale)), max(1, round(height * scale))
    told = (choice.words, "finger on A, turn the board over like a page:", "is this what you see?")
    font = font_of_height(_TEXT_PX)
    wide = max(2 * size[0] + 3 * _GAP_PX, round(max(map(font.getlength, told))) + 2 * _GAP_PX)
    top = _GAP_PX + round(1.5 * _TEXT_PX * len(told)) + 2 * _LETTER_PX
    sheet = Image.new("RGB", (wide, top + size[1] + _GAP_PX), PAPER)
    pen = ImageDraw.Draw(sheet)
    for row, words in enumerate(told):
        pen.text((_GAP_PX, _GAP_PX // 2 + round(1.5 * _TEXT_PX * row)), words, INK, font)
    pictures = _front(front_png, outline, scale, size), _shrunk(choice.back_png, size)
    for name, picture, letters, left in zip(
        ("front", "back"), pictures, ("AB", "BA"), (_GAP_PX, 2 * _GAP_PX + size[0]), strict=True
    ):
        sheet.paste(picture, (left, top))
        level = top - round(0.7 * _LETTER_PX)
        pen.text((left + size[0] // 2, level), name, INK, font, anchor="mm")
        _mark(pen, (left + _LETTER_PX // 2, level), letters[0])
        _mark(pen, (left + size[0] - _LETTER_PX // 2, level), letters[1])
    out = BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()


def _shrunk(png: bytes, size: tuple[int, int]) -> Image.Image:
    from PIL import Image

    picture = upright_image(png, longest_px=_LONGEST_PX)
    return picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)


def _front(
    front_png: bytes | None, outline: Region, scale: float, size: tuple[int, int]
) -> Image.Image:
    from PIL import Image, ImageDraw

    if front_png is not None:
        return _shrunk(front_png, size)
    plain = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(plain)
    for ring, fill in ((outline.outer, _PLAIN), *((hole, PAPER) for hole in outline.holes)):
        points = [(x / 1000 * scale, size[1] - y / 1000 * scale) for x, y in ring]
        pen.polygon(points, fill=fill, outline=INK)
    return plain


def _mark(pen: ImageDraw.ImageDraw, at: tuple[float, float], letter: str) -> None:
    """A letter on a dark disc: read on paper and on any board."""
    x, y = at
    half = _LETTER_PX / 2
    pen.ellipse((x - half, y - half, x + half, y + half), fill=INK)
    pen.text((x, y), letter, PAPER, font_of_height(19, bold=True), anchor="mm")
