"""
How much room a piece has where it lies: from its kerf to the next thing that it must not touch.

The room is what is left over: 0 where the kerf just touches, so that a piece may be moved by that
much in any direction. Its own kerf may run over the edge and over earlier kerfs, so there the piece
itself is measured.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from salvage.geometry.ledger import Taken
from salvage.geometry.outline import to_polygon
from salvage.records.region import Region
from salvage.units import from_um


@dataclass(frozen=True, slots=True)
class Room:
    """
    The least room of a piece.

    Args:
        mm: Distance; 0 where something touches or overlaps.
        beside: What is nearest: ``edge``, or a kind and label such as ``keep-out 'serial port'``.
    """

    mm: float
    beside: str


def find_room(
    region: Region,
    *,
    kerf_mm: float,
    outline: Region,
    taken: Sequence[Taken],
    ignore: Collection[str] = (),
) -> Room:
    """
    The least room of a piece where it would be cut; see :func:`find_conflicts` for the rules.

    Args:
        region: The piece in board coordinates.
        kerf_mm: Width that the tool takes round it.
        outline: The board's edge with its holes.
        taken: Earlier cuts, keep-outs and reservations.
        ignore: Labels of keep-outs and reservations that do not count.
    """
    import shapely

    piece, board = to_polygon(region), to_polygon(outline)
    inside = board.covers(piece)
    least = Room(piece.distance(board.boundary) if inside else 0.0, "edge")
    for item in taken:
        if item.kind != "cut" and item.label in ignore:
            continue
        # Kerfs are taken off the distance instead of growing the regions: the same, and quicker.
        width = from_um(item.kerf_um) if item.kind == "cut" else kerf_mm
        mm = max(0.0, shapely.distance(piece, to_polygon(item.region)) - width)
        if mm < least.mm:
            least = Room(mm, f"{item.kind} '{item.label}'")
    return least
