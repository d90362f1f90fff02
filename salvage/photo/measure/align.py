"""
One outline laid on another: turned and moved, never stretched.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.records.region import Region
from salvage.units import UM_PER_MM, to_um

if TYPE_CHECKING:
    import numpy as np
    import shapely
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_STARTS = 24
_TRIED_POINTS, _FINE_POINTS = 80, 600
_BEST = 8
_ROUNDS = 40
_FAR_MM, _NEAR_MM = 4.0, 0.5


@dataclass(frozen=True, slots=True)
class Fit:
    """
    How to lay one outline on another: first turn and scale, then move.

    Args:
        turn_rad: Counter-clockwise.
        shift_mm: Afterwards.
        mean_mm: Mean distance of the outlines then.
        most_mm: Largest distance of the outlines then.
        scale: Size of the other's measure for one of this one's.
    """

    turn_rad: float
    shift_mm: tuple[float, float]
    mean_mm: float
    most_mm: float
    scale: float = 1.0

    def carry(self, points: Floats) -> Floats:
        """Points of the first outline where they come to lie."""
        import numpy as np

        c, s = self.scale * math.cos(self.turn_rad), self.scale * math.sin(self.turn_rad)
        moved: Floats = points @ np.array([[c, s], [-s, c]]) + np.array(self.shift_mm)
        return moved


def polygon_of(region: Region) -> shapely.Polygon:
    """The region as the geometry library's polygon, in mm."""
    import shapely

    rings = [[(x / UM_PER_MM, y / UM_PER_MM) for x, y in r] for r in (region.outer, *region.holes)]
    return shapely.Polygon(rings[0], rings[1:])


def region_of(shape: shapely.Polygon) -> Region:
    """The polygon as a region on the grid, its rings walked the right way round."""
    import shapely

    tidy = shapely.orient_polygons(shape)
    rings = [
        tuple((to_um(x), to_um(y)) for x, y in list(ring.coords)[:-1])
        for ring in (tidy.exterior, *tidy.interiors)
    ]
    return Region(rings[0], tuple(rings[1:]))


def lay_on(piece: shapely.Polygon, whole: shapely.Polygon, *, is_part: bool = False) -> Fit:
    """
    How *piece* lies on *whole* best.

    Args:
        piece: The outline to be moved.
        whole: The outline that stays.
        is_part: The piece may lack parts of the whole; only what agrees counts then.
    """
    import numpy as np
    import shapely

    rim = whole.exterior
    coarse, fine = _points(piece, _TRIED_POINTS), _points(piece, _FINE_POINTS)
    keep = 0.6 if is_part else 0.9
    tries = []
    turns = [2 * math.pi * k / _STARTS for k in range(_STARTS)]
    starts = [_start(piece, whole, turn) for turn in turns]
    if is_part:
        starts += [start for turn in turns for start in _in_corners(piece, whole, turn)]
    for start in starts:
        fit = start
        for _ in range(2 if is_part else 4):
            fit = _step(coarse, rim, fit, keep)
        apart = shapely.distance(shapely.points(fit.carry(coarse)), rim)
        away = np.sort(np.atleast_1d(apart))
        tries.append(
            (float(away[: int(keep * len(away))].mean()), _overlap(fit, piece, whole), fit)
        )
    best: tuple[float, Fit] | None = None
    for _, _, start in sorted(
        tries, key=lambda t: -t[1] if is_part else (round(t[0], 1) - t[1] * 1e-6)
    )[:_BEST]:
        fit = _refined(fine, rim, start, keep, is_part=is_part)
        miss = -_overlap(fit, piece, whole)
        if best is None or miss < best[0]:
            best = (miss, fit)
    assert best is not None
    return _judged(fine, rim, best[1])


