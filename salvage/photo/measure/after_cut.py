"""
What a photo after the cut shows, against what was recorded as cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.align import Fit, lay_on, moved, polygon_of, region_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import shapely
    from shapely.geometry.base import BaseGeometry

    from salvage.photo.measure.result import Measurement

LEAST_DIFFERENCE_MM2 = 4.0
"""Smaller differences are dust, burrs and blur."""

_WIDEST_SLIVER_MM = 0.3


@dataclass(frozen=True, slots=True)
class CutDifferences:
    """
    Where photo and record disagree, in the board frame of the outline before the cut.

    Args:
        still_there: Regions recorded as cut that the photo still shows.
        gone: Regions that are gone although no cut was recorded.
        still_there_mm2: Their area.
        gone_mm2: Their area.
        fit: How the measured board was laid on the recorded one.
    """

    still_there: tuple[Region, ...]
    gone: tuple[Region, ...]
    still_there_mm2: float
    gone_mm2: float
    fit: Fit

    @property
    def agrees(self) -> bool:
        """Whether photo and record tell the same."""
        return not self.still_there and not self.gone


def compare_after_cut(
    measurement: Measurement, outline: Region, recorded_cuts: Sequence[Region]
) -> CutDifferences:
    """
    Differences between a measured board and its record.

    The measured board may lie in any way; it is laid on the recorded remainder first.

    Args:
        measurement: The board as it is now.
        outline: The board before its first cut.
        recorded_cuts: What was recorded as cut from it, kerf included.
    """
    import shapely

    before = polygon_of(outline)
    cuts = shapely.union_all([polygon_of(cut) for cut in recorded_cuts])
    wanted = _largest(before.difference(cuts))
    now = polygon_of(measurement.outline)
    fit = lay_on(now, wanted, is_part=True)
    laid = moved(now, fit)
    least = max(_WIDEST_SLIVER_MM, measurement.interval_mm)
    still = _clear_parts(laid.intersection(cuts), least)
    gone = _clear_parts(before.difference(cuts).difference(laid), least)
    return CutDifferences(
        still,
        gone,
        sum(region.area_mm2 for region in still),
        sum(region.area_mm2 for region in gone),
        fit,
    )


def _largest(shape: BaseGeometry) -> shapely.Polygon:
    """The part that is still called the board; pieces that fell off are not in the photo."""
    import shapely

    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
    largest: shapely.Polygon = max(parts, key=lambda part: part.area)
    return largest


def _clear_parts(shape: BaseGeometry, sliver_mm: float) -> tuple[Region, ...]:
    """Parts wider than what the measurement leaves open, largest first."""
    import shapely

    opened = shape.buffer(-sliver_mm).buffer(sliver_mm)
    parts = [
        part
        for part in shapely.get_parts(opened)
        if isinstance(part, shapely.Polygon) and part.area >= LEAST_DIFFERENCE_MM2
    ]
    largest_first = sorted(parts, key=lambda part: -part.area)
    return tuple(region_of(part) for part in largest_first)
