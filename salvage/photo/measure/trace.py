"""
From a body on the field to a ring with holes, and from there to a region in the board frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import View, px_per_mm
from salvage.photo.measure.contour import Heights, Rim, join_rims, lift_rim, refine_rim
from salvage.photo.measure.holes import FoundHole, measure_hole
from salvage.photo.measure.pictures import draw_overlay, draw_squared, to_board
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.result import Hole, Pictures, Placing
from salvage.photo.measure.straighten import Straightened, straighten
from salvage.records.region import Region, Ring
from salvage.units import to_um

if TYPE_CHECKING:
    import numpy as np
    import shapely
    from numpy.typing import NDArray

    from salvage.photo.measure.field import Body, Field
    from salvage.photo.measure.sharpness import Blur

    Floats = NDArray[np.float64]

_FIELD_ROOM_MM = 6.0
_STRAIGHT_MM, _STRAIGHT_PX = 0.03, 0.3
_MOST_HOLES = 400


@dataclass(frozen=True, slots=True)
class Sight:
    """
    A photo, where places are seen in it, and how it softens edges.

    Args:
        rgb: Its pixels.
        view: Where places are seen.
        field: Its field, squared up.
        blur: How it softens edges.
    """

    rgb: NDArray[np.uint8]
    view: View
    field: Field
    blur: Blur


@dataclass(frozen=True, slots=True)
class Traced:
    """
    A body's edge in the mat frame.

    Args:
        rim: Its refined rim in the photo.
        edge: The ring, straightened.
        holes: Its holes.
        doubtful: How many specks looked like holes and are none for certain.
        px_per_mm: Pixels per mm there.
    """

    rim: Rim
    edge: Straightened
    holes: tuple[FoundHole, ...]
    doubtful: int
    px_per_mm: float


def trace_rim(sight: Sight, body: Body, heights: Heights) -> Rim:
    """The outer rim of a body, refined on the photo."""
    rough = _turned(sight.field.to_mm(body.outer), clockwise=False)
    return refine_rim(
        sight.rgb, sight.view, rough, heights=heights, blur=sight.blur, room_mm=_FIELD_ROOM_MM
    )


def trace_body(
    sight: Sight, body: Body, heights: Heights, *, second: tuple[Rim, View] | None = None
) -> Traced:
    """
    A body's edge and holes.

    Args:
        sight: The photo.
        body: The body in the grid.
        heights: Where its faces are.
        second: Its outer rim in a second photo, and where places are seen in that.
    """
    rim = trace_rim(sight, body, heights)
    if second:
        places = join_rims((rim, second[0]), (sight.view, second[1]), heights)
    else:
        places = lift_rim(rim, sight.view, heights)
    middle = places.mean(axis=0)
    scale = px_per_mm(sight.view, (float(middle[0]), float(middle[1])), heights.upper_mm)
    edge = straighten(places, tolerance_mm=max(_STRAIGHT_MM, _STRAIGHT_PX / scale))
    tried = [
        measure_hole(
            sight.rgb,
            sight.view,
            _turned(sight.field.to_mm(hole), clockwise=True),
            heights=heights,
            blur=sight.blur,
        )
        for hole in body.holes[:_MOST_HOLES]
    ]
    holes = tuple(hole for hole in tried if hole)
    return Traced(rim, edge, holes, len(body.holes) - len(holes), scale)


def _turned(ring: Floats, *, clockwise: bool) -> Floats:
    """The ring walked the wanted way round."""
    x, y = ring[:, 0], ring[:, 1]
    twice = float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() + x[-1] * y[0] - x[0] * y[-1])
    return ring if (twice < 0) == clockwise else ring[::-1].copy()


@dataclass(frozen=True, slots=True)
class Settled:
    """
    A traced body in the board frame.

    Args:
        outline: Its region, holes included.
        holes: Its holes, largest first.
        placing: How the board frame lies in the mat frame.
        radius_mm: Mean distance of the outline from its middle.
        rim_mm: Length of all rims.
    """

    outline: Region
    holes: tuple[Hole, ...]
    placing: Placing
    radius_mm: float
    rim_mm: float


def settle_body(traced: Traced) -> Settled:
    """
    The board frame: most edges upright or level, lower left corner at the origin.

    Raises:
        PhotoRefused: ``cluttered``, if the edge crosses itself and nothing can be made of it.
    """
    import numpy as np

    turn = traced.edge.angle
    level = to_board(traced.edge.ring, Placing(turn, (0.0, 0.0)))
    low = level.min(axis=0)
    c, s = math.cos(turn), math.sin(turn)
    origin = (float(c * low[0] - s * low[1]), float(s * low[0] + c * low[1]))
    placing = Placing(turn, origin)
    outer = _tidy(to_board(traced.edge.ring, placing))
    rings: list[Floats] = []
    holes: list[Hole] = []
    for hole in sorted(traced.holes, key=lambda hole: -hole.diameter_mm):
        ring = to_board(hole.ring, placing)
        if not _fits(ring, outer, rings):
            continue
        rings.append(ring)
        x, y = to_board(np.array([hole.centre]), placing)[0]
        holes.append(
            Hole((float(x), float(y)), hole.diameter_mm, hole.off_round_mm, hole.kind, hole.size_mm)
        )
    corners = np.asarray(outer.exterior.coords)[:-1]
    region = Region(
        _ring(_turned(corners, clockwise=False)),
        tuple(_ring(_turned(ring, clockwise=True)) for ring in rings),
    )
    along = np.array(
        [outer.exterior.interpolate(k / 100, normalized=True).coords[0] for k in range(100)]
    )
    radius = float(np.linalg.norm(along - along.mean(axis=0), axis=1).mean())
    rim = outer.exterior.length + sum(math.pi * hole.diameter_mm for hole in holes)
    return Settled(region, tuple(holes), placing, radius, rim)


def draw_pictures(sight: Sight, traced: Traced, settled: Settled, *, z: float) -> Pictures:
    """
    The pictures of a measurement.

    Args:
        sight: The photo.
        traced: The board's edge.
        settled: The board in its own frame.
        z: Height of its upper face.
    """
    import numpy as np

    squared, scale = draw_squared(
        sight.rgb,
        sight.view,
        settled.placing,
        settled.outline.size_mm,
        z=z,
        native=traced.px_per_mm,
    )
    rings = [traced.edge.ring, *(hole.ring for hole in traced.holes)]
    pixels = [
        sight.view.project(np.concatenate([ring, np.full((len(ring), 1), z)], axis=1))
        for ring in rings
    ]
    return Pictures(squared, scale, draw_overlay(sight.rgb, pixels))


def _tidy(ring: Floats) -> shapely.Polygon:
    import shapely

    outer = shapely.Polygon(ring)
    if outer.is_valid:
        return outer
    parts = [part for part in shapely.get_parts(outer.buffer(0)) if part.area > 0]
    if not parts:
        raise PhotoRefused("cluttered", "the board's edge cannot be followed")
    largest: shapely.Polygon = max(parts, key=lambda part: part.area)
    return shapely.Polygon(largest.exterior)


def _fits(ring: Floats, outer: shapely.Polygon, others: list[Floats]) -> bool:
    """Whether a hole lies inside the outer ring and clear of the other holes."""
    import shapely

    hole = shapely.Polygon(ring)
    if not (hole.is_valid and outer.contains(hole)):
        return False
    return not any(hole.intersects(shapely.Polygon(other)) for other in others)


def _ring(points: Floats) -> Ring:
    whole = [(to_um(float(x)), to_um(float(y))) for x, y in points]
    return tuple(p for k, p in enumerate(whole) if p != whole[k - 1])
