"""
Boards drawn side by side in true proportion, with what is taken, usable and planned.

Every layer has a pattern of its own, so that nothing rests on colour. The drawing is SVG; the same
drawing is given as PNG too.
"""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from html import escape
from typing import TYPE_CHECKING

from salvage.paper.typeset import tidy_text, typeset_pages_png
from salvage.records.region import Region, Ring

if TYPE_CHECKING:
    from pathlib import Path

_GAP_MM = 14.0
_MARGIN_MM = 8.0
_TITLE_MM = 10.0
_NAME_MM = 11.0
_KEY_MM = 5.4
_FONT = "Noto Sans, DejaVu Sans, sans-serif"
_INK = "#1d2a33"
_WIDEST = 1.5
_MOST_PX = 2400.0
# A dozen inks and what lies between them along smooth edges.
_COLORS = 48


@dataclass(frozen=True, slots=True)
class _Look:
    """How a layer is drawn: its ground, the lines over it, and its name in the key."""

    words: str
    fill: str
    lines: str = ""
    edge: str = "none"


_LOOKS: Mapping[str, _Look] = {
    "usable": _Look("usable", "#e4f0dc", '<circle cx="1" cy="1" r="0.28" fill="#5d7f4a"/>'),
    "unusable": _Look("too small to use", "#f1efe9", '<path d="M0 2h4" stroke="#b3ab9b"/>'),
    "keep-out": _Look(
        "keep-out", "#f6e3d6", '<path d="M0 0l4 4M4 0l-4 4" stroke="#a2592c"/>', "#a2592c"
    ),
    "wall": _Look("kerf and wall", "#dddcd8"),
    "kerf": _Look("kerf and wall", "#dddcd8"),
    "cut": _Look("cut out", "#6d7378", '<path d="M0 2h4" stroke="#4c5256"/>', _INK),
    "reserved": _Look(
        "held for others", "#fff2c2", '<path d="M2 0v4" stroke="#a88412"/>', "#7d620c"
    ),
    "place": _Look("planned", "#cfe3f5", '<path d="M0 4l4 -4" stroke="#2d6ea3"/>', "#123c5e"),
    "shape": _Look("shape", "#cfe3f5", "", "#123c5e"),
    "lost": _Look("will not come out as drawn", "#f4b5a3", "", "#8c2410"),
}
_ORDER = (
    "unusable",
    "usable",
    "wall",
    "kerf",
    "keep-out",
    "cut",
    "reserved",
    "shape",
    "lost",
    "place",
)


@dataclass(frozen=True, slots=True)
class DrawnBoard:
    """
    A board, or a shape by itself, to be drawn.

    Args:
        name: Its code or name.
        words: What is said beneath it.
        outline: Its edge.
        layers: Regions by layer.
        places: Planned places, by the sign that stands in each.
        lines_um: Straight cuts, from and to.
    """

    name: str
    words: str
    outline: Region
    layers: Mapping[str, Sequence[Region]]
    places: Mapping[str, Region] = field(default_factory=dict)
    lines_um: tuple[tuple[int, int, int, int], ...] = ()

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of its edge's box."""
        return self.outline.size_mm


@dataclass(frozen=True, slots=True)
class Drawing:
    """
    A finished drawing.

    Args:
        svg: Its bytes.
        width_mm, height_mm: Its size.
    """

    svg: bytes
    width_mm: float
    height_mm: float


