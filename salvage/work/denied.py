"""What is thrown away must have been there: the record of hazards is corrected first."""

from __future__ import annotations

import sqlite3

from salvage.errors import Refused
from salvage.ids import Code


def check_not_denied(conn: sqlite3.Connection, board: Code, hazard: str) -> None:
    """
    Raise where the record says that what is thrown away was never on the board.

    Args:
        conn: The open connection.
        board: The board that it is said to come from.
        hazard: The hazard's slug.

    Raises:
        Refused: With the command that corrects the record.
    """
    row = conn.execute(
        "SELECT finding FROM hazard_check WHERE board = ? AND hazard = ?", (board, hazard)
    ).fetchone()
    if row and row[0] == "absent":
        raise Refused(
            f"{board} is on record as looked over, without {hazard}",
            hint=f"if one was there after all, say so first: salvage board clear {board}"
            f' --removed {hazard} --how "…"; what was cut before was cut with it on',
        )
