"""
How far a measured board is from the true one.

Distances are two-way between densely sampled edges, after the rigid move (turn and shift, no scale)
that brings the measured edge nearest to the true one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.benchmarks.photo_scene import Placed

if TYPE_CHECKING:
    from shapely import LinearRing, Polygon

    from salvage.photo.measure.result import Measurement
    from tests.benchmarks.photo_raster import Array

_STEP_MM = 0.25
_ROUNDS = 12

# A hole counts as found when its middle is this near.
_FOUND_MM = 1.0


@dataclass(frozen=True, slots=True)
class HoleScore:
    """
    What became of the holes.

    Args:
        true: Round holes of 2.0 mm and more.
        found: How many of those were found.
        false: Holes that were found where there is none, slot and lead hole included.
        apart_mm: Distance of each found one's middle.
        wider_mm: By how much each was found too wide.
    """

    true: int
    found: int
    false: int
    apart_mm: tuple[float, ...]
    wider_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class OutlineScore:
    """
    One measured board.

    Args:
        mean_mm: Mean distance of the edges.
        p95_mm: What 95 of 100 points keep.
        max_mm: The farthest.
        inside: Share of points within the stated interval.
        area_error: Measured area over the true one, less one.
        area_inside: Whether the true area lies in the stated interval.
        holes: What became of the holes.
    """

    mean_mm: float
    p95_mm: float
    max_mm: float
    inside: float
    area_error: float
    area_inside: bool
    holes: HoleScore

    @property
    def is_gross(self) -> bool:
        """Whether a board would be cut wrong by it: over 2 mm or 3 % of area off."""
        return self.max_mm > 2 or abs(self.area_error) > 0.03


@dataclass(frozen=True, slots=True)
class Move:
    """A turn about the origin, then a shift."""

    turn_rad: float
    shift_mm: tuple[float, float]

    def __call__(self, points: Array) -> Array:
        """Moved points (N x 2)."""
        import numpy as np

        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        moved: Array = points @ np.array([[cos, sin], [-sin, cos]]) + np.array(self.shift_mm)
        return moved

    def back(self, points: Array) -> Array:
        """Where moved points came from (N x 2)."""
        import numpy as np

        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        moved: Array = (points - np.array(self.shift_mm)) @ np.array([[cos, -sin], [sin, cos]])
        return moved


def judge_outline(found: Measurement, board: Placed) -> OutlineScore:
    """Score of a measurement against the board that was photographed."""
    import numpy as np
    from shapely import LinearRing

    move = align(found, board)
    ours = move(rim_of(found))
    true_ring, our_ring = LinearRing(board.layout.outer), LinearRing(ours)
    apart = np.concatenate(
        (_distances(_sampled(our_ring), true_ring), _distances(_sampled(true_ring), our_ring))
    )
    true_area = board.layout.polygon().area
    low, high = found.area_interval_mm2
    return OutlineScore(
        float(apart.mean()),
        float(np.quantile(apart, 0.95)),
        float(apart.max()),
        float((apart <= found.interval_mm).mean()),
        found.area_mm2 / true_area - 1,
        bool(low <= true_area <= high),
        _judge_holes(found, board, move),
    )


def rim_of(found: Measurement) -> Array:
    """Outer ring in millimetres (N x 2)."""
    import numpy as np

    return np.array(found.outline.outer, float) / 1000


def align(found: Measurement, board: Placed) -> Move:
    """The rigid move from the measured board's frame to the true board's own frame."""
    import numpy as np
    from shapely import LinearRing

    placing = found.placing
    turn = placing.turn_rad - math.radians(board.turn_deg)
    origin = board.on_board(np.array([placing.origin_mm]))[0]
    move = Move(turn, (float(origin[0]), float(origin[1])))
    points = _sampled(LinearRing(rim_of(found)))
    target = LinearRing(board.layout.outer)
    for _ in range(_ROUNDS):
        move = _nearer(move, points, target)
    return move


def _nearer(move: Move, points: Array, target: LinearRing) -> Move:
    """One step of fitting points to the tangents at their nearest places of the true edge."""
    import numpy as np
    from shapely import get_coordinates, line_interpolate_point, line_locate_point
    from shapely import points as dots

    placed = move(points)
    along = line_locate_point(target, dots(placed))
    foot, ahead, behind = (
        get_coordinates(line_interpolate_point(target, np.clip(along + way, 0, target.length)))
        for way in (0, 0.05, -0.05)
    )
    tangent = ahead - behind
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0])) / np.hypot(*tangent.T)[:, None]
    gap = ((placed - foot) * normal).sum(axis=1)
    middle = placed.mean(axis=0)
    x, y = (placed - middle).T
    design = np.column_stack((x * normal[:, 1] - y * normal[:, 0], normal))
    # Far points are not edge but error; they shall not turn the whole board.
    weight = 1 / np.maximum(1, np.abs(gap) / max(0.5, 5 * float(np.median(np.abs(gap)))))
    step = np.linalg.lstsq(design * weight[:, None], -gap * weight, rcond=None)[0]
    small = Move(float(step[0]), (0.0, 0.0))
    shift = small(np.array([np.array(move.shift_mm) - middle]))[0] + middle + step[1:]
    return Move(move.turn_rad + float(step[0]), (float(shift[0]), float(shift[1])))


def _sampled(ring: LinearRing) -> Array:
    import numpy as np
    from shapely import get_coordinates, line_interpolate_point

    return get_coordinates(line_interpolate_point(ring, np.arange(0, ring.length, _STEP_MM)))


def _distances(points: Array, ring: LinearRing) -> Array:
    import numpy as np
    from shapely import distance
    from shapely import points as dots

    return np.asarray(distance(dots(points), ring))


def _judge_holes(found: Measurement, board: Placed, move: Move) -> HoleScore:
    import numpy as np
    from shapely import Point, Polygon

    layout = board.layout
    free = list(layout.holes)
    apart, wider, false = [], [], 0
    others: list[Polygon] = [Polygon(ring).buffer(0.5) for ring in layout.slots]
    others += [Point(d.x, d.y).buffer(d.diameter / 2 + 0.5) for d in layout.drills]
    for hole in found.holes:
        x, y = move(np.array([hole.centre_mm]))[0]
        near = [true for true in free if math.hypot(true.x - x, true.y - y) <= _FOUND_MM]
        if near:
            free.remove(near[0])
            apart.append(math.hypot(near[0].x - x, near[0].y - y))
            wider.append(hole.diameter_mm - near[0].diameter)
        elif not any(other.contains(Point(x, y)) for other in others):
            false += 1
    return HoleScore(
        len(layout.holes), len(layout.holes) - len(free), false, tuple(apart), tuple(wider)
    )