def draw_boards(boards: Sequence[DrawnBoard], *, title: str) -> Drawing:
    """
    Boards side by side, to one scale, with a key of the patterns that occur.

    Args:
        boards: At least one.
        title: Stands above them.

    >>> from salvage.records.region import Region
    >>> edge = Region(((0, 0), (40000, 0), (40000, 20000), (0, 20000)))
    >>> drawing = draw_boards([DrawnBoard("BC0002J", "", edge, {"usable": [edge]})], title="a")
    >>> drawing.svg.startswith(b"<svg"), drawing.width_mm
    (True, 76.0)
    """
    rows = _rows(boards)
    key = [name for name in _ORDER if _occurs(name, boards)]
    widths = [sum(b.size_mm[0] for b in row) + _GAP_MM * (len(row) - 1) for row in rows]
    width = max(76.0, *(each + 2 * _MARGIN_MM for each in widths))
    parts, y = [], _MARGIN_MM + _TITLE_MM
    for row in rows:
        high, x = max(b.size_mm[1] for b in row), _MARGIN_MM
        for board in row:
            parts.append(_draw_board(board, x, y + high - board.size_mm[1]))
            x += board.size_mm[0] + _GAP_MM
        y += high + _NAME_MM
    words = list(dict.fromkeys(_LOOKS[name].words for name in key))
    shown = [next(n for n in key if _LOOKS[n].words == each) for each in words]
    legend, height = _draw_key(shown, width, y)
    head = _text(_MARGIN_MM, _MARGIN_MM + 5, title, size=5.2, weight="bold")
    body = "".join([_patterns(), head, *parts, legend])
    size = f'width="{width:g}mm" height="{height:g}mm" viewBox="0 0 {width:g} {height:g}"'
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>{body}</svg>\n'
    )
    return Drawing(svg.encode(), width, height)


def draw_png(drawing: Drawing, *, made_on: date, extra_fonts: Path | None = None) -> bytes:
    """
    A drawing as PNG, its longer side at most 2,400 pixels.

    Args:
        drawing: From :func:`draw_boards`.
        made_on: Date of the document that is set on the way.
        extra_fonts: Folder with more fonts.
    """
    longest = max(drawing.width_mm, drawing.height_mm)
    (page,) = typeset_pages_png(
        "drawing",
        {"width_mm": drawing.width_mm, "height_mm": drawing.height_mm},
        pictures={"drawing.svg": drawing.svg},
        made_on=made_on,
        extra_fonts=extra_fonts,
        dpi=min(150.0, _MOST_PX / longest * 25.4),
    )
    return _with_few_colors(page)


def _with_few_colors(png: bytes) -> bytes:
    """The same picture with a table of its colours, a fraction of the bytes."""
    from PIL import Image

    file = io.BytesIO()
    with Image.open(io.BytesIO(png)) as opened:
        opened.convert("RGB").quantize(_COLORS).save(file, format="PNG", optimize=True)
    return file.getvalue()


def _occurs(name: str, boards: Sequence[DrawnBoard]) -> bool:
    if name == "place":
        return any(board.places for board in boards)
    return any(board.layers.get(name) for board in boards)


def _rows(boards: Sequence[DrawnBoard]) -> list[list[DrawnBoard]]:
    """Boards in rows, none wider than makes the sheet half as wide again as high."""
    total = sum((b.size_mm[0] + _GAP_MM) * (b.size_mm[1] + _NAME_MM) for b in boards)
    most = max(max(b.size_mm[0] for b in boards), math.sqrt(total * _WIDEST))
    rows: list[list[DrawnBoard]] = [[]]
    used = 0.0
    for board in boards:
        if rows[-1] and used + board.size_mm[0] > most:
            rows.append([])
            used = 0.0
        rows[-1].append(board)
        used += board.size_mm[0] + _GAP_MM
    return rows


def _patterns() -> str:
    found = []
    for name, look in _LOOKS.items():
        if look.lines:
            found.append(
                f'<pattern id="p-{name}" width="{2 if name == "usable" else 4}" '
                f'height="{2 if name == "usable" else 4}" patternUnits="userSpaceOnUse" '
                f'stroke-width="0.35">{look.lines}</pattern>'
            )
    return f"<defs>{''.join(found)}</defs>"


def _draw_board(board: DrawnBoard, x_mm: float, y_mm: float) -> str:
    left, bottom, _, top = board.outline.bounds_um
    parts = [
        _area(_path([region], (left, top)), name)
        for name in _ORDER
        for region in board.layers.get(name, ())
    ]
    parts += [_area(_path([place], (left, top)), "place") for place in board.places.values()]
    edge = _path([board.outline], (left, top))
    parts.append(f'<path d="{edge}" fill="none" stroke="{_INK}" stroke-width="0.6"/>')
    parts += [_line(cut, (left, top)) for cut in board.lines_um]
    parts += [_sign(sign, place, (left, top)) for sign, place in board.places.items()]
    under = (top - bottom) / 1000 + 4.2
    parts.append(_text(0, under, board.name, size=3.8, weight="bold"))
    parts.append(_text(0, under + 4.0, board.words, size=3.2))
    return f'<g transform="translate({x_mm:g} {y_mm:g})">{"".join(parts)}</g>'


