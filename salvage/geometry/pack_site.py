"""
Shapes and boards brought to a grid for packing.

A shape is widened by half the gap, so that two which touch on the grid lie a gap apart. Its corners
are reduced, always outward, and a board's edge always inward: what the grid allows is allowed on
the board. Holes in a shape are taken as solid: nothing is packed into them. Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import polygon_parts, unite
from salvage.geometry.poses import Pose, Poses
from salvage.geometry.stencil import overlap_mask
from salvage.geometry.symmetry import symmetry_of
from salvage.geometry.untangle import Room
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

    Points = NDArray[np.float64]

# Corners of a turned shape are brought to the micrometre grid when it is placed: 0.7 micrometres
# each, and one more for the widening.
_GRID_MM = 0.003
_CIRCLE_MM = 0.05
_FULL_MDEG = 360_000
_QUARTER_MDEG = 90_000


class Cutouts:
    """
    Shapes with all their poses.

    Args:
        shapes: The shapes.
        gap_mm: Room between two pieces.
        angles_mdeg: Angles to try, in thousandths of a degree.
        step_mm: Step of the grid.
        detail_mm: How far a corner may be moved outward to save corners.
    """

    def __init__(
        self,
        shapes: Sequence[Region],
        *,
        gap_mm: float,
        angles_mdeg: Sequence[int],
        step_mm: float,
        detail_mm: float = 0.05,
    ) -> None:
        self.shapes = tuple(shapes)
        self.step_mm = step_mm
        self.detail_mm = detail_mm
        self.areas_mm2 = [shape.area_mm2 for shape in shapes]
        # Less what the search for the circle may be off.
        solid = [to_polygon(Region(shape.outer)) for shape in shapes]
        self.inscribed_mm = [_inscribed(polygon) - 2 * _CIRCLE_MM for polygon in solid]
        self.angles: list[int] = []
        self.kinds: list[int] = []
        self.bare: list[Points] = []
        self.of_shape: list[tuple[int, ...]] = []
        poses: list[Pose] = []
        families: dict[tuple[int, int], int] = {}
        for kind, shape in enumerate(shapes):
            wide = _solid(shape, gap_mm / 2, detail_mm)
            bare = _solid(shape, 0.0, detail_mm)
            numbers = []
            for angle in _distinct_angles(shape, angles_mdeg):
                family = families.setdefault((kind, angle % _QUARTER_MDEG), len(families))
                numbers.append(len(poses))
                poses.append(Pose(_turn(wide, angle) / step_mm, family, angle // _QUARTER_MDEG))
                self.bare.append(_turn(bare, angle) / step_mm)
                self.angles.append(angle)
                self.kinds.append(kind)
            self.of_shape.append(tuple(numbers))
        self.poses = Poses(poses)


class Site:
    """
    A board's ground, with the places where each pose may be put.

    Args:
        area: The ground, as regions.
        cutouts: The shapes.
    """

    def __init__(self, area: Sequence[Region], cutouts: Cutouts) -> None:
        self.cutouts = cutouts
        self.area = unite(to_polygon(region) for region in area)
        self._parts = [_inward(part, cutouts.detail_mm) for part in polygon_parts(self.area)]
        self._rooms: dict[int, Room] = {}
        self._inscribed_mm = max((_inscribed(part) for p in self._parts for part in p), default=0.0)

    def room(self, pose: int) -> Room:
        """Where a pose may be put."""
        if pose not in self._rooms:
            self._rooms[pose] = self._draw_room(pose)
        return self._rooms[pose]

    def _draw_room(self, pose: int) -> Room:
        import numpy as np
        import shapely

        step, bare = self.cutouts.step_mm, self.cutouts.bare[pose]
        if self.cutouts.inscribed_mm[self.cutouts.kinds[pose]] > self._inscribed_mm:
            return Room(0, 0, 0, 0)
        # A part smaller than the shape would seem to hold it: it winds round the part and back.
        shape_mm2 = float(shapely.Polygon(bare).area) * step * step
        parts = [part for whole in self._parts for part in whole if part.area >= shape_mm2]
        if not parts:
            return Room(0, 0, 0, 0)
        box = np.array(shapely.total_bounds(parts)) / step
        low, high = bare.min(axis=0), bare.max(axis=0)
        left, bottom = (int(v) for v in np.ceil(box[:2] - low))
        right, top = (int(v) for v in np.floor(box[2:] - high))
        rows, columns = top - bottom + 1, right - left + 1
        if rows <= 0 or columns <= 0:
            return Room(0, 0, 0, 0)
        first_column, first_row, mask = overlap_mask(_outside(parts, box, step), bare)
        blocked = np.zeros((rows, columns), dtype=bool)
        x1, y1 = max(left, first_column), max(bottom, first_row)
        x2 = min(right + 1, first_column + mask.shape[1])
        y2 = min(top + 1, first_row + mask.shape[0])
        if x1 < x2 and y1 < y2:
            blocked[y1 - bottom : y2 - bottom, x1 - left : x2 - left] = mask[
                y1 - first_row : y2 - first_row, x1 - first_column : x2 - first_column
            ]
        return Room(left, bottom, rows, columns, blocked)


def _distinct_angles(shape: Region, angles_mdeg: Sequence[int]) -> list[int]:
    """Angles that make a difference, for a shape that falls on itself when turned."""
    symmetry = symmetry_of(shape)
    if symmetry.is_round:
        return [0]
    turn = _FULL_MDEG / symmetry.order
    distinct = {round(angle % turn) % round(turn): angle % _FULL_MDEG for angle in angles_mdeg}
    return sorted(distinct.values())


def _solid(shape: Region, wider_mm: float, detail_mm: float) -> Points:
    """The shape without holes, wider by so much, with few corners, counter-clockwise."""
    import numpy as np
    import shapely
    from shapely import BufferJoinStyle

    solid = shapely.Polygon(to_polygon(shape).exterior)
    # A round widening is a polygon inscribed in the true one; what that lacks is added.
    lack = wider_mm * (1 - math.cos(math.pi / 16 * 1.5))
    reach = wider_mm + lack + _GRID_MM + detail_mm
    join = BufferJoinStyle.round if wider_mm else BufferJoinStyle.mitre
    grown = solid.buffer(reach, quad_segs=8, join_style=join, mitre_limit=2.0)
    reduced = shapely.get_exterior_ring(grown).simplify(detail_mm)
    corners = shapely.get_coordinates(reduced)[:-1]
    return np.ascontiguousarray(corners if shapely.is_ccw(reduced) else corners[::-1])


def _inscribed(part: Polygon) -> float:
    """Radius of the largest circle in the polygon."""
    import shapely

    return float(shapely.maximum_inscribed_circle(part, tolerance=_CIRCLE_MM).length)


def _inward(part: Polygon, detail_mm: float) -> list[Polygon]:
    """The part less a hair all round, with few corners."""
    return polygon_parts(part.buffer(-detail_mm, join_style="mitre").simplify(detail_mm))


def _turn(points: Points, angle_mdeg: int) -> Points:
    """Turned by the odd part of the angle first, then exactly by quarters."""
    import numpy as np

    quarters, odd = divmod(angle_mdeg, _QUARTER_MDEG)
    if odd:
        c, s = math.cos(math.radians(odd / 1000)), math.sin(math.radians(odd / 1000))
        points = points @ np.array([[c, s], [-s, c]])
    for _ in range(quarters):
        points = np.stack([-points[:, 1], points[:, 0]], axis=1)
    return points


def _outside(parts: Sequence[Polygon], box: Points, step: float) -> list[Points]:
    """All that is no ground, as outlines: a frame, the parts as its holes, their holes again."""
    import numpy as np
    import shapely

    x1, y1, x2, y2 = box + np.array([-1.0, -1.0, 1.0, 1.0])
    outlines = [np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)])]
    for part in parts:
        turned = shapely.orient_polygons(part, exterior_cw=True)
        rings = (turned.exterior, *turned.interiors)
        outlines += [shapely.get_coordinates(ring)[:-1] / step for ring in rings]
    return outlines
