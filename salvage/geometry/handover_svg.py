"""
The handover drawing as SVG: one group per layer, width and height in mm, one user unit per mm.

The bytes depend on nothing but the values: the same handover gives the same file.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from salvage.geometry.handover import MARK_MM, Handover, PlacedPiece, Side, notes_of, seen_from
from salvage.records.region import Region, Ring
from salvage.units import UM_PER_MM

# Layers tell themselves apart by their group and by the look of their line, not by colour alone.
_LAYERS = {
    "board": 'fill="#eeeeee" fill-opacity="0.5" stroke="#000000" stroke-width="0.2"',
    "keep-out": 'fill="#999999" fill-opacity="0.3" stroke="#666666" stroke-width="0.2" '
    'stroke-dasharray="1 1"',
    "cut": 'fill="#99ccff" fill-opacity="0.3" stroke="#0044cc" stroke-width="0.2"',
    "datum": 'fill="#ffffff" fill-opacity="0.5" stroke="#cc0000" stroke-width="0.2"',
    "code": 'fill="#000000"',
}
_TEXT_MM = 4.0


def draw_handover_svg(
    handover: Handover, *, side: Side = "front", show_code: bool = False
) -> bytes:
    """
    The drawing of a board and what to cut from it.

    The code stands in the title and the notes of the file. Some programs engrave any text that is
    shown, so it is shown only if asked for, in a group of its own.

    Args:
        handover: The board seen from the front.
        side: The side that is up on the machine; the back is mirrored.
        show_code: Whether to draw the code as text above the lower left corner.

    >>> from salvage.geometry.handover import DatumPoint
    >>> from salvage.geometry.outline import rectangle
    >>> holes = DatumPoint("hole 1", 5, 5, 3.2), DatumPoint("hole 2", 95, 5, 3.2)
    >>> drawing = draw_handover_svg(Handover("BA100X", rectangle(100, 60), holes))
    >>> b'width="100mm" height="60mm" viewBox="0 0 100 60"' in drawing
    True
    """
    seen = seen_from(handover, side)
    frame = _Frame(seen.outline)
    outline = PlacedPiece(seen.code, seen.outline)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {frame.size} overflow="visible">',
        f"<title>{escape(seen.code)} {side}</title>",
        f"<desc>{escape('; '.join(notes_of(seen, side)))}</desc>",
        *_group("board", frame.paths([outline])),
        *_group("keep-out", frame.paths(seen.keep_outs)),
        *_group("cut", frame.paths(seen.pieces)),
        *_group("datum", frame.marks(seen)),
    ]
    if show_code:
        lines += _group("code", [frame.text(seen.code)])
    return "\n".join([*lines, "</svg>", ""]).encode()


def _group(name: str, elements: Iterable[str]) -> list[str]:
    return [f'<g id="{name}" {_LAYERS[name]}>', *elements, "</g>"]


class _Frame:
    """Places on the sheet: its upper left corner is the origin there, and y points down."""

    def __init__(self, outline: Region) -> None:
        self._left, self._bottom, self._right, self._top = outline.bounds_um

    @property
    def size(self) -> str:
        width, height = _mm(self._right - self._left), _mm(self._top - self._bottom)
        return f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'

    def paths(self, items: Iterable[PlacedPiece]) -> list[str]:
        return [
            f'<path data-label={quoteattr(item.label)} fill-rule="evenodd" '
            f'd="{" ".join(map(self._ring, (item.region.outer, *item.region.holes)))}"/>'
            for item in items
        ]

    def _ring(self, ring: Ring) -> str:
        points = [f"{_mm(x - self._left)} {_mm(self._top - y)}" for x, y in ring]
        return "M" + " L".join(points) + " Z"

    def marks(self, handover: Handover) -> list[str]:
        return [
            f"<circle data-label={quoteattr(point.name)} "
            f'cx="{_mm(round(point.x_mm * UM_PER_MM) - self._left)}" '
            f'cy="{_mm(self._top - round(point.y_mm * UM_PER_MM))}" '
            f'r="{_decimal((point.hole_mm or MARK_MM) / 2)}"/>'
            for point in handover.datum
        ]

    def text(self, words: str) -> str:
        y = _mm(self._top - self._bottom - 2 * UM_PER_MM)
        return (
            f'<text x="2" y="{y}" font-size="{_TEXT_MM:g}" '
            f'font-family="sans-serif">{escape(words)}</text>'
        )


def _mm(um: int) -> str:
    """Whole micrometres as millimetres, digit by digit, so that no rounding creeps in."""
    sign, size = "-" if um < 0 else "", abs(um)
    text = f"{sign}{size // UM_PER_MM}.{size % UM_PER_MM:03d}"
    return text.rstrip("0").rstrip(".")


def _decimal(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")