def lay_near(
    piece: shapely.Polygon, whole: shapely.Polygon, start: Fit, *, is_part: bool = False
) -> Fit:
    """
    How *piece* lies on *whole* best near a place that is known roughly.

    Args:
        piece: The outline to be moved.
        whole: The outline that stays.
        start: Where to begin.
        is_part: The piece may lack parts of the whole; only what agrees counts then.
    """
    fine, rim = _points(piece, _FINE_POINTS), whole.exterior
    return _judged(fine, rim, _refined(fine, rim, start, 0.6 if is_part else 0.9, is_part=is_part))


def _refined(
    fine: Floats, rim: shapely.LinearRing, start: Fit, keep: float, *, is_part: bool
) -> Fit:
    fit = start
    for k in range(_ROUNDS):
        # Nearer and nearer: what has no counterpart drops out, and no edge is left to slide.
        within = max(_NEAR_MM, _FAR_MM * 0.75**k) if is_part else math.inf
        fit = _step(fine, rim, fit, 1.0 if is_part else keep, within_mm=within)
    return fit


def _judged(fine: Floats, rim: shapely.LinearRing, fit: Fit) -> Fit:
    """The same place with how far the outlines are apart there."""
    import numpy as np
    import shapely

    away = np.atleast_1d(shapely.distance(shapely.points(fit.carry(fine)), rim))
    return Fit(fit.turn_rad, fit.shift_mm, float(away.mean()), float(away.max()))


def moved(shape: shapely.Polygon, fit: Fit) -> shapely.Polygon:
    """A polygon turned and moved."""
    import shapely

    result: shapely.Polygon = shapely.transform(shape, fit.carry)
    return result


def _points(shape: shapely.Polygon, count: int) -> Floats:
    import numpy as np
    import shapely

    marks = np.arange(count) / count
    placed = shapely.line_interpolate_point(shape.exterior, marks, normalized=True)
    return np.asarray(shapely.get_coordinates(placed), float)


def _start(piece: shapely.Polygon, whole: shapely.Polygon, turn: float) -> Fit:
    here, there = piece.centroid, whole.centroid
    c, s = math.cos(turn), math.sin(turn)
    x, y = c * here.x - s * here.y, s * here.x + c * here.y
    return Fit(turn, (there.x - x, there.y - y), 0.0, 0.0)


def _in_corners(piece: shapely.Polygon, whole: shapely.Polygon, turn: float) -> list[Fit]:
    """The piece turned and put into each corner of the whole's bounding box."""
    laid = moved(piece, Fit(turn, (0.0, 0.0), 0.0, 0.0)).bounds
    goal = whole.bounds
    return [
        Fit(turn, (goal[i] - laid[i], goal[j] - laid[j]), 0.0, 0.0) for i in (0, 2) for j in (1, 3)
    ]


def _overlap(fit: Fit, piece: shapely.Polygon, whole: shapely.Polygon) -> float:
    """Area in both, less what of the piece lies outside; holes count."""
    laid = moved(piece, fit)
    common = float(laid.intersection(whole).area)
    return common - (float(laid.area) - common)


def _step(
    points: Floats,
    rim: shapely.LinearRing,
    fit: Fit,
    keep: float,
    *,
    within_mm: float = math.inf,
) -> Fit:
    """One step of iterated closest points on the points that agree best."""
    import numpy as np
    import shapely

    laid = fit.carry(points)
    at = shapely.line_locate_point(rim, shapely.points(laid))
    feet = shapely.get_coordinates(shapely.line_interpolate_point(rim, at))
    away = np.linalg.norm(laid - feet, axis=1)
    chosen = away <= min(float(np.quantile(away, keep)), max(within_mm, float(np.median(away))))
    a, b = points[chosen], feet[chosen]
    ca, cb = a.mean(axis=0), b.mean(axis=0)
    p, q = a - ca, b - cb
    turn = math.atan2(float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum()), float((p * q).sum()))
    c, s = math.cos(turn), math.sin(turn)
    shift = cb - np.array([c * ca[0] - s * ca[1], s * ca[0] + c * ca[1]])
    return Fit(turn, (float(shift[0]), float(shift[1])), 0.0, 0.0)
