"""
Shapes and boards brought to a grid for packing.

A shape is widened by half the gap, so that two which touch on the grid lie a gap apart. Its corners
are reduced, always outward, and a board's edge always inward: what the grid allows is allowed on
the board. Holes in a shape are taken as solid: nothing is packed into them. Lengths are mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import polygon_parts, unite
from salvage.geometry.placing import Placement, place
from salvage.geometry.poses import Pose, Poses
from salvage.geometry.stencil import overlap_mask
from salvage.geometry.symmetry import symmetry_of
from salvage.geometry.untangle import Room, Spot
from salvage.records.region import Region
from salvage.units import UM_PER_MM

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
# Of all turns these few are enough for a quick layout.
_FEW = 4
# What a symmetric shape may be off when it is laid on its mirror image, and the angle that is as
# good as another: 0.02 degrees move a corner 50 mm away by as much.
_ALIKE_MM = 0.02
_ALIKE_MDEG = 20


@dataclass(frozen=True, slots=True)
class Turning:
    """
    How a shape may be turned.

    Args:
        angles_mdeg: Angles to try, in thousandths of a degree.
        mirrored_allowed: Whether it may be turned over as well.
    """

    angles_mdeg: tuple[int, ...]
    mirrored_allowed: bool = False


class Cutouts:
    """
    Shapes with all their poses.

    Args:
        shapes: The shapes.
        gap_mm: Room between two pieces.
        angles_mdeg: Angles to try, in thousandths of a degree.
        step_mm: Step of the grid.
        detail_mm: How far a corner may be moved outward to save corners.
        turnings: How each shape may be turned, if not all alike by *angles_mdeg*.
    """

    def __init__(
        self,
        shapes: Sequence[Region],
        *,
        gap_mm: float,
        step_mm: float,
        angles_mdeg: Sequence[int] = (0,),
        detail_mm: float = 0.05,
        turnings: Sequence[Turning] = (),
    ) -> None:
        self.shapes = tuple(shapes)
        self.step_mm = step_mm
        self.detail_mm = detail_mm
        self.areas_mm2 = [shape.area_mm2 for shape in shapes]
        # Less what the search for the circle may be off.
        solid = [to_polygon(Region(shape.outer)) for shape in shapes]
        self.inscribed_mm = [_inscribed(polygon) - 2 * _CIRCLE_MM for polygon in solid]
        self.angles: list[int] = []
        self.turned_over: list[bool] = []
        self.kinds: list[int] = []
        self.bare: list[Points] = []
        self.of_shape: list[tuple[int, ...]] = []
        poses: list[Pose] = []
        families: dict[tuple[int, bool, int], int] = {}
        each = turnings or [Turning(tuple(angles_mdeg))] * len(shapes)
        for kind, (shape, turning) in enumerate(zip(shapes, each, strict=True)):
            wide = _solid(shape, gap_mm / 2, detail_mm)
            bare = _solid(shape, 0.0, detail_mm)
            numbers = []
            for over, angle in _distinct_turns(shape, turning):
                key = (kind, over, angle % _QUARTER_MDEG)
                family = families.setdefault(key, len(families))
                numbers.append(len(poses))
                outline = _turn(_turn_over(wide, over), angle) / step_mm
                poses.append(Pose(outline, family, angle // _QUARTER_MDEG))
                self.bare.append(_turn(_turn_over(bare, over), angle) / step_mm)
                self.angles.append(angle)
                self.turned_over.append(over)
                self.kinds.append(kind)
            self.of_shape.append(tuple(numbers))
        self.poses = Poses(poses)

    def few(self, poses: Sequence[int]) -> Sequence[int]:
        """Of a shape's poses the right angles, not turned over; else a few spread evenly."""
        plain = [pose for pose in poses if not self.turned_over[pose]]
        right = [pose for pose in plain if self.angles[pose] % _QUARTER_MDEG == 0]
        return right or plain[:: max(1, len(plain) // _FEW)]

    def has_more(self, kind: int) -> bool:
        """Whether a shape has more poses than :meth:`few` gives."""
        return len(self.few(self.of_shape[kind])) < len(self.of_shape[kind])

    def placement(self, spot: Spot) -> Placement:
        """A spot on the grid as a place on the board."""
        step_um = round(self.step_mm * UM_PER_MM)
        return Placement(
            spot.x * step_um,
            spot.y * step_um,
            self.angles[spot.pose],
            self.turned_over[spot.pose],
        )


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
    distinct: dict[int, int] = {}
    for angle in sorted(angle % _FULL_MDEG for angle in angles_mdeg):
        distinct.setdefault(round(angle % turn) % round(turn), angle)
    return sorted(distinct.values())


def _distinct_turns(shape: Region, turning: Turning) -> list[tuple[bool, int]]:
    """Sides and angles that make a difference; those not turned over come first."""
    angles = _distinct_angles(shape, turning.angles_mdeg)
    plain = [(False, angle) for angle in angles]
    symmetry = symmetry_of(shape)
    if not turning.mirrored_allowed or symmetry.is_round:
        return plain
    over = [(True, angle) for angle in angles]
    by = _mirror_turn(shape) if symmetry.mirrored else None
    if by is None:
        return plain + over
    turn = _FULL_MDEG / symmetry.order
    return plain + [
        (side, angle)
        for side, angle in over
        if all(_apart(angle + by, other, turn) > _ALIKE_MDEG for other in angles)
    ]


def _apart(one: float, other: float, turn: float) -> float:
    """How far two angles are apart, where a turn leaves the shape unchanged."""
    apart = (one - other) % turn
    return min(apart, turn - apart)


def _mirror_turn(shape: Region) -> float | None:
    """The turn, in thousandths of a degree, that makes the shape its own mirror image."""
    import numpy as np
    from shapely import affinity

    polygon = to_polygon(shape)
    image = to_polygon(place(shape, Placement(0, 0, 0, mirrored=True)))
    corners, mirrored = (_about_centre(one) for one in (polygon, image))
    away = abs(corners)
    farthest = mirrored[int(abs(mirrored).argmax())]
    image = affinity.translate(image, -image.centroid.x, -image.centroid.y)
    still = affinity.translate(polygon, -polygon.centroid.x, -polygon.centroid.y)
    for corner in corners[away >= away.max() - _ALIKE_MM]:
        degrees = float(np.degrees(np.angle(farthest / corner)))
        turned = affinity.rotate(still, degrees, origin=(0, 0))
        if turned.hausdorff_distance(image) <= _ALIKE_MM:
            return degrees * 1000
    return None


def _about_centre(polygon: Polygon) -> NDArray[np.complex128]:
    """The outer corners, seen from the centre of gravity."""
    import shapely

    corners = shapely.get_coordinates(polygon.exterior)[:-1]
    seen: NDArray[np.complex128] = (corners[:, 0] - polygon.centroid.x) + 1j * (
        corners[:, 1] - polygon.centroid.y
    )
    return seen


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


def _turn_over(points: Points, over: bool) -> Points:
    """x becomes -x, the corners still counter-clockwise."""
    import numpy as np

    return np.ascontiguousarray(points[::-1] * np.array([-1.0, 1.0])) if over else points


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
