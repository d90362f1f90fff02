"""
How far a measured outline may be off, as 95 % intervals.

Each source of error is one standard deviation in mm or as a share; they are independent, so squares
add up. The single factors were reasoned out and looked at on seeded synthetic photos; the coverage
was then set on 50 pairs of other photos than those it is tested on, with a ruler that is read as
badly as :class:`~salvage.photo.measure.mat.PrintScale` says; docs/measurements.md tells how often
the intervals hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

COVERAGE = 2.2
"""
Standard deviations in a stated interval. On the photos it was set on, two held 47 of 50 outlines
measured from two photos, and 2.2 held 48.
"""

EDGE_PX = 0.35
"""Error of an edge in pixels that does not average out: texture beside it, coding, blur."""

EDGE_SHIFT_PX = 0.12
"""The part of that which is the same all round, and so changes the area."""

FLATNESS_MM = 0.02
"""What paper that looks flat still curls: a tenth of the smallest we would see in the markers."""

UNCHECKED_PRINT = 0.0025
"""A printer nobody checked is off by up to half a percent (a guess, from a few printers)."""

RULER_BAR_MM = 200.0


@dataclass(frozen=True, slots=True)
class Sources:
    """
    Where errors of one measurement come from.

    Args:
        px_per_mm: Pixels per mm at the board.
        blur_px: Blur of edges in pixels.
        fit_mm: What the camera's fit leaves open.
        height_share: Standard deviation of the height, divided by the camera's distance.
        print_share: Standard deviation of the print's scale.
        lens_share: What a lens that was not fitted changes lengths by, as a share.
    """

    px_per_mm: float
    blur_px: float
    fit_mm: float
    height_share: float
    print_share: float
    lens_share: float = 0.0


def print_share(checked_mm: float | None) -> float:
    """Standard deviation of a print's scale; *checked_mm* is how well the ruler was read."""
    return UNCHECKED_PRINT if checked_mm is None else checked_mm / RULER_BAR_MM / 2


def point_interval_mm(sources: Sources, *, radius_mm: float) -> float:
    """
    Within what 95 of 100 points of the outline are true.

    Args:
        sources: Where errors come from.
        radius_mm: Mean distance of the outline from its middle, about which scale errors grow.
    """
    soft = max(1.0, sources.blur_px)
    scale = math.hypot(sources.height_share, sources.print_share, sources.lens_share)
    return COVERAGE * math.hypot(
        EDGE_PX * soft / sources.px_per_mm, sources.fit_mm, FLATNESS_MM, radius_mm * scale
    )


def area_half_interval_mm2(sources: Sources, *, area_mm2: float, rim_mm: float) -> float:
    """
    Half the width of the area's 95 % interval.

    Args:
        sources: Where errors come from.
        area_mm2: The area.
        rim_mm: Length of all rims, those of holes included.
    """
    soft = max(1.0, sources.blur_px)
    scale = math.hypot(sources.height_share, sources.print_share, sources.lens_share)
    shift = math.hypot(EDGE_SHIFT_PX * soft / sources.px_per_mm, FLATNESS_MM / 4)
    return COVERAGE * math.hypot(shift * rim_mm, 2 * scale * area_mm2, sources.fit_mm * rim_mm / 4)
