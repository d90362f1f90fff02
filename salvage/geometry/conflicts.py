"""
What stands in the way of cutting a piece where it was put.

The piece itself must lie on the board, not over the edge and not over a hole, and must not overlap
an earlier cut or the kerf round it. The piece and the kerf that the tool will take round it must
not touch a keep-out or a reservation. Its kerf may run over the edge and over earlier kerfs: there
is nothing left there to spoil.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from salvage.geometry.ledger import Taken
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import grow, intersect, polygon_parts, subtract
from salvage.records.region import Region
from salvage.units import from_um

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

ConflictKind = Literal["edge", "cut", "keep-out", "reservation"]

# Two edges that meant to touch may each be half a micrometre off, a turned corner 0.7, and a grown
# edge one more. So an overlap no deeper than this is rounding. Depth decides, not area: along
# a 300 mm edge one micrometre is already 0.3 mm².
NOISE_DEPTH_MM = 0.002


@dataclass(frozen=True, slots=True)
class Conflict:
    """
    One thing in the way.

    Args:
        kind: ``edge`` for the outline and its holes, else what was taken.
        label: The label of what was taken; empty for the edge.
        overlap_mm2: Area in conflict; for the edge, the area off the board.
        depth_mm: How far it reaches over the edge or into the other.
        where_mm: A point inside the largest part in conflict.
    """

    kind: ConflictKind
    label: str
    overlap_mm2: float
    depth_mm: float
    where_mm: tuple[float, float]


def find_conflicts(
    region: Region,
    *,
    kerf_mm: float,
    outline: Region,
    taken: Sequence[Taken],
    ignore: Collection[str] = (),
) -> tuple[Conflict, ...]:
    """
    Everything in the way of cutting *region*: the edge first, then in the order of *taken*.

    Args:
        region: The piece where it would be cut, in board coordinates.
        kerf_mm: Width the tool will take round it.
        outline: The board's edge with its holes.
        taken: Earlier cuts, keep-outs and reservations.
        ignore: Labels of keep-outs and reservations that do not count, such as the reservation
            this piece was made for. Earlier cuts always count.
    """
    piece = to_polygon(region)
    grown = grow(piece, kerf_mm)
    board = to_polygon(outline)
    edge = _conflict("edge", "", subtract(piece, board), beyond=board)
    found = [edge] if edge else []
    for item in taken:
        if item.kind != "cut" and item.label in ignore:
            continue
        if not _boxes_meet(grown, item):
            continue
        conflict = _conflict_with(item, piece, grown)
        if conflict:
            found.append(conflict)
    return tuple(found)


def say(conflict: Conflict) -> str:
    """
    A conflict as half a sentence, to stand after the name of the piece.

    >>> say(Conflict("edge", "", 12.0, 3.1, (0.0, 0.0)))
    'reaches over the edge by 3.1 mm (12 mm²)'
    >>> say(Conflict("keep-out", "serial port", 34.2, 5.0, (0.0, 0.0)))
    "overlaps keep-out 'serial port' by 34.2 mm²"
    """
    area = f"{_one_decimal(conflict.overlap_mm2)} mm²"
    if conflict.kind == "edge":
        return f"reaches over the edge by {_one_decimal(conflict.depth_mm)} mm ({area})"
    if conflict.kind == "cut":
        return f"overlaps cut '{conflict.label}' or its kerf by {area}"
    return f"overlaps {conflict.kind} '{conflict.label}' by {area}"


def _conflict_with(item: Taken, piece: Polygon, grown: MultiPolygon) -> Conflict | None:
    other: BaseGeometry = to_polygon(item.region)
    if item.kind == "cut":
        other = grow(other, from_um(item.kerf_um))
        overlap = intersect(piece, other)
    else:
        overlap = intersect(grown, other)
    return _conflict(item.kind, item.label, overlap, beyond=other.boundary)


def _conflict(
    kind: ConflictKind, label: str, overlap: MultiPolygon, *, beyond: BaseGeometry
) -> Conflict | None:
    """The conflict, or None if the overlap is rounding; *beyond* is where depth is counted from."""
    import shapely

    if overlap.is_empty:
        return None
    corners = shapely.points(shapely.get_coordinates(overlap))
    depth = float(shapely.distance(corners, beyond).max())
    largest = max(polygon_parts(overlap), key=lambda part: part.area)
    # A hole quite covered has all its corners on the edge; its middle tells how far off it is.
    spoke = shapely.maximum_inscribed_circle(largest)
    depth = max(depth, spoke.length)
    if depth <= NOISE_DEPTH_MM:
        return None
    x, y = spoke.coords[0]
    return Conflict(kind, label, overlap.area, depth, (x, y))


def _boxes_meet(grown: MultiPolygon, item: Taken) -> bool:
    left, bottom, right, top = (from_um(value) for value in item.region.bounds_um)
    reach = from_um(item.kerf_um) + NOISE_DEPTH_MM
    x0, y0, x1, y1 = grown.bounds
    return left - reach < x1 and x0 < right + reach and bottom - reach < y1 and y0 < top + reach


def _one_decimal(value: float) -> str:
    return "less than 0.1" if value < 0.05 else f"{value:.1f}".removesuffix(".0")
