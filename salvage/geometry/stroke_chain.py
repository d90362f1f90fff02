"""
Loose lines joined end to end into closed rings.

Ends that lie within a hundredth of a millimetre of one another are one place. Where two lines end
the ring goes on; where one ends it is open, and where three or more end nobody knows the way.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm
from salvage.geometry.rings import format_place

if TYPE_CHECKING:
    from salvage.geometry.dxf_lines import Stroke

# Closer than any drawing program leaves on purpose, wider than the rounding of its numbers.
JOIN_MM = 0.01


def chain_strokes(strokes: Sequence[Stroke], *, join_mm: float = JOIN_MM) -> list[list[PointMm]]:
    """
    The closed rings that strokes make: the closed ones, then those joined of loose ones.

    Raises:
        BadFile: If an end is left open or three lines meet in one place.

    >>> from salvage.geometry.dxf_lines import Stroke
    >>> sides = [Stroke(((0, 0), (9, 0)), False), Stroke(((9, 9), (0, 0)), False),
    ...          Stroke(((9, 0), (9, 9)), False)]
    >>> chain_strokes(sides)
    [[(0, 0), (9, 0), (9, 9)]]
    """
    rings = [list(stroke.points) for stroke in strokes if stroke.closed]
    loose = _distinct([list(s.points) for s in strokes if not s.closed], join_mm)
    ends = _ends(loose, join_mm)
    meetings: dict[int, list[int]] = defaultdict(list)
    for number, (start, stop) in enumerate(ends):
        meetings[start].append(number)
        meetings[stop].append(number)
    _check_meetings(meetings, loose, ends)
    left = set(range(len(loose)))
    while left:
        rings.append(_walk(min(left), loose, ends, meetings, left))
    return rings


def _distinct(lines: list[list[PointMm]], join_mm: float) -> list[list[PointMm]]:
    """Lines with some length, each once however often and in whatever direction it was drawn."""
    grid = join_mm / 2
    seen: dict[tuple[tuple[int, int], ...], list[PointMm]] = {}
    for line in lines:
        if len(line) < 2 or _length(line) <= join_mm:
            continue
        key = tuple((round(x / grid), round(y / grid)) for x, y in line)
        seen.setdefault(min(key, key[::-1]), line)
    return list(seen.values())


def _length(line: list[PointMm]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(line))


def _ends(lines: list[list[PointMm]], join_mm: float) -> list[tuple[int, int]]:
    """Numbers of the places where each line starts and stops."""
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    places: list[PointMm] = []

    def number_of(point: PointMm) -> int:
        column, row = math.floor(point[0] / join_mm), math.floor(point[1] / join_mm)
        for number in _around(cells, column, row):
            if math.dist(places[number], point) <= join_mm:
                return number
        places.append(point)
        cells[column, row].append(len(places) - 1)
        return len(places) - 1

    return [(number_of(line[0]), number_of(line[-1])) for line in lines]


def _around(cells: dict[tuple[int, int], list[int]], column: int, row: int) -> Iterator[int]:
    for x in (column - 1, column, column + 1):
        for y in (row - 1, row, row + 1):
            yield from cells.get((x, y), ())


def _check_meetings(
    meetings: dict[int, list[int]], lines: list[list[PointMm]], ends: list[tuple[int, int]]
) -> None:
    for place, numbers in meetings.items():
        if len(numbers) == 2:
            continue
        line = lines[numbers[0]]
        x, y = line[0] if ends[numbers[0]][0] == place else line[-1]
        where = format_place((x * 1000, y * 1000))
        if len(numbers) == 1:
            raise BadFile(
                f"the drawing has an open line that ends at {where}",
                hint="close it in the drawing program, or hide the layer of guide lines",
            )
        raise BadFile(
            f"{len(numbers)} lines of the drawing meet at {where}",
            hint="keep the two that make the outline",
        )


def _walk(
    first: int,
    lines: list[list[PointMm]],
    ends: list[tuple[int, int]],
    meetings: dict[int, list[int]],
    left: set[int],
) -> list[PointMm]:
    ring: list[PointMm] = []
    number, at = first, ends[first][0]
    while number in left:
        left.discard(number)
        start, stop = ends[number]
        line = lines[number] if start == at else lines[number][::-1]
        ring += line[:-1]
        at = stop if start == at else start
        one, other = meetings[at]
        number = other if one == number else one
    return ring
