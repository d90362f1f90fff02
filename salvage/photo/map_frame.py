"""
Where a board lies on the sheet of its map, and how millimetres become pixels there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

from salvage.errors import BadValue
from salvage.records.region import Region, Ring

Box: TypeAlias = tuple[int, int, int, int]
"""Left, top, right and bottom in pixels."""

MOST_MAP_PIXELS = 24_000_000
"""Pixels of the largest board on a map: a sheet of A4 at 400 to the inch has 15 million."""

# Drawn at twice the size and shrunk, lines come out smooth; a very large map is fine without.
_SMOOTH_UP_TO_PIXELS = 6_000_000


@dataclass(frozen=True, slots=True)
class MapFrame:
    """
    The board's place on the sheet, all in pixels of the sheet as it is drawn.

    Args:
        left_um: Left end of the board's bounding box.
        top_um: Upper end of the board's bounding box.
        px_per_um: Pixels for each micrometre.
        origin: Where the upper left corner of the bounding box lies.
        board_px: Width and height of the bounding box.
        sheet_px: Width and height of the sheet.
        unit_px: Height of the lettering, to which all lines and gaps are in proportion.
        smooth: How many times larger than the finished picture this is.
    """

    left_um: int
    top_um: int
    px_per_um: float
    origin: tuple[int, int]
    board_px: tuple[int, int]
    sheet_px: tuple[int, int]
    unit_px: float
    smooth: int

    def to_px(self, ring: Ring) -> list[tuple[float, float]]:
        """Pixels of a ring in board coordinates; y turns round."""
        return [
            (
                self.origin[0] + (x - self.left_um) * self.px_per_um,
                self.origin[1] + (self.top_um - y) * self.px_per_um,
            )
            for x, y in ring
        ]

    @property
    def board_box(self) -> Box:
        """The bounding box of the board."""
        left, top = self.origin
        return left, top, left + self.board_px[0], top + self.board_px[1]

    def snap(self, length_px: float) -> int:
        """The nearest length above nothing that is whole pixels of the finished picture."""
        return max(1, round(length_px / self.smooth)) * self.smooth


def frame_map(outline: Region, *, px_per_mm: float, legend_rows: float, titled: bool) -> MapFrame:
    """
    The frame for a board's map.

    Args:
        outline: Edge of the board.
        px_per_mm: Pixels of the finished map for each millimetre.
        legend_rows: Height to leave below the scale bar, in rows of the legend.
        titled: Whether to leave room for a title.

    Raises:
        BadValue: If the scale is no positive number, or the map would be too large.
    """
    left, _, _, top = outline.bounds_um
    width_mm, height_mm = outline.size_mm
    if not (math.isfinite(px_per_mm) and px_per_mm > 0):
        raise BadValue(f"the scale {px_per_mm:g} is out of range", hint="more than 0 pixels per mm")
    pixels = width_mm * height_mm * px_per_mm**2
    if pixels > MOST_MAP_PIXELS or max(width_mm, height_mm) * px_per_mm > 30_000:
        raise BadValue(
            f"{px_per_mm:g} pixels per mm make too large a map", hint="ask for fewer per mm"
        )
    smooth = 2 if pixels <= _SMOOTH_UP_TO_PIXELS else 1
    width, height = (max(1, round(mm * px_per_mm)) * smooth for mm in (width_mm, height_mm))
    unit = min(34.0, max(13.0, max(width, height) / smooth / 52)) * smooth
    margin = round(2.4 * unit)
    sheet_width = max(width + 2 * margin, round(LEAST_WIDTH_UNITS * unit))
    head = round(2.2 * unit) if titled else 0
    foot = round((SCALE_ROW_UNITS + LEGEND_ROW_UNITS * legend_rows) * unit)
    sheet_height = margin + head + height + margin + foot
    return MapFrame(
        left_um=left,
        top_um=top,
        px_per_um=px_per_mm * smooth / 1000,
        origin=((sheet_width - width) // 2, margin + head),
        board_px=(width, height),
        sheet_px=(_whole(sheet_width, smooth), _whole(sheet_height, smooth)),
        unit_px=unit,
        smooth=smooth,
    )


LEAST_WIDTH_UNITS = 26.0
"""Width of the narrowest sheet, in heights of the lettering: two columns of the legend."""

SCALE_ROW_UNITS = 2.2
"""Height of the scale bar's row, in heights of the lettering."""

LEGEND_ROW_UNITS = 1.9
"""Height of one row of the legend, in heights of the lettering."""


def _whole(length: int, step: int) -> int:
    return length + (-length) % step