def _area(path: str, name: str) -> str:
    look = _LOOKS[name]
    width = 0.5 if name in ("place", "shape", "lost") else 0.25
    edge = f' stroke="{look.edge}" stroke-width="{width}"' if look.edge != "none" else ""
    plain = f'<path d="{path}" fill="{look.fill}" fill-rule="evenodd"{edge}/>'
    if not look.lines:
        return plain
    return f'{plain}<path d="{path}" fill="url(#p-{name})" fill-rule="evenodd"/>'


def _path(regions: Sequence[Region], origin: tuple[int, int]) -> str:
    rings = (ring for region in regions for ring in (region.outer, *region.holes))
    return "".join(_ring(ring, origin) for ring in rings)


def _ring(ring: Ring, origin: tuple[int, int]) -> str:
    left, top = origin
    points = (f"{(x - left) / 1000:.2f} {(top - y) / 1000:.2f}" for x, y in ring)
    return f"M{'L'.join(points)}Z"


def _line(cut: tuple[int, int, int, int], origin: tuple[int, int]) -> str:
    left, top = origin
    x1, y1, x2, y2 = cut
    ends = (
        f'x1="{(x1 - left) / 1000:.2f}" y1="{(top - y1) / 1000:.2f}" '
        f'x2="{(x2 - left) / 1000:.2f}" y2="{(top - y2) / 1000:.2f}"'
    )
    return f'<line {ends} stroke="#8c2410" stroke-width="0.5" stroke-dasharray="2 1"/>'


def _sign(sign: str, place: Region, origin: tuple[int, int]) -> str:
    left, bottom, right, top = place.bounds_um
    x, y = ((left + right) / 2 - origin[0]) / 1000, (origin[1] - (bottom + top) / 2) / 1000
    size = max(3.0, min(7.0, min(right - left, top - bottom) / 4000))
    plate = f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size * 0.75:.2f}" fill="#ffffff"/>'
    return plate + _text(x, y + size * 0.35, sign, size=size, weight="bold", anchor="middle")


def _draw_key(names: Sequence[str], width: float, y: float) -> tuple[str, float]:
    parts, x = [], _MARGIN_MM
    for name in names:
        words = _LOOKS[name].words
        wide = 8 + 1.75 * len(words) + 4
        if x + wide > width - 2 and x > _MARGIN_MM:
            x, y = _MARGIN_MM, y + _KEY_MM
        swatch = _area("M0 0L6 0L6 3.6L0 3.6Z", name)
        box = f'<path d="M0 0H6V3.6H0Z" fill="none" stroke="{_INK}" stroke-width="0.25"/>'
        label = _text(7.5, 2.9, words, size=3.2)
        parts.append(f'<g transform="translate({x:g} {y:g})">{swatch}{box}{label}</g>')
        x += wide
    if x + 34 > width - 2:
        x, y = _MARGIN_MM, y + _KEY_MM
    rule = f'<path d="M0 1v2M0 2h20M20 1v2" fill="none" stroke="{_INK}" stroke-width="0.35"/>'
    parts.append(
        f'<g transform="translate({x:g} {y:g})">{rule}{_text(22, 2.9, "20 mm", size=3.2)}</g>'
    )
    return "".join(parts), y + _KEY_MM + _MARGIN_MM / 2


def _text(
    x: float, y: float, words: str, *, size: float, weight: str = "normal", anchor: str = "start"
) -> str:
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="{_FONT}" font-size="{size:g}" '
        f'font-weight="{weight}" text-anchor="{anchor}" fill="{_INK}">'
        f"{escape(tidy_text(words))}</text>"
    )
