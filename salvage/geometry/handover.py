"""
What is handed to the program that drives the router: one board with what to cut, in true mm.

The drawing holds the board's edge, its keep-outs, the pieces where they shall lie, and the datum:
points on the board to find its place on the machine by. Nothing in it moves a tool; speeds, depths
and the side of the line to cut on are set in the router's own program by who stands beside it.
Coordinates are the board's: origin at the lower left of the outline's bounding box, y up. For
cutting from the back, x is mirrored within that box.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from salvage.errors import BadValue
from salvage.geometry.outline import map_points
from salvage.records.region import Region
from salvage.units import UM_PER_MM, to_um

Side = Literal["front", "back"]

# Closer together than this, two points turn the board by more than they show (common practice,
# no source): 0.1 mm off over 10 mm is 3 mm off at 300 mm.
LEAST_DATUM_SPAN_MM = 10.0
# What marks a datum that is no hole, such as a point of an edge.
MARK_MM = 1.0


@dataclass(frozen=True, slots=True)
class DatumPoint:
    """
    A point that is found again on the machine: the middle of a hole, or a place on an edge.

    Args:
        name: What to call it, such as ``hole 1`` or ``left edge``.
        x_mm: From the board's left, seen from the front.
        y_mm: From its lower edge.
        hole_mm: Diameter of the hole; 0 for a place on an edge.
    """

    name: str
    x_mm: float
    y_mm: float
    hole_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """
    A piece where it shall be cut.

    Args:
        label: Its code or name.
        region: Where, in board coordinates seen from the front.
    """

    label: str
    region: Region


@dataclass(frozen=True, slots=True)
class Handover:
    """
    All that one drawing shows.

    Args:
        code: The board's label code, as printed on it.
        outline: The board's edge with its holes.
        datum: Two points or better three, not on one line.
        pieces: What to cut.
        keep_outs: What the tool shall not touch.

    Raises:
        BadValue: If a text cannot be drawn or the datum does not hold the board.
    """

    code: str
    outline: Region
    datum: tuple[DatumPoint, ...]
    pieces: tuple[PlacedPiece, ...] = ()
    keep_outs: tuple[PlacedPiece, ...] = ()

    def __post_init__(self) -> None:
        texts = [self.code, *(item.label for item in (*self.pieces, *self.keep_outs))]
        for text in (*texts, *(point.name for point in self.datum)):
            if not text.isprintable():
                raise BadValue(f"the name {text!r} cannot be drawn", hint="use plain characters")
        if not self.code:
            raise BadValue("the drawing has no label code", hint="give the board's code")
        for point in self.datum:
            if not (math.isfinite(point.x_mm) and math.isfinite(point.y_mm)) or not (
                0 <= point.hole_mm <= 100
            ):
                raise BadValue(
                    f"the datum '{point.name}' has no sound place or hole", hint="give mm"
                )
        if span_mm(self.datum) < LEAST_DATUM_SPAN_MM:
            raise BadValue(
                f"{len(self.datum)} datum points do not hold the board's place and turn",
                hint=f"give two at least {LEAST_DATUM_SPAN_MM:g} mm apart, better three",
            )

    @property
    def is_well_held(self) -> bool:
        """Whether three datum points hold it, so that a badly picked one shows."""
        return breadth_mm(self.datum) >= LEAST_DATUM_SPAN_MM


def span_mm(datum: Sequence[DatumPoint]) -> float:
    """The largest distance between two points; 0 for fewer."""
    return max(
        (math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) for a in datum for b in datum), default=0.0
    )


def breadth_mm(datum: Sequence[DatumPoint]) -> float:
    """
    How far the points lie off one line: the least height of the best triangle of three.

    >>> three = [DatumPoint("a", 0, 0), DatumPoint("b", 80, 0), DatumPoint("c", 0, 60)]
    >>> breadth_mm(three), breadth_mm(three[:2])
    (48.0, 0.0)
    """
    best = 0.0
    for a in datum:
        for b in datum:
            for c in datum:
                longest = span_mm((a, b, c))
                twice = (b.x_mm - a.x_mm) * (c.y_mm - a.y_mm) - (c.x_mm - a.x_mm) * (
                    b.y_mm - a.y_mm
                )
                if longest > 0:
                    best = max(best, abs(twice) / longest)
    return best


def seen_from(handover: Handover, side: Side) -> Handover:
    """
    The same board as it lies on the machine: as it is, or turned over about a vertical axis.

    Raises:
        BadValue: If the side is neither ``front`` nor ``back``.
    """
    if side == "front":
        return handover
    if side != "back":
        raise BadValue(f"'{side}' is no side of a board", hint="front or back")
    left, _, right, _ = handover.outline.bounds_um
    both = left + right

    def turn(region: Region) -> Region:
        return map_points(region, lambda point: (both - point[0], point[1]))

    return replace(
        handover,
        outline=turn(handover.outline),
        datum=tuple(replace(p, x_mm=(both - to_um(p.x_mm)) / UM_PER_MM) for p in handover.datum),
        pieces=tuple(replace(item, region=turn(item.region)) for item in handover.pieces),
        keep_outs=tuple(replace(item, region=turn(item.region)) for item in handover.keep_outs),
    )


def notes_of(handover: Handover, side: Side) -> tuple[str, ...]:
    """
    What the drawing says in words: code, side, unit and datum, and the usual caution.

    Args:
        handover: The board as it lies on the machine (:func:`seen_from`).
        side: Which side is up.
    """
    lines = [
        f"board {handover.code}, {side} side up, millimetres, true size",
        *(
            f"datum {point.name}: x {point.x_mm:.3f}, y {point.y_mm:.3f}"
            + (f", hole {point.hole_mm:g}" if point.hole_mm else ", place on an edge")
            for point in handover.datum
        ),
        "clamp the board, wear eye protection, draw off the dust; follow the machine's own manual",
    ]
    if not handover.is_well_held:
        lines.insert(-1, "only a line of datum points: check a third place before cutting")
    return tuple(lines)
