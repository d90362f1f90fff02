"""
The ground on which a piece may lie, prepared for asking what fits.

Made from a board and what was taken from it, ground is exactly where a piece meets no conflict
(:mod:`salvage.geometry.conflicts`): on the outline and off its holes, a kerf's width away from
keep-outs and reservations, outside earlier cuts and their own kerfs. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeGuard

from salvage.geometry.distance import MARGIN_MM, draw_distance
from salvage.geometry.edges import Edges
from salvage.geometry.ledger import Ledger, Taken
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import grow, polygon_parts, polygons, subtract, unite
from salvage.geometry.probes import least_width
from salvage.geometry.raster import Frame, frame_round
from salvage.geometry.sheet import Sheet, lay_out
from salvage.records.region import Region
from salvage.units import from_um

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

# Step of the map of one board; where it leaves a doubt, a window is drawn finer.
COARSE_MM = 0.5
# The largest circle of a part is found to this; its true radius is at most so much more.
CIRCLE_TOLERANCE_MM = 0.01


@dataclass(frozen=True, slots=True)
class Part:
    """
    Measures of one connected part of the ground.

    Args:
        area_mm2: Its area.
        inscribed_mm: Radius of the largest circle in it: never too large, at most
            :data:`CIRCLE_TOLERANCE_MM` too small.
        x_mm: Centre of that circle.
        y_mm: The same upward.
        least_width_mm: Least width of its hull.
        longest_mm: Largest distance between two of its points.
    """

    area_mm2: float
    inscribed_mm: float
    x_mm: float
    y_mm: float
    least_width_mm: float
    longest_mm: float


class Ground:
    """
    An area with its measures, and its maps drawn when first needed.

    Args:
        area: Polygons in board coordinates.
    """

    __slots__ = ("_edges", "_maps", "_parts", "_sheets", "area")

    def __init__(self, area: BaseGeometry) -> None:
        import shapely

        self.area: MultiPolygon = area if _is_plain(area) else polygons(area)
        shapely.prepare(self.area)
        self._edges: Edges | None = None
        self._parts: tuple[Part, ...] | None = None
        self._maps: dict[float, tuple[NDArray[np.int16], Frame]] = {}
        self._sheets: dict[float, tuple[float, Sheet]] = {}

    @property
    def parts(self) -> tuple[Part, ...]:
        """Connected parts, the one with the largest circle first."""
        if self._parts is None:
            found = [measure_part(part) for part in polygon_parts(self.area)]
            self._parts = tuple(sorted(found, key=lambda part: -part.inscribed_mm))
        return self._parts

    @property
    def edges(self) -> Edges:
        """All edges of all outlines and holes."""
        if self._edges is None:
            self._edges = Edges(self.area)
        return self._edges

    def distance_map(self, step_mm: float) -> tuple[NDArray[np.int16], Frame]:
        """The map of distances and its frame."""
        if step_mm not in self._maps:
            frame = frame_round(self.area.bounds, step_mm=step_mm, margin_mm=MARGIN_MM)
            self._maps[step_mm] = draw_distance(self.area, frame), frame
        return self._maps[step_mm]

    def sheet(self, step_mm: float, *, reach_mm: float) -> Sheet:
        """The map laid out for a shape that reaches so far."""
        kept = self._sheets.get(step_mm)
        if kept is None or kept[0] < reach_mm:
            drawn, frame = self.distance_map(step_mm)
            kept = reach_mm, lay_out([drawn], [frame], reach_mm=reach_mm)
            self._sheets[step_mm] = kept
        return kept[1]


def _is_plain(area: BaseGeometry) -> TypeGuard[MultiPolygon]:
    return area.geom_type == "MultiPolygon" and not area.is_empty


def ground_of_board(
    outline: Region,
    taken: Sequence[Taken],
    *,
    kerf_mm: float,
    beside_cut_mm: float = 0.0,
    ignore: Iterable[str] = (),
) -> Ground:
    """
    Where a piece may lie on a board without a conflict.

    Args:
        outline: The board's edge with its holes.
        taken: Earlier cuts, keep-outs and reservations.
        kerf_mm: Width the tool will take round the piece.
        beside_cut_mm: Room to leave beside the kerf of an earlier cut, such as a wall and the
            tool's own width.
        ignore: Labels of keep-outs and reservations that do not count.

    >>> from salvage.geometry.outline import rectangle
    >>> ground = ground_of_board(
    ...     rectangle(100, 50), [Taken("keep-out", "port", rectangle(20, 50))], kerf_mm=2
    ... )
    >>> round(ground.area.area)
    3900
    """
    left_out = frozenset(ignore)
    blocked: list[BaseGeometry] = []
    for item in taken:
        if item.kind == "cut":
            room = from_um(max(0, item.kerf_um)) + beside_cut_mm
        elif item.label in left_out:
            continue
        else:
            room = kerf_mm
        blocked.append(grow(to_polygon(item.region), room))
    return Ground(subtract(to_polygon(outline), unite(blocked)))


def ground_of_regions(regions: Iterable[Region]) -> Ground:
    """Ground that is given as regions, such as the usable layer of a ledger."""
    return Ground(unite(to_polygon(region) for region in regions))


def as_ground(area: Ground | Ledger | Sequence[Region]) -> Ground:
    """Ground of what a caller has: for a ledger, its usable layer."""
    if isinstance(area, Ground):
        return area
    return ground_of_regions(area.layers["usable"] if isinstance(area, Ledger) else area)


def measure_part(part: Polygon) -> Part:
    """The measures of one polygon."""
    import numpy as np
    import shapely

    spoke = shapely.maximum_inscribed_circle(part, tolerance=CIRCLE_TOLERANCE_MM)
    middle = shapely.Point(spoke.coords[0])
    corners = shapely.get_coordinates(part.convex_hull)
    gaps = corners[:, None, :] - corners[None, :, :]
    return Part(
        area_mm2=part.area,
        inscribed_mm=max(0.0, part.boundary.distance(middle) - 1e-9),
        x_mm=middle.x,
        y_mm=middle.y,
        least_width_mm=least_width(part),
        longest_mm=float(np.hypot(gaps[..., 0], gaps[..., 1]).max()),
    )
