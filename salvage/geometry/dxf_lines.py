"""
The lines of a drawing-exchange file (DXF) as straight steps in millimetres.

Unfolds blocks, leaves out what is hidden, and refuses what is no line. A hostile file may nest
blocks without end, so whatever is looked at is counted.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm, arc_steps
from salvage.geometry.rings import MOST_MM

MOST_POINTS = 20_000
MOST_ENTITIES = 20_000
MOST_LEVELS = 20

# A drawing may lie anywhere, but beyond this the last digits no longer hold a micrometre.
_FARTHEST_MM = 1e8
# Lines count as flat if their heights differ by less than this.
_FLAT_MM = 0.01

_MENDS = {
    "TEXT": "turn the text into lines in the drawing program, or hide its layer",
    "MTEXT": "turn the text into lines in the drawing program, or hide its layer",
    "ATTRIB": "turn the text into lines in the drawing program, or hide its layer",
    "ATTDEF": "turn the text into lines in the drawing program, or hide its layer",
    "DIMENSION": "remove the dimensions, or hide their layer",
    "LEADER": "remove the leaders, or hide their layer",
    "MULTILEADER": "remove the leaders, or hide their layer",
    "HATCH": "remove the hatching; its outline is what counts",
    "IMAGE": "trace the picture into a line in the drawing program",
    "RAY": "remove the endless construction lines",
    "XLINE": "remove the endless construction lines",
}
_OTHERWISE = "draw the outline with lines, arcs, circles, ellipses, splines or polylines"
# A point has no extent; a viewport belongs to the paper; a definition is no drawing.
_NOTHING = frozenset({"POINT", "VIEWPORT", "SEQEND"})
# The layer that drawing programs never print.
_NEVER_SHOWN = "DEFPOINTS"


@dataclass(frozen=True, slots=True)
class Stroke:
    """
    One line of a drawing.

    Args:
        points: Its points in millimetres.
        closed: Whether it ends where it starts; the first point is then not repeated.
    """

    points: tuple[PointMm, ...]
    closed: bool


class Strokes:
    """
    The strokes of a drawing.

    Args:
        drawing: The drawing library's document.
        mm: Millimetres of a drawing unit.
        tolerance_mm: Largest distance of a straight step from its curve.
        layers: The only layers that count, in any case; all that are shown if left out.
    """

    def __init__(
        self,
        drawing: Any,
        *,
        mm: float,
        tolerance_mm: float,
        layers: Collection[str] | None = None,
    ) -> None:
        self._drawing = drawing
        self._layers = None if layers is None else {layer.upper() for layer in layers}
        self._mm = mm
        self._tolerance = tolerance_mm / mm
        self._points_left = MOST_POINTS
        self._entities_left = MOST_ENTITIES
        self._height: float | None = None

    def all(self) -> list[Stroke]:
        """All strokes of the model that are shown."""
        return list(self._strokes(self._drawing.modelspace(), MOST_LEVELS, "0"))

    def _strokes(self, entities: Iterable[Any], levels: int, inherited: str) -> Iterator[Stroke]:
        for entity in entities:
            self._count_entity()
            # Inside a block, layer 0 stands for the layer of the block.
            layer = entity.dxf.layer if entity.dxf.layer != "0" else inherited
            if not self._is_shown(entity, layer):
                continue
            kind = entity.dxftype()
            if kind == "INSERT":
                yield from self._unfold(entity, levels, layer)
            elif kind not in _NOTHING and self._is_wanted(layer):
                yield from self._lines_of(entity, kind)

    def _count_entity(self) -> None:
        self._entities_left -= 1
        if self._entities_left < 0:
            raise BadFile(
                f"the drawing has more than {MOST_ENTITIES} elements",
                hint="simplify it in the drawing program",
            )

    def _is_shown(self, entity: Any, layer: str) -> bool:
        if entity.dxf.get("invisible", 0) or layer.upper() == _NEVER_SHOWN:
            return False
        if not self._drawing.layers.has_entry(layer):
            return True
        entry = self._drawing.layers.get(layer)
        return bool(entry.is_on() and not entry.is_frozen())

    def _is_wanted(self, layer: str) -> bool:
        return self._layers is None or layer.upper() in self._layers

    def _unfold(self, insert: Any, levels: int, layer: str) -> Iterator[Stroke]:
        if levels == 0:
            raise BadFile(
                f"the drawing nests more than {MOST_LEVELS} blocks",
                hint="explode the blocks in the drawing program",
            )
        block = insert.block()
        if block is None:
            raise BadFile(
                f"the drawing inserts the block '{insert.dxf.name}', which it does not hold",
                hint="bind or explode the blocks in the drawing program",
            )
        # The library goes through rows and columns even where no room is between them.
        rows, columns = (max(1, abs(n)) for n in (insert.dxf.row_count, insert.dxf.column_count))
        if rows * columns * (len(block) + 1) > self._entities_left:
            self._entities_left = 0
            self._count_entity()
        for attribute in insert.attribs:
            if self._is_shown(attribute, attribute.dxf.layer) and self._is_wanted(layer):
                self._refuse("ATTRIB")
        single = [insert] if insert.mcount == 1 else insert.multi_insert()
        for one in single:
            parts = (e for e in one.virtual_entities() if e.dxftype() != "ATTDEF")
            yield from self._strokes(parts, levels - 1, layer)

    def _refuse(self, kind: str) -> None:
        raise BadFile(f"the drawing holds a '{kind}'", hint=_MENDS.get(kind, _OTHERWISE))

    def _lines_of(self, entity: Any, kind: str) -> Iterator[Stroke]:
        if kind == "LINE":
            yield self._stroke([entity.dxf.start, entity.dxf.end], closed=False)
        elif kind == "CIRCLE":
            quarters = [self._round(entity, 90.0 * turn, 90.0)[:-1] for turn in range(4)]
            yield self._stroke([point for quarter in quarters for point in quarter], closed=True)
        elif kind == "ARC":
            yield self._stroke(self._arc(entity), closed=False)
        elif kind == "ELLIPSE":
            self._check_radius(entity.dxf.major_axis.magnitude, math.tau)
            yield self._stroke(entity.flattening(self._tolerance), closed=False)
        elif kind == "SPLINE":
            self._check_spline(entity)
            yield self._stroke(self._spline(entity), closed=bool(entity.closed))
        elif kind in ("LWPOLYLINE", "POLYLINE"):
            yield from self._polyline(entity, kind)
        else:
            self._refuse(kind)

    def _arc(self, arc: Any) -> list[Any]:
        sweep = (arc.dxf.end_angle - arc.dxf.start_angle) % 360
        return self._round(arc, arc.dxf.start_angle, sweep or 360.0)

    def _round(self, entity: Any, start: float, sweep: float) -> list[Any]:
        """
        Points along a part of a circle, its ends on it.

        The points between lie outside it by less than the tolerance, just so far that the area to
        the centre is that of the arc.
        """
        radius, angle = abs(entity.dxf.radius), math.radians(sweep)
        count = self._count_steps(radius, angle)
        step = angle / count
        # (count - 2) triangles with both corners at k times the radius, and two with one of them.
        share = count * step / math.sin(step)
        ratio = share / 2 if count == 2 else (math.sqrt(1 + (count - 2) * share) - 1) / (count - 2)
        points = list(entity.vertices([start + sweep * i / count for i in range(count + 1)]))
        middle = entity.ocs().to_wcs(entity.dxf.center)
        inner = [middle + (point - middle) * ratio for point in points[1:-1]]
        return [points[0], *inner, points[-1]]

    def _count_steps(self, radius: float, angle: float) -> int:
        self._check_radius(radius, angle)
        steps = arc_steps(radius * self._mm, angle, tolerance_mm=self._tolerance * self._mm)
        # At least two, and none of a quarter turn, so that the area can be made good.
        return max(2, steps, math.ceil(angle / (math.pi / 4)))

    def _check_radius(self, radius: float, sweep: float) -> None:
        """Refuse a curve before it is cut into millions of steps."""
        if not math.isfinite(radius) or radius * self._mm > _FARTHEST_MM:
            self._refuse_coordinate()
        steps = arc_steps(radius * self._mm, sweep, tolerance_mm=self._tolerance * self._mm)
        if steps > self._points_left:
            self._refuse_amount()

    def _check_spline(self, spline: Any) -> None:
        points = [*spline.control_points, *spline.fit_points]
        flat = [float(value) * self._mm for point in points for value in tuple(point)[:2]]
        if not all(map(math.isfinite, flat)):
            self._refuse_coordinate()
        if flat and max(max(flat[0::2]) - min(flat[0::2]), max(flat[1::2]) - min(flat[1::2])) > (
            100 * MOST_MM
        ):
            raise BadFile("a spline of the drawing is huge", hint="check the unit")

    def _spline(self, entity: Any) -> Iterator[Any]:
        """
        Points along a spline, span by span.

        Only the inner knots count: the library's own steps also follow the curve beyond its ends.
        """
        curve = entity.construction_tool()
        knots, degree = curve.knots(), curve.degree
        inner = sorted(set(knots[degree : len(knots) - degree]))
        yield curve.point(inner[0])
        for start, stop in pairwise(inner):
            yield from self._span(curve, start, stop)

    def _span(self, curve: Any, start: float, stop: float) -> list[Any]:
        """Twice as many steps until none of them strays, counted at its middle."""
        count = 4
        while True:
            if count > self._points_left:
                self._refuse_amount()
            marks = [start + (stop - start) * i / (2 * count) for i in range(2 * count + 1)]
            points = list(curve.points(marks))
            strays = (
                points[i].distance((points[i - 1] + points[i + 1]) / 2)
                for i in range(1, 2 * count, 2)
            )
            if max(strays) <= self._tolerance:
                return points[2::2]
            count *= 2

    def _polyline(self, entity: Any, kind: str) -> Iterator[Stroke]:
        if kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline):
            self._refuse("mesh")
        parts = list(entity.virtual_entities())
        points: list[Any] = []
        for part in parts:
            run = self._run(part)
            if points and not _near(points[-1], run[0]):
                run.reverse()
            if len(points) > 1 and not _near(points[-1], run[0]):
                points.reverse()  # the first part was drawn against the run of the line
            points += run if not points else run[1:]
        closed = bool(entity.is_closed)
        if points:
            yield self._stroke(points, closed=closed)

    def _run(self, part: Any) -> list[Any]:
        if part.dxftype() == "LINE":
            return [part.dxf.start, part.dxf.end]
        return self._arc(part)

    def _stroke(self, vertices: Iterable[Any], *, closed: bool) -> Stroke:
        points: list[PointMm] = []
        for vertex in vertices:
            self._points_left -= 1
            if self._points_left < 0:
                self._refuse_amount()
            x, y, z = (float(value) * self._mm for value in (*vertex, 0.0)[:3])
            if not abs(x) + abs(y) + abs(z) < _FARTHEST_MM:
                self._refuse_coordinate()
            self._check_flat(z)
            points.append((x, y))
        if len(points) > 1 and math.dist(points[0], points[-1]) < 1e-6:
            closed = len(points) > 2
            points.pop()
        return Stroke(tuple(points), closed and len(points) > 1)

    def _check_flat(self, z: float) -> None:
        if self._height is None:
            self._height = z
        elif abs(z - self._height) > _FLAT_MM:
            raise BadFile(
                "the drawing is not flat, its lines lie at different heights",
                hint="export it as a flat drawing, all at one height",
            )

    def _refuse_amount(self) -> None:
        raise BadFile(
            f"the drawing has more than {MOST_POINTS} points",
            hint="simplify its lines, or check the unit",
        )

    def _refuse_coordinate(self) -> None:
        raise BadFile("the drawing has a coordinate that is out of range", hint="export it again")


def _near(one: Any, other: Any) -> bool:
    """Whether two points are one but for rounding of an arc's angles."""
    gap = math.hypot(one[0] - other[0], one[1] - other[1])
    size: float = max(1.0, abs(one[0]), abs(one[1]))
    return gap <= 1e-7 * size
