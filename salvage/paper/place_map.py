"""
A map of the donor board for a card: where the piece was, and what else was cut.

Lines and areas only, in millimetres of the board, so that the map stays sharp at every size. Over a
photo of the board all but the place is veiled; without one the board is a plain area.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from salvage.records.region import Region, Ring

_DEEP, _COPPER, _SHOAL, _PAPER = "#123f4c", "#a4551f", "#dce8e8", "#ffffff"
_VEIL = 0.5
# Widths of lines, for a board whose map is as wide as it is; a thousandth of the longer side.
_EDGE, _CUT, _PLACE, _HALO = 6.0, 4.5, 13.0, 27.0


@dataclass(frozen=True, slots=True)
class PlaceMap:
    """
    The map and what lies beneath it.

    Args:
        svg: Lines and areas; its ``viewBox`` is the board in millimetres.
        ratio: Width by height.
        photo: Photo of the board, squared to its outline's box, as JPEG; empty for none.
    """

    svg: str
    ratio: float
    photo: bytes = b""


def draw_place_map(
    outline: Region, cuts: Sequence[Region], place: Region, *, photo: bytes = b""
) -> PlaceMap:
    """
    The map of one place on a board.

    Args:
        outline: The board's edge, with its holes.
        cuts: What else was cut out of it.
        place: Where the piece was.
        photo: Photo of the board in its outline's box, as JPEG; empty for none.

    >>> edge = Region(((0, 0), (40000, 0), (40000, 20000), (0, 20000)))
    >>> draw_place_map(edge, [], edge).ratio
    2.0
    """
    left, bottom, right, top = outline.bounds_um
    wide, high = (right - left) / 1000, (top - bottom) / 1000
    unit, corner = max(wide, high) / 1000, (left, top)
    edge, spot = _path(outline, corner), _path(place, corner)
    parts = [
        # What the photo shows beyond a board's slanted edge is paper.
        _area(f"M0 0H{wide:g}V{high:g}H0Z{edge}", _PAPER) if photo else _area(edge, _SHOAL),
    ]
    if photo:
        parts.append(_area(f"{edge}{spot}", _PAPER, opacity=_VEIL))
    parts += [_area(_path(cut, corner), _PAPER, line=_DEEP, width=_CUT * unit) for cut in cuts]
    parts.append(_line(edge, _DEEP, _EDGE * unit))
    if photo:
        parts.append(_line(spot, _PAPER, _HALO * unit))
        parts.append(_line(spot, _COPPER, _PLACE * unit))
    else:
        parts.append(_area(spot, _COPPER, line=_DEEP, width=_CUT * unit))
    rim = _EDGE * unit / 2
    box = f"{-rim:.3f} {-rim:.3f} {wide + 2 * rim:.3f} {high + 2 * rim:.3f}"
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}">{"".join(parts)}</svg>'
    return PlaceMap(svg, (wide + 2 * rim) / (high + 2 * rim), photo)


def _area(path: str, fill: str, *, line: str = "", width: float = 0.0, opacity: float = 1) -> str:
    pen = f' stroke="{line}" stroke-width="{width:.3f}" stroke-linejoin="round"' if line else ""
    see = f' fill-opacity="{opacity:g}"' if opacity < 1 else ""
    return f'<path d="{path}" fill="{fill}" fill-rule="evenodd"{see}{pen}/>'


def _line(path: str, colour: str, width: float) -> str:
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:.3f}"'
        ' stroke-linejoin="round"/>'
    )


# Pieces of one board share its edge and most of its cuts.
@lru_cache(maxsize=1024)
def _path(region: Region, corner: tuple[int, int]) -> str:
    return "".join(_ring(ring, corner) for ring in (region.outer, *region.holes))


def _ring(ring: Ring, corner: tuple[int, int]) -> str:
    left, top = corner
    points = (f"{(x - left) / 1000:.2f} {(top - y) / 1000:.2f}" for x, y in ring)
    return f"M{'L'.join(points)}Z"
