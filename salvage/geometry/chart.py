"""
A board as a map in characters.

A character stands for a cell twice as tall as wide, as in most terminal fonts, so the map keeps the
board's proportions. Each layer has a glyph of its own shape: the map reads without colour. y points
up, as on the board. What is thinner than half a cell may not show.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.geometry.ledger import LAYERS, Ledger
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import unite
from salvage.records.region import Region
from salvage.units import from_um

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

HIGHLIGHT = "highlight"
_BARE = "board"
_OUTSIDE = "outside"

_GLYPHS = {
    HIGHLIGHT: ("@", "@"),
    "cut": ("█", "#"),
    "kerf": ("░", "+"),
    "keep-out": ("x", "x"),
    "wall": ("░", "+"),
    "reserved": ("r", "r"),
    "usable": ("·", "."),
    "unusable": ("-", "-"),
    _BARE: (":", ":"),
    _OUTSIDE: (" ", " "),
}
_WORDS = {
    HIGHLIGHT: "this piece",
    "kerf": "kerf or wall",
    "wall": "kerf or wall",
    _BARE: "board not accounted for",
    _OUTSIDE: "no board",
}


def _legend(column: int) -> Mapping[str, str]:
    return MappingProxyType({g[column]: _WORDS.get(name, name) for name, g in _GLYPHS.items()})


# What each glyph means, for printing beside the map.
LEGEND = _legend(0)
ASCII_LEGEND = _legend(1)

# A cell is looked at in so many places across and up; what most of them show is drawn.
_ACROSS, _UP = 2, 4
_CELL_PROPORTION = 2
_MOST_COLUMNS = 500


def draw_chart(
    outline: Region,
    layers: Ledger | Mapping[str, Sequence[Region]],
    *,
    columns: int,
    highlight: Region | None = None,
    marks: Mapping[str, Region] | None = None,
    ascii_only: bool = False,
) -> tuple[str, ...]:
    r"""
    The map of a board, one text per row from the top down, each *columns* characters long.

    Args:
        outline: The board; its bounding box is the frame of the map, blank where there is no board.
        layers: A ledger, or regions by layer name (:data:`salvage.geometry.ledger.LAYERS`).
        columns: Width of the map in characters, from 1 to 500.
        highlight: A piece to show on top; what of it lies outside the frame is not shown.
        marks: Further pieces to show on top, each drawn with its own character.
        ascii_only: Use plain ASCII glyphs (:data:`ASCII_LEGEND`) for old terminals and printers.

    Raises:
        BadValue: If *columns* is out of range.

    >>> from salvage.geometry.outline import rectangle
    >>> board, bracket = rectangle(80, 40), rectangle(20, 40)
    >>> print("\n".join(draw_chart(board, {"keep-out": [bracket]}, columns=8)))
    xx::::::
    xx::::::
    """
    import numpy as np

    if not 1 <= columns <= _MOST_COLUMNS:
        raise BadValue(f"{columns} columns are out of range", hint=f"from 1 to {_MOST_COLUMNS}")
    names, areas = _stack(outline, layers, highlight, marks or {})
    grid_x, grid_y = _sample_points(outline, columns)
    shown = np.full(grid_x.shape, len(areas))
    for number in reversed(range(len(areas))):
        shown[_contains(areas[number], grid_x, grid_y)] = number
    column = 1 if ascii_only else 0
    glyphs = [_GLYPHS[name][column] if name in _GLYPHS else name for name in names]
    return tuple("".join(glyphs[number] for number in row) for row in _most_seen(shown, len(names)))


def _stack(
    outline: Region,
    layers: Ledger | Mapping[str, Sequence[Region]],
    highlight: Region | None,
    marks: Mapping[str, Region],
) -> tuple[list[str], list[BaseGeometry]]:
    """Names and areas from the top down; the last name is for what no area holds."""
    by_name = layers.layers if isinstance(layers, Ledger) else layers
    pile = [(HIGHLIGHT, [highlight] if highlight else [])]
    pile += [(mark, [region]) for mark, region in marks.items()]
    pile += [(name, list(by_name.get(name, ()))) for name in LAYERS]
    pile.append((_BARE, [outline]))
    held = [(name, regions) for name, regions in pile if regions]
    areas: list[BaseGeometry] = [unite(map(to_polygon, regions)) for _, regions in held]
    return [*(name for name, _ in held), _OUTSIDE], areas


def _sample_points(
    outline: Region, columns: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and y of all places looked at, from the top left on; whole cells in both directions."""
    import numpy as np

    left, bottom, _, top = (from_um(value) for value in outline.bounds_um)
    cell = outline.size_mm[0] / columns
    tall = _CELL_PROPORTION * cell
    rows = max(1, math.ceil(round((top - bottom) / tall, 6)))
    # The rows may be higher than the board: the map lies so that both margins are equal.
    highest = top + (rows * tall - (top - bottom)) / 2
    xs = left + (np.arange(columns * _ACROSS) + 0.5) * cell / _ACROSS
    ys = highest - (np.arange(rows * _UP) + 0.5) * tall / _UP
    grid_x, grid_y = np.meshgrid(xs, ys)
    return grid_x, grid_y


def _contains(
    area: BaseGeometry, grid_x: NDArray[np.float64], grid_y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    import numpy as np
    import shapely

    shapely.prepare(area)
    return np.asarray(shapely.contains_xy(area, grid_x, grid_y), dtype=np.bool_)


def _most_seen(shown: NDArray[np.int64], kinds: int) -> NDArray[np.int64]:
    """For each cell the number seen in most of its places; of equals, the one further up."""
    import numpy as np

    high, wide = shown.shape
    cells = shown.reshape(high // _UP, _UP, wide // _ACROSS, _ACROSS)
    counts = np.stack([(cells == kind).sum(axis=(1, 3)) for kind in range(kinds)])
    best: NDArray[np.int64] = counts.argmax(axis=0)
    return best
