"""
How each kind of region looks on a board map: a colour, and a pattern that does without the colour.

A map is printed on grey printers and read by people who see few colours, so every style differs
from every other by hatching, dots, fill or line as well. The colours are those of Okabe and Ito,
"Color Universal Design" (2008; from memory), which stay apart for the common kinds of colour
blindness.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

Colour: TypeAlias = tuple[int, int, int]
"""Red, green and blue, 0 to 255 each."""

PAPER: Colour = (255, 255, 255)
INK: Colour = (28, 32, 36)

_BLUISH_GREEN: Colour = (0, 128, 94)
_VERMILLION: Colour = (200, 70, 0)
_BLUE: Colour = (0, 100, 170)
_YELLOW: Colour = (250, 214, 40)
_GREY: Colour = (112, 118, 124)


@dataclass(frozen=True, slots=True)
class MapStyle:
    """
    The look of one kind of region.

    Args:
        word: What the legend says.
        colour: Of the pattern and the edge.
        pattern: ``dots``, ``rising``, ``falling``, ``cross``, ``level``, ``upright``, ``grid``,
            ``solid`` or ``none``.
        tint: How much of the colour lies under the pattern, 0 to 1.
        cover: How much of the board below is hidden by paper first, 0 to 1; on a plain board
            all of it is.
        edge: Width of the edge in units of the lettering's height; 0 for none.
        dashed: Whether the edge is broken.
    """

    word: str
    colour: Colour
    pattern: str
    tint: float
    cover: float
    edge: float
    dashed: bool = False


STYLES: dict[str, MapStyle] = {
    "usable": MapStyle("usable", _BLUISH_GREEN, "dots", 0.14, 0.45, 0.10),
    "unusable": MapStyle("too narrow to use", _GREY, "level", 0.10, 0.55, 0.0),
    "kerf": MapStyle("kerf, gone as dust", (74, 78, 84), "solid", 1.0, 1.0, 0.0),
    "wall": MapStyle("room for the cutter", _GREY, "none", 0.34, 0.0, 0.0),
    "cut": MapStyle("cut out", _GREY, "rising", 0.0, 1.0, 0.12),
    "reserved": MapStyle("reserved for an order", _BLUE, "falling", 0.12, 0.55, 0.16, dashed=True),
    "keep-out": MapStyle("keep-out, not to be cut", _VERMILLION, "cross", 0.14, 0.55, 0.14),
    "gone": MapStyle("gone, not on record", _VERMILLION, "grid", 0.2, 0.3, 0.18),
    "still": MapStyle("on record as gone, still there", _BLUE, "upright", 0.2, 0.3, 0.18),
    "outline": MapStyle("edge of the board", INK, "none", 0.0, 0.0, 0.20),
    "this": MapStyle("this place", _YELLOW, "none", 0.75, 0.0, 0.34),
}
"""Every style by its name, in the order in which they are drawn: the last lies on top."""


def draw_pattern(pattern: str, size: tuple[int, int], unit_px: float) -> Image.Image:
    """
    A picture in shades of grey, white where the pattern has ink.

    Args:
        pattern: One of the words of :class:`MapStyle`.
        size: Width and height in pixels.
        unit_px: Height of the lettering, to which gaps and lines are in proportion.
    """
    from PIL import Image, ImageDraw

    if pattern in {"solid", "none"}:
        return Image.new("L", size, 255 if pattern == "solid" else 0)
    image = Image.new("L", size, 0)
    pen = ImageDraw.Draw(image)
    if pattern == "dots":
        _dot(pen, size, gap=0.8 * unit_px, radius=max(1.0, 0.1 * unit_px))
    else:
        gap = {"level": 0.48, "cross": 0.95, "grid": 0.9}.get(pattern, 0.62) * unit_px
        width = max(1, round({"level": 0.07}.get(pattern, 0.11) * unit_px))
        for way in _WAYS[pattern]:
            _hatch(pen, size, way=way, gap=gap, width=width)
    return image


def _dot(pen: ImageDraw.ImageDraw, size: tuple[int, int], *, gap: float, radius: float) -> None:
    for row in range(int(size[1] / (gap * 0.866)) + 2):
        y = row * gap * 0.866
        for column in range(int(size[0] / gap) + 2):
            x = (column + 0.5 * (row % 2)) * gap
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=255)


_WAYS = {
    "rising": ("rising",),
    "falling": ("falling",),
    "cross": ("rising", "falling"),
    "level": ("level",),
    "upright": ("upright",),
    "grid": ("level", "upright"),
}


def _hatch(
    pen: ImageDraw.ImageDraw, size: tuple[int, int], *, way: str, gap: float, width: int
) -> None:
    across, down = size
    # A slanting line's gap is measured square to it.
    step = gap * (2**0.5 if way in ("rising", "falling") else 1.0)
    for number in range(int((across + down) / step) + 2):
        start = number * step
        ends = {
            "level": (0, start, across, start),
            "upright": (start, 0, start, down),
            "rising": (0, start, start, 0),
            "falling": (start - down, 0, start, down),
        }[way]
        pen.line(ends, fill=255, width=width)
