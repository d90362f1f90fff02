"""What should still be there of a board: its outline less all that the record says is gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.records.region import Region
from salvage.units import from_um
from salvage.work.area import board_outline, read_taken

if TYPE_CHECKING:
    import sqlite3

    from shapely import MultiPolygon

    from salvage.geometry.ledger import Taken
    from salvage.records.things import Board

GONE = "gone in photo"
"""How the reason of a keep-out begins that marks where a photo showed the board to be gone."""


def gone_regions(conn: sqlite3.Connection, board: Board) -> tuple[Region, ...]:
    """Where a board is gone by its record: cuts with their kerfs, and what a photo showed gone."""
    from salvage.geometry.outline import to_regions

    return to_regions(_gone(read_taken(conn, board.code)))


def standing_parts(conn: sqlite3.Connection, board: Board) -> tuple[Region, ...]:
    """
    The parts of a board that should still be there, largest first; none without an outline.

    The largest is what is called the board; smaller ones fell off when it was cut.
    """
    from salvage.geometry.outline import to_polygon, to_regions
    from salvage.geometry.overlay import subtract

    outline = board_outline(board)
    if outline is None:
        return ()
    left = subtract(to_polygon(outline), _gone(read_taken(conn, board.code)))
    return tuple(sorted(to_regions(left), key=lambda part: -part.area_um2))


def _gone(taken: tuple[Taken, ...]) -> MultiPolygon:
    from salvage.geometry.outline import to_polygon
    from salvage.geometry.overlay import grow, unite

    cuts = [
        grow(to_polygon(item.region), from_um(item.kerf_um)) for item in taken if item.kind == "cut"
    ]
    seen = [
        to_polygon(item.region)
        for item in taken
        if item.kind == "keep-out" and item.label.startswith(GONE)
    ]
    return unite([*cuts, *seen])
