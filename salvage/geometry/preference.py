"""
What makes one spot better than another. Scores are larger for better; lengths are millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from salvage.geometry.distance import UNITS_PER_MM
from salvage.geometry.ground import COARSE_MM, Ground
from salvage.geometry.overlay import grow, polygon_parts, subtract
from salvage.geometry.search import pose_of_row
from salvage.geometry.spot import Outfit, move_to, placement_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_FAR_MM = 25.0
_SAMPLE = 150
_DISCS = 32


class Preference(Protocol):
    """Rates poses of a shape on the ground: rows of x, y, angle and side."""

    def rate(
        self, ground: Ground, outfit: Outfit, poses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """One score per pose."""
        ...


@dataclass(frozen=True, slots=True)
class Snug:
    """Close to edges and into corners: the least air between the shape and what bounds it."""

    def rate(
        self, ground: Ground, outfit: Outfit, poses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Minus the mean room, in mm, that the shape's discs have beyond what they need."""
        import numpy as np

        probes = outfit.probes
        drawn, frame = ground.distance_map(COARSE_MM)
        # The first discs are spread over the shape already.
        xs, ys = _points_at(probes.xs[:_DISCS], probes.ys[:_DISCS], poses)
        room = _look(drawn, xs, ys, (frame.left_mm, frame.bottom_mm, frame.step_mm), 0)
        spare = np.clip(
            room / UNITS_PER_MM - probes.radii[:_DISCS] - outfit.clearance_mm, 0, _FAR_MM
        )
        score: NDArray[np.float64] = -spare.mean(axis=1)
        return score


@dataclass(frozen=True, slots=True)
class Whole:
    """
    Leaves the largest circle for later pieces.

    Args:
        kerf_mm: Width the tool takes round the piece.
    """

    kerf_mm: float

    def rate(
        self, ground: Ground, outfit: Outfit, poses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Radius in mm of the largest circle left, and a thousandth of the snugness."""
        import numpy as np

        snug = Snug().rate(ground, outfit, poses) / 1000
        # Only the snug ones are worth the exact look.
        best = np.argsort(-snug, kind="stable")[:_SAMPLE]
        score = np.full(len(poses), -np.inf)
        lost = grow(outfit.grown, self.kerf_mm)
        for number in best.tolist():
            claim = move_to(lost, placement_of(outfit.probes, pose_of_row(poses[number])))
            score[number] = _largest_circle(ground, claim) + snug[number]
        return score


@dataclass(frozen=True, slots=True)
class Rich:
    """
    Where the board looks best.

    Args:
        values: Richness of the board's squares, rows from below, columns from the left.
        left_mm: Left edge of the first column, in board coordinates.
        bottom_mm: Lower edge of the first row.
        step_mm: Width of a square.
    """

    values: NDArray[np.float64]
    left_mm: float
    bottom_mm: float
    step_mm: float

    def rate(
        self, ground: Ground, outfit: Outfit, poses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Mean richness under the shape; what lies off the map counts as 0."""
        import numpy as np

        xs, ys = _points_at(*_points_inside(outfit), poses)
        frame = (self.left_mm, self.bottom_mm, self.step_mm)
        score: NDArray[np.float64] = _look(np.asarray(self.values), xs, ys, frame, 0).mean(axis=1)
        return score


def _largest_circle(ground: Ground, claim: object) -> float:
    import shapely

    rest = polygon_parts(subtract(ground.area, claim))  # type: ignore[arg-type]
    return max(
        (float(shapely.maximum_inscribed_circle(part, tolerance=0.1).length) for part in rest),
        default=0.0,
    )


def _points_inside(outfit: Outfit) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A grid of about 200 points in the shape, from the centre of its largest disc."""
    import numpy as np
    import shapely

    polygon = outfit.probes.polygon
    left, bottom, right, top = polygon.bounds
    step = np.sqrt(polygon.area / 200)
    grid_x, grid_y = np.meshgrid(
        np.arange(left + step / 2, right, step), np.arange(bottom + step / 2, top, step)
    )
    inside = shapely.contains_xy(polygon, grid_x, grid_y)
    x, y = outfit.probes.centre_mm
    xs = np.append(grid_x[inside] - x, 0.0)
    ys = np.append(grid_y[inside] - y, 0.0)
    return xs, ys


def _points_at(
    xs: NDArray[np.float64], ys: NDArray[np.float64], poses: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of the shape on the board; poses by points."""
    import numpy as np

    x, y, angle, side = poses.T[:, :, None]
    cosine, sine = np.cos(angle), np.sin(angle)
    return x + side * xs * cosine - ys * sine, y + side * xs * sine + ys * cosine


def _look(
    values: NDArray[np.generic],
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    frame: tuple[float, float, float],
    outside: float,
) -> NDArray[np.float64]:
    """The values of the squares that hold the points."""
    import numpy as np

    left, bottom, step = frame
    column = np.floor((xs - left) / step).astype(np.int64)
    row = np.floor((ys - bottom) / step).astype(np.int64)
    rows, columns = values.shape
    held = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    found = values[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)].astype(np.float64)
    return np.where(held, found, outside)
