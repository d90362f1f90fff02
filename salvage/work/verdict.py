"""Go or no-go: what stands in the way of cutting a board."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from salvage.records.things import Board, HazardCheck
from salvage.store.rows import select


@dataclass(frozen=True, slots=True)
class Obstacle:
    """
    One thing that stands in the way.

    Args:
        words: What it is, for the screen.
        mend: What to do about it.
        forbids_cutting: True when a cut needs an override; false when there is merely nothing to
            cut.
        overridable: False for what no reason overrides: a recall, and a board that was closed.
    """

    words: str
    mend: str
    forbids_cutting: bool = True
    overridable: bool = True


def find_obstacles(conn: sqlite3.Connection, board: Board) -> tuple[Obstacle, ...]:
    """
    Everything that makes a board a no-go, the gravest first; empty for a go.

    An unknown answer takes the strict branch: what was not checked holds the board as much as what
    is known to be there.
    """
    found = []
    if board.recalled:
        mend = f"see 'salvage trace {board.code}'"
        found.append(Obstacle("it is recalled", mend, overridable=False))
    if board.retired:
        mend = "undo that if it was a mistake"
        found.append(Obstacle(f"it was retired: {board.retired}", mend, overridable=False))
    checks = select(conn, HazardCheck, "FROM hazard_check WHERE board = ?", (board.code,))
    open_checks = sorted(
        (check for check in checks if not check.is_settled),
        key=lambda check: (check.finding != "present", check.hazard),
    )
    found += [
        Obstacle(f"{check.hazard}: {check.finding}", f"salvage board clear {board.code}")
        for check in open_checks
    ]
    if not board.outline:
        found.append(
            Obstacle(
                "it has no outline yet",
                f"salvage board outline {board.code} …",
                forbids_cutting=False,
            )
        )
    elif not board.usable_um2:
        found.append(
            Obstacle("nothing usable is left", "take another board", forbids_cutting=False)
        )
    return tuple(found)
