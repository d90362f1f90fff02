"""Whether a step may be done to a board as it stands: reserving, retiring, measuring anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import Held, Refused
from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, KeepOut, Reservation
from salvage.store.rows import select
from salvage.work.area import board_outline
from salvage.work.verdict import find_obstacles

if TYPE_CHECKING:
    import sqlite3

SAME_SIZE = 0.05
"""
Share by which width and height of one board may differ between two measurements: more than a ruler
in a hurry errs, less than two boards of a box differ (common practice, no source).
"""


def check_reservable(conn: sqlite3.Connection, board: Board) -> None:
    """
    Raise if nothing will ever be cut there as the board stands; open hazards do not matter yet.

    Raises:
        Held: If it is recalled or retired.
    """
    barred = [obstacle for obstacle in find_obstacles(conn, board) if not obstacle.overridable]
    if barred:
        raise Held(
            f"nothing can be reserved on {board.code}: " + "; ".join(o.words for o in barred),
            hint=barred[0].mend,
        )


def check_nothing_reserved(conn: sqlite3.Connection, board: Board) -> None:
    """
    Raise while places on a board are held for somebody.

    Raises:
        Refused: Naming the reservations.
    """
    held = select(
        conn,
        Reservation,
        "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code",
        (board.code,),
    )
    if held:
        told = ", ".join(f"{one.code} ({one.shape} for {one.for_whom})" for one in held)
        raise Refused(
            f"{board.code} has reserved places: {told}",
            hint=f"let them go first: salvage release {held[0].code}",
        )


def check_keep_outs_inside(conn: sqlite3.Connection, board: Board, outline: Region) -> None:
    """
    Raise if a keep-out that stands would lie wholly outside a new outline.

    Raises:
        Refused: With their numbers.
    """
    from salvage.geometry.outline import to_polygon

    edge = to_polygon(outline)
    standing = select(
        conn, KeepOut, "FROM keep_out WHERE board = ? AND lifted = 0 ORDER BY n", (board.code,)
    )
    outside = [k for k in standing if not to_polygon(region_of_text(k.region)).intersects(edge)]
    if outside:
        told = ", ".join(f"{k.n} ({k.reason})" for k in outside)
        raise Refused(
            f"keep-outs of {board.code} would lie outside the new outline: {told}",
            hint=f"lift them first: salvage board lift {board.code} {outside[0].n}",
        )


def check_same_size(board: Board, outline: Region) -> None:
    """
    Raise if a measured outline is so unlike the board's own that it is likely another board's.

    Raises:
        Refused: With both sizes.
    """
    own = board_outline(board)
    if own is None:
        return
    sizes = zip(own.size_mm, outline.size_mm, strict=True)
    if any(abs(new - old) > SAME_SIZE * old for old, new in sizes):
        raise Refused(
            f"{board.code} is recorded as {_size(own)}, and the photo shows {_size(outline)}",
            hint="is it the right board? If so, measure it with --replace",
        )


def _size(outline: Region) -> str:
    width_mm, height_mm = outline.size_mm
    return f"{width_mm:.1f} x {height_mm:.1f} mm"
