"""Places for the things of a lineage: columns by kind, a row for each end, buses into articles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from salvage.paper.lineage import COLUMNS, Lineage

NODE_WIDTH = 228
"""Width of a thing's box; all measures are the drawing's own units, 96 to the inch on screens."""

NODE_HEIGHT = 60
_ROW = 74
_GAP = 56
_LANE = 10
_FIRST_ARTICLE = COLUMNS.index("Articles")


@dataclass(frozen=True, slots=True)
class Layout:
    """
    Where everything lies.

    Args:
        at: Left edge and middle of each node's box.
        lefts: Left edge of each column that is used.
        lanes: For each edge, where its trace turns.
        width, height: Of all of it.
    """

    at: Mapping[str, tuple[int, int]]
    lefts: Mapping[int, int]
    lanes: Mapping[tuple[str, str], int]
    width: int
    height: int


def lay_out(lineage: Lineage) -> Layout:
    """Find a place for every node and a lane for every edge, the same in every run."""
    columns = {node.key: node.column for node in lineage.nodes}
    parents, children = _neighbours(lineage)
    middles = _middles(list(columns), parents, children)
    _settle_articles(middles, columns, parents)
    top = min(middles.values())
    middles = {key: middle - top + NODE_HEIGHT // 2 for key, middle in middles.items()}
    buses = _bus_numbers(middles, columns, parents)
    lefts = _lefts(columns, buses)
    at = {key: (lefts[columns[key]], middle) for key, middle in middles.items()}
    lanes = {}
    for parent, child in lineage.edges:
        if child in buses:
            lanes[parent, child] = at[child][0] - _GAP // 2 - buses[child] * _LANE
        else:
            lanes[parent, child] = at[parent][0] + NODE_WIDTH + _GAP // 2
    height = max(middles.values()) + NODE_HEIGHT // 2
    return Layout(at, lefts, lanes, max(lefts.values()) + NODE_WIDTH, height)


def _neighbours(lineage: Lineage) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    parents: dict[str, list[str]] = defaultdict(list)
    children: dict[str, list[str]] = defaultdict(list)
    for parent, child in lineage.edges:
        parents[child].append(parent)
        children[parent].append(child)
    return parents, children


def _middles(
    keys: Sequence[str], parents: Mapping[str, list[str]], children: Mapping[str, list[str]]
) -> dict[str, int]:
    """A row for each end; what has branches stands in the middle of them."""
    middles: dict[str, int] = {}
    row = 0

    def place(key: str) -> None:
        nonlocal row
        below = [one for one in children.get(key, ()) if parents[one][0] == key]
        for one in below:
            place(one)
        if below:
            middles[key] = (middles[below[0]] + middles[below[-1]]) // 2
        else:
            middles[key] = row * _ROW
            row += 1

    for key in keys:
        if not parents.get(key):
            place(key)
    return middles


def _settle_articles(
    middles: dict[str, int], columns: Mapping[str, int], parents: Mapping[str, list[str]]
) -> None:
    """Move each article to the middle of its parts, and those of one column apart."""
    for column in sorted({one for one in columns.values() if one >= _FIRST_ARTICLE}):
        wanted = {
            key: sum(middles[one] for one in parents[key]) // len(parents[key])
            for key, own in columns.items()
            if own == column and parents.get(key)
        }
        lowest: int | None = None
        for key in sorted(wanted, key=lambda one: (wanted[one], one)):
            middle = wanted[key] if lowest is None else max(wanted[key], lowest + _ROW)
            middles[key] = lowest = middle


def _bus_numbers(
    middles: Mapping[str, int], columns: Mapping[str, int], parents: Mapping[str, list[str]]
) -> dict[str, int]:
    """A bus for each article; those whose buses would run beside one another get other lanes."""
    found: dict[str, int] = {}
    ends: dict[tuple[int, int], int] = {}  # column and lane -> where its last bus ends
    spans = []
    for key, column in columns.items():
        if column >= _FIRST_ARTICLE and len(parents.get(key, ())) > 1:
            rows = [middles[key], *(middles[one] for one in parents[key])]
            spans.append((column, min(rows), max(rows), key))
    for column, start, end, key in sorted(spans):
        lane = 0
        while ends.get((column, lane), start - 1) >= start:
            lane += 1
        ends[column, lane] = end
        found[key] = lane
    return found


def _lefts(columns: Mapping[str, int], buses: Mapping[str, int]) -> dict[int, int]:
    lefts: dict[int, int] = {}
    left = 0
    for column in sorted(set(columns.values())):
        lanes = max((buses[key] for key, own in columns.items() if own == column and key in buses),
                    default=0)  # fmt: skip
        left += lanes * _LANE
        lefts[column] = left
        left += NODE_WIDTH + _GAP
    return lefts
