"""
What a photo after the cut shows, against what was recorded as cut.

The measured remnant may lie in any way. It is laid on what should be left, first by all turns, then
closer and closer on the edges that agree. A remnant that lies as well after half a turn is given
with both ways, as a question; one that lies nowhere is another board's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.photo.measure.align import Fit, lay_near, lay_on, moved, polygon_of, region_of
from salvage.photo.measure.settle_size import settle_size
from salvage.photo.upright import upright_image
from salvage.records.region import Region

if TYPE_CHECKING:
    import shapely
    from shapely.geometry.base import BaseGeometry

    from salvage.photo.measure.result import Measurement

LEAST_DIFFERENCE_MM2 = 4.0
"""Smaller differences are dust, burrs and blur."""

MEASURED_EDGE_MM = 0.6
"""How far edges of one board may lie apart that were both measured."""

_WIDEST_SLIVER_MM = 0.3
_CORNER_REACH = 1.5

# Of the remnant, so much may lie beyond the board's edge: a burr, or a part that sticks out.
_MOST_OUTSIDE, _LEAST_OUTSIDE_MM2 = 0.01, 20.0

# Of the remnant's edge, so much must lie on the edge that the record tells; cuts that are not on
# record make up the rest. Of the holes that it should have, so many must be there.
_LEAST_EDGE, _LEAST_HOLES, _HOLES_TO_TELL = 0.55, 0.6, 3
_HOLE_ROOM_MM = 1.0

# Another way to lie is a rival if it explains the photo nearly as well.
_RIVAL_SHARE, _RIVAL_MM2 = 0.01, 20.0
_RIVAL_HOLES = 2
_SAME_TURN_DEG = 10.0

# Where the record knows no holes at all, mounting holes up to this size are no news.
_MOUNTING_MM = 8.0

_LONGEST_PX = 20_000
_WHITE = (255, 255, 255)


@dataclass(frozen=True, slots=True)
class CutDifferences:
    """
    Where photo and record disagree, in the board frame of the outline before the cut.

    Args:
        still_there: Regions recorded as cut that the photo still shows.
        gone: Regions that are gone although no cut was recorded.
        still_there_mm2: Their area.
        gone_mm2: Their area.
        fit: How the measured board was laid on the recorded one.
        holes_found: Recorded holes that the photo shows too.
        hole_count: Recorded holes that it should show.
    """

    still_there: tuple[Region, ...]
    gone: tuple[Region, ...]
    still_there_mm2: float
    gone_mm2: float
    fit: Fit
    holes_found: int = 0
    hole_count: int = 0

    @property
    def agrees(self) -> bool:
        """Whether photo and record tell the same."""
        return not self.still_there and not self.gone

    @property
    def turn_word(self) -> int:
        """The turn in whole degrees, 0 to 359, by which a person names this way to lie."""
        return round(math.degrees(self.fit.turn_rad)) % 360


def compare_after_cut(
    measurement: Measurement,
    outline: Region,
    recorded_cuts: Sequence[Region],
    *,
    edge_mm: float = MEASURED_EDGE_MM,
) -> tuple[CutDifferences, ...]:
    """
    Differences between a measured board and its record, for each way in which it may lie.

    Args:
        measurement: The board as it is now.
        outline: The board before its first cut.
        recorded_cuts: What was recorded as cut from it, kerf included.
        edge_mm: How far edges of one board may lie apart; more where the outline was typed.

    Returns:
        The best way first. More than one is a question for a person.

    Raises:
        Refused: If it is no remnant of that board; with how far it is off.
    """
    import shapely

    before = polygon_of(outline)
    cuts = shapely.union_all([polygon_of(cut) for cut in recorded_cuts])
    now = _without_mounting_holes(polygon_of(measurement.outline), before)
    record = _Record(before, cuts, _largest(before.difference(cuts)), edge_mm)
    first = lay_on(now, record.wanted, is_part=True)
    least = max(_WIDEST_SLIVER_MM, measurement.interval_mm)
    fits = [first, *(_turned_by(first, record.wanted, now, quarters) for quarters in (1, 2, 3))]
    ways, reasons = [], []
    for near in fits:
        fit = settle_size(now, record.wanted, near)
        laid = moved(now, fit)
        reason = _why_not(laid, record)
        if reason:
            reasons.append(reason)
        else:
            ways.append(_differences(laid, record, fit, least))
    if not ways:
        raise Refused(
            f"the photo shows another board: {reasons[0]}",
            hint="photograph the remnant of this board, its front up",
        )
    return _ranked(ways, now.area)


@dataclass(frozen=True, slots=True)
class _Record:
    """What the record tells: the board before, all that is cut, and the rest that is the board."""

    before: shapely.Polygon
    cuts: BaseGeometry
    wanted: shapely.Polygon
    edge_mm: float


def _without_mounting_holes(now: shapely.Polygon, before: shapely.Polygon) -> shapely.Polygon:
    import shapely

    if before.interiors:
        return now
    widest = math.pi * _MOUNTING_MM**2 / 4
    kept = [ring for ring in now.interiors if shapely.Polygon(ring).area > widest]
    return shapely.Polygon(now.exterior, kept)


def _turned_by(first: Fit, whole: shapely.Polygon, now: shapely.Polygon, quarters: int) -> Fit:
    """The best place near the first one turned by quarters about the middle of the whole."""
    middle = whole.envelope.centroid
    turn = quarters * math.pi / 2
    c, s = math.cos(turn), math.sin(turn)
    x, y = first.shift_mm[0] - middle.x, first.shift_mm[1] - middle.y
    shift = (c * x - s * y + middle.x, s * x + c * y + middle.y)
    return lay_near(now, whole, Fit(first.turn_rad + turn, shift, 0.0, 0.0), is_part=True)


def _why_not(laid: shapely.Polygon, record: _Record) -> str:
    """What speaks against this being a remnant of the board; empty if nothing does."""
    import numpy as np
    import shapely

    before, edge = record.before, record.edge_mm
    outside = float(laid.difference(before.buffer(edge)).area)
    if outside > max(_LEAST_OUTSIDE_MM2, _MOST_OUTSIDE * laid.area):
        rim = shapely.points(shapely.get_coordinates(laid.exterior.segmentize(1.0)))
        beyond = float(shapely.distance(rim, before).max())
        return f"{outside:.0f} mm² of it reach up to {beyond:.1f} mm beyond this board's edge"
    known = shapely.union_all([before.exterior, record.wanted.exterior])
    marks = np.arange(0.0, laid.exterior.length, 1.0)
    rim = shapely.line_interpolate_point(laid.exterior, marks)
    apart = shapely.distance(rim, known)
    share = float((apart <= edge).mean())
    if share < _LEAST_EDGE:
        return (
            f"only {share:.0%} of its edge lies on this board's, the rest"
            f" {float(np.median(apart[apart > edge])):.1f} mm beside it"
        )
    found, count = _holes(laid, record)
    if count >= _HOLES_TO_TELL and found < _LEAST_HOLES * count:
        return f"its edge fits, but only {found} of {count} holes do"
    return ""


def _holes(laid: shapely.Polygon, record: _Record) -> tuple[int, int]:
    """Recorded holes that are open in the photo, and those that lie on what it shows."""
    import shapely

    filled = shapely.Polygon(laid.exterior).buffer(-_HOLE_ROOM_MM)
    due = [
        hole.centroid
        for hole in map(shapely.Polygon, record.wanted.interiors)
        if filled.contains(hole)
    ]
    return sum(not laid.contains(centre) for centre in due), len(due)


def _differences(laid: shapely.Polygon, record: _Record, fit: Fit, least: float) -> CutDifferences:
    still = _clear_parts(laid.intersection(record.cuts), least)
    gone = _clear_parts(record.before.difference(record.cuts).difference(laid), least)
    found, count = _holes(laid, record)
    return CutDifferences(
        still,
        gone,
        sum(region.area_mm2 for region in still),
        sum(region.area_mm2 for region in gone),
        fit,
        found,
        count,
    )


def _ranked(ways: list[CutDifferences], area_mm2: float) -> tuple[CutDifferences, ...]:
    """The best way, and those that explain the photo nearly as well."""

    def off(way: CutDifferences) -> float:
        return way.still_there_mm2 + way.gone_mm2

    most = min(map(off, ways)) + max(_RIVAL_MM2, _RIVAL_SHARE * area_mm2)
    rivals = sorted((way for way in ways if off(way) <= most), key=off)
    holes = max(way.holes_found for way in rivals)
    kept: list[CutDifferences] = []
    for way in rivals:
        is_new = all(_apart(way, other) > _SAME_TURN_DEG for other in kept)
        if is_new and holes - way.holes_found < _RIVAL_HOLES:
            kept.append(way)
    return tuple(kept)


def _apart(way: CutDifferences, other: CutDifferences) -> float:
    turn = math.degrees(way.fit.turn_rad - other.fit.turn_rad)
    return abs((turn + 180) % 360 - 180)


def draw_laid(
    squared_png: bytes, fit: Fit, *, px_per_mm: float, size_mm: tuple[float, float]
) -> bytes:
    """
    The remnant in the board frame of the outline before the cut, white where it is gone, as a PNG.

    Args:
        squared_png: The remnant in its own measured frame.
        fit: How it lies.
        px_per_mm: Scale of both pictures.
        size_mm: Width and height of the outline's bounding box.
    """
    from PIL import Image

    picture = upright_image(squared_png, longest_px=_LONGEST_PX)
    columns, rows = (max(1, round(length * px_per_mm)) for length in size_mm)
    c, s = math.cos(fit.turn_rad) / fit.scale, math.sin(fit.turn_rad) / fit.scale

    def taken_from(column: float, row: float) -> tuple[float, float]:
        dx = column / px_per_mm - fit.shift_mm[0]
        dy = size_mm[1] - row / px_per_mm - fit.shift_mm[1]
        u, v = c * dx + s * dy, c * dy - s * dx
        return u * px_per_mm, picture.height - v * px_per_mm

    ox, oy = taken_from(0, 0)
    (ax, ay), (bx, by) = taken_from(1, 0), taken_from(0, 1)
    laid = picture.transform(
        (columns, rows),
        Image.Transform.AFFINE,
        (ax - ox, bx - ox, ox, ay - oy, by - oy, oy),
        resample=Image.Resampling.BICUBIC,
        fillcolor=_WHITE,
    )
    out = BytesIO()
    laid.save(out, "PNG")
    return out.getvalue()


def _largest(shape: BaseGeometry) -> shapely.Polygon:
    """The part that is still called the board; pieces that fell off are not in the photo."""
    import shapely

    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
    if not parts:
        raise Refused("by its record nothing is left of this board", hint="see its history")
    largest: shapely.Polygon = max(parts, key=lambda part: part.area)
    return largest


def _clear_parts(shape: BaseGeometry, sliver_mm: float) -> tuple[Region, ...]:
    """Parts wider than what the measurement leaves open, largest first."""
    import shapely

    core = shape.buffer(-sliver_mm)
    parts = []
    for one in [] if core.is_empty else shapely.get_parts(core):
        # The core has lost the corners of what it came from; they lie within this reach of it.
        whole = one.buffer(_CORNER_REACH * sliver_mm).intersection(shape)
        largest = max(shapely.get_parts(whole), key=lambda part: part.area)
        if isinstance(largest, shapely.Polygon) and largest.area >= LEAST_DIFFERENCE_MM2:
            parts.append(largest)
    # Two cores that a neck joined are one place.
    merged = shapely.get_parts(shapely.union_all(parts))
    largest_first = sorted(merged, key=lambda part: -part.area)
    return tuple(region_of(part) for part in largest_first)
