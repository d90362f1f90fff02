"""
The usable area after one more cut, without measuring the whole board again.

The cut's claim is taken from the free area, and what a disc of the least width can sweep is worked
out again only round the claim: farther away than that width nothing changes. Nothing is ever given
back, so the usable area may come out a little smaller than from a full account
(:func:`salvage.geometry.ledger.account`), never larger but for rounding. Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.ledger import Rules, Taken
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import (
    COARSE_EXCESS_MM,
    grow,
    intersect,
    open_by,
    polygon_parts,
    subtract,
    unite,
)
from salvage.records.region import Region
from salvage.units import from_um

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

    Box = tuple[float, float, float, float]

# Corners of a cut closer to a straight line than this are left out, and the claim is grown by as
# much: after a thousand cuts the area then has a third of the corners, and stays on the safe side.
_SIMPLER_MM = 0.02
_SEAM_MM = 0.1


@dataclass(frozen=True, slots=True)
class Remaining:
    """
    What is left of a board, kept up to date cut by cut.

    Args:
        rules: Tool, wall and smallest shape.
        outline_mm2: Area of the board.
        taken_mm2: Area taken from the free area so far, each step measured by itself.
        free: What no claim covers, in connected parts.
        usable: What of it a disc of the least width can sweep, in connected parts.
    """

    rules: Rules
    outline_mm2: float
    taken_mm2: float
    free: tuple[Polygon, ...]
    usable: tuple[Polygon, ...]

    @property
    def free_mm2(self) -> float:
        """Area of the free parts."""
        return float(sum(part.area for part in self.free))

    @property
    def usable_mm2(self) -> float:
        """Area of the usable parts."""
        return float(sum(part.area for part in self.usable))

    @property
    def imbalance_mm2(self) -> float:
        """Outline less all that was taken and what is free: 0 but for rounding."""
        return self.outline_mm2 - self.taken_mm2 - self.free_mm2

    def area(self) -> MultiPolygon:
        """The usable parts as one geometry."""
        from shapely import MultiPolygon

        return MultiPolygon(self.usable)


def start(outline: Region, taken: Iterable[Taken], rules: Rules) -> Remaining:
    """
    The state of a board, worked out as a whole.

    >>> from salvage.geometry.outline import rectangle
    >>> board = start(rectangle(100, 50), [], Rules(tool_mm=2, wall_mm=0, least_mm=0))
    >>> round(board.usable_mm2), board.imbalance_mm2
    (5000, 0.0)
    """
    board = to_polygon(outline)
    claim = unite(claim_of(item, rules) for item in taken)
    free = subtract(board, claim)
    return Remaining(
        rules=rules,
        outline_mm2=board.area,
        taken_mm2=intersect(board, claim).area,
        free=tuple(polygon_parts(free)),
        usable=tuple(polygon_parts(open_by(free, rules.least_mm))),
    )


def claim_of(item: Taken, rules: Rules) -> MultiPolygon:
    """What an item takes from the next piece: itself, its kerf and wall, and room for the tool."""
    room = rules.tool_mm
    if item.kind == "cut":
        room += from_um(max(0, item.kerf_um)) + rules.wall_mm
    plain = to_polygon(item.region)
    simple = plain.simplify(_SIMPLER_MM)
    if simple.is_empty or room <= _SIMPLER_MM:
        return grow(plain, room, excess_mm=COARSE_EXCESS_MM)
    return grow(simple, room + _SIMPLER_MM, excess_mm=COARSE_EXCESS_MM)


def trim(board: Remaining, item: Taken) -> Remaining:
    """
    The state after one more cut, keep-out or reservation.

    Args:
        board: The state before.
        item: What is taken.
    """
    claim = claim_of(item, board.rules)
    touched, free = _split(board.free, claim.bounds)
    taken = board.taken_mm2
    for part in touched:
        common = part.intersection(claim).area
        if common == 0:
            free.append(part)
            continue
        taken += common
        free += polygon_parts(part.difference(claim))
    least = board.rules.least_mm
    window = _widened(claim.bounds, least + _SEAM_MM)
    around = _widened(window, least + _SEAM_MM)
    opened = open_by(_clip(free, around), least)
    near, usable = _split(board.usable, window)
    for part in near:
        lost = subtract(_clip([part], window), opened)
        usable += [part] if lost.is_empty else polygon_parts(part.difference(lost))
    return Remaining(board.rules, board.outline_mm2, taken, tuple(free), tuple(usable))


def _split(parts: Sequence[Polygon], box: Box) -> tuple[list[Polygon], list[Polygon]]:
    """The parts whose bounding boxes meet a box, and the others."""
    import shapely

    if not parts:
        return [], []
    left, bottom, right, top = box
    x0, y0, x1, y1 = shapely.bounds(list(parts)).T
    meets = ((x1 >= left) & (x0 <= right) & (y1 >= bottom) & (y0 <= top)).tolist()
    meet = [part for part, does in zip(parts, meets, strict=True) if does]
    return meet, [part for part, does in zip(parts, meets, strict=True) if not does]


def _clip(parts: Sequence[Polygon], box: Box) -> MultiPolygon:
    """What of the parts lies in a box; those that lie in it as a whole are taken as they are."""
    import shapely
    from shapely import MultiPolygon

    frame = shapely.box(*box)
    pieces: list[Polygon] = []
    for part in _split(parts, box)[0]:
        left, bottom, right, top = part.bounds
        within = box[0] < left and box[1] < bottom and right < box[2] and top < box[3]
        pieces += [part] if within else polygon_parts(part.intersection(frame))
    return MultiPolygon(pieces)


def _widened(box: Box, by_mm: float) -> Box:
    left, bottom, right, top = box
    return left - by_mm, bottom - by_mm, right + by_mm, top + by_mm
