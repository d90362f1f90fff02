"""Whether a step may be done to a board as it stands: reserving, retiring."""

from __future__ import annotations

import sqlite3

from salvage.errors import Held, Refused
from salvage.records.things import Board, Reservation
from salvage.store.rows import select
from salvage.work.verdict import find_obstacles


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
