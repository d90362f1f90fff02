"""
What a shape asks of the tool: its narrowest material and gap, and what the bit cannot do.

A round bit runs outside the outline and inside the holes. It reaches every place that a disc of its
width can sweep there; what it cannot reach stays on the piece: rounded inner corners, slots that
stay closed. Where the material is thinner than the least wall, it may break. Lengths are
millimetres.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from salvage.geometry.outline import to_polygon, to_regions
from salvage.geometry.overlay import grow, open_by, polygon_parts, subtract
from salvage.records.region import Region

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

LossKind = Literal["inner corner", "slot", "point", "thin part"]

# Fibreglass board thinner than this chips and breaks while it is cut (common practice, no source).
LEAST_WALL_MM = 1.0

# In a corner of 90 degrees the bit leaves 0.41 of its radius standing, in one of 84 degrees half.
# Deeper than that it is a slot or a notch that will look wrong.
_CORNER_DEPTH = 0.25
# A tip of 30 degrees loses 1.43 times its width when blunted to that width. Longer is a thin part.
_TIP_DEPTH = 1.5
# What is lost to less than this depth is the rounding of corners drawn in straight steps.
_NOISE_MM = 0.03
_SEARCH_STEPS = 14
_FINEST_MM = 0.01
_BESIDE_MM = 0.001
_WALK_MM = 0.1
# Less than a hair between two steps of an arc.
_DUST_MM2 = 1e-4


@dataclass(frozen=True, slots=True)
class Loss:
    """
    A place where what is cut will not be what was drawn.

    Args:
        kind: ``inner corner`` (stays rounded), ``slot`` (stays closed), ``point`` (a sharp tip
            thinner than the wall), ``thin part`` (may break).
        region: Where, in the shape's coordinates.
        depth_mm: How far it reaches from what can be cut well.
        where_mm: A point in it.
    """

    kind: LossKind
    region: Region
    depth_mm: float
    where_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ShapeFacts:
    """
    Measures of a shape and what a bit makes of it.

    Args:
        area_mm2: Area less the holes.
        size_mm: Width and height of the bounding box.
        least_width_mm: Narrowest material, sharp tips left out.
        least_gap_mm: Narrowest slot, hole or notch: the widest bit that still clears everything
            but right-angled corners; None where nothing faces anything.
        cuttable: Whether there is neither a slot nor a thin part.
        what_is_lost: Every place that will not come out as drawn, deepest first.
    """

    area_mm2: float
    size_mm: tuple[float, float]
    least_width_mm: float
    least_gap_mm: float | None
    cuttable: bool
    what_is_lost: tuple[Loss, ...]


def shape_facts(
    region: Region, *, tool_mm: float, least_wall_mm: float = LEAST_WALL_MM
) -> ShapeFacts:
    """
    The facts of a shape for a bit.

    Args:
        region: The shape.
        tool_mm: Width of the bit; 0 for shears, which leave nothing standing.
        least_wall_mm: Material thinner than this may break.

    >>> from salvage.geometry.outline import rectangle
    >>> facts = shape_facts(rectangle(40, 25), tool_mm=2)
    >>> facts.least_width_mm, facts.least_gap_mm, facts.cuttable
    (25.0, None, True)
    """
    polygon = to_polygon(region)
    lost = _unreached(polygon, tool_mm) + _frail(polygon, least_wall_mm)
    return ShapeFacts(
        area_mm2=region.area_mm2,
        size_mm=region.size_mm,
        least_width_mm=_least_width(polygon),
        least_gap_mm=_least_gap(polygon),
        cuttable=all(loss.kind in ("inner corner", "point") for loss in lost),
        what_is_lost=tuple(sorted(lost, key=lambda loss: (-loss.depth_mm, loss.region.outer))),
    )


def say(loss: Loss) -> str:
    """
    A loss as half a sentence.

    >>> say(Loss("slot", Region(((0, 0), (1000, 0), (0, 1000))), 3.14, (12.0, 4.5)))
    'slot near x 12.0 mm, y 4.5 mm stays closed (3.1 mm deep)'
    """
    ends = {
        "inner corner": "stays rounded",
        "slot": "stays closed",
        "point": "is thinner than the least wall",
        "thin part": "may break",
    }
    x, y = loss.where_mm
    deep = f"{loss.depth_mm:.1f} mm {'deep' if loss.kind in ('inner corner', 'slot') else 'long'}"
    return f"{loss.kind} near x {x:.1f} mm, y {y:.1f} mm {ends[loss.kind]} ({deep})"


def _unreached(polygon: Polygon, tool_mm: float) -> list[Loss]:
    """What a bit leaves standing outside the outline and in the holes."""
    if tool_mm <= 0:
        return []
    room = _room(polygon, tool_mm)
    reached = open_by(room, tool_mm)
    found = []
    for part in _parts(subtract(room, reached)):
        depth, doors = _depth(part, reached)
        if depth > _NOISE_MM:
            is_corner = doors == 1 and depth <= _CORNER_DEPTH * tool_mm
            found += _losses("inner corner" if is_corner else "slot", part, depth)
    return found


def _frail(polygon: Polygon, wall_mm: float) -> list[Loss]:
    """Where the material is thinner than the wall."""
    if wall_mm <= 0:
        return []
    sturdy = open_by(polygon, wall_mm)
    found = []
    for part in _parts(subtract(polygon, sturdy)):
        depth, doors = _depth(part, sturdy)
        # A corner of 90 degrees loses 0.21 of the width; all corners do, and nobody minds.
        if doors == 1 and depth <= max(_NOISE_MM, _CORNER_DEPTH * wall_mm):
            continue
        is_tip = doors == 1 and depth <= _TIP_DEPTH * wall_mm
        if depth > _NOISE_MM:
            found += _losses("point" if is_tip else "thin part", part, depth)
    return found


def _parts(area: BaseGeometry) -> list[Polygon]:
    return [part for part in polygon_parts(area) if part.area > _DUST_MM2]


def _losses(kind: LossKind, part: Polygon, depth_mm: float) -> list[Loss]:
    point = part.representative_point()
    return [Loss(kind, region, depth_mm, (point.x, point.y)) for region in to_regions(part)[:1]]


def _depth(part: Polygon, good: BaseGeometry) -> tuple[float, int]:
    """
    How far the farthest corner lies from what is cut well beside it, and beside how many parts.

    What touches nothing that is cut well is as deep as it is wide and high.
    """
    import shapely

    beside = polygon_parts(good.intersection(part.buffer(_BESIDE_MM)))
    if not beside:
        return max(_size(part)), 0
    # A neck has its corners at both ends; its middle tells how long it is.
    walk = shapely.segmentize(part.exterior, max(_WALK_MM, part.length / 400))
    corners = shapely.points(shapely.get_coordinates(walk))
    doors = shapely.union_all(beside)
    whole = shapely.get_parts(good)
    return (
        float(shapely.distance(corners, doors).max()),
        int((shapely.distance(part, whole) < _BESIDE_MM).sum()),
    )


def _room(polygon: Polygon, tool_mm: float) -> MultiPolygon:
    """All round the shape and in its holes, wide enough for the bit to go round outside."""
    return subtract(grow(polygon.convex_hull, 2 * tool_mm), polygon)


def _size(part: Polygon) -> tuple[float, float]:
    left, bottom, right, top = part.bounds
    return right - left, top - bottom


def _least_width(polygon: Polygon) -> float:
    import shapely

    widest = 2 * shapely.maximum_inscribed_circle(polygon, tolerance=_FINEST_MM / 4).length

    def holds(width_mm: float) -> bool:
        return all(loss.kind == "point" for loss in _frail(polygon, width_mm))

    return _largest(holds, widest)


def _least_gap(polygon: Polygon) -> float | None:
    """The widest bit that leaves nothing but corners; a shape's own size is wide enough to ask."""
    widest = max(_size(polygon))

    def holds(tool_mm: float) -> bool:
        return all(loss.kind == "inner corner" for loss in _unreached(polygon, tool_mm))

    return None if holds(widest) else _largest(holds, widest)


def _largest(holds: Callable[[float], bool], most: float) -> float:
    """The largest width up to *most* for which it holds, by halving; to a hundredth."""
    if holds(most - 2 * _FINEST_MM):
        return round(most, 2)
    low, high = 0.0, most
    for _ in range(_SEARCH_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
        if high - low < _FINEST_MM:
            break
    return round(low, 2)
