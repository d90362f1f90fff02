"""Go or no-go: what stands in the way of cutting a board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import Held
from salvage.frozen import dataclass
from salvage.records.counting import LostThing
from salvage.records.things import Board, HazardCheck, Piece
from salvage.store.lookup import load_cut
from salvage.store.rows import select, select_one
from salvage.work.lineage import cut_pieces
from salvage.work.tools import tool_warnings

if TYPE_CHECKING:
    import sqlite3

    from salvage.ids import Code


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
    lost = select_one(conn, LostThing, "FROM lost_thing WHERE code = ?", (board.code,))
    if lost:
        words = f"it was not found at stock-take {lost.stock_take} of {lost.at[:10]}"
        mend = f"salvage stocktake found {board.code}"
        found.append(Obstacle(words, mend, overridable=False))
    open_checks = sorted(
        find_open_checks(conn, board.code),
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


def find_open_checks(conn: sqlite3.Connection, board: Code) -> tuple[HazardCheck, ...]:
    """Hazards of a board that still hold it."""
    checks = select(
        conn, HazardCheck, "FROM hazard_check WHERE board = ? ORDER BY hazard", (board,)
    )
    return tuple(check for check in checks if not check.is_settled)


def find_warnings(conn: sqlite3.Connection, board: Board) -> tuple[str, ...]:
    """
    What to know before a cut that does not forbid it, one line each.

    Parts of its drop-off that may hold somebody's data and are not dealt with, cuts that were made
    on the board by override, and bits, filters and masks that are beyond their makers' limits.
    """
    rows = conn.execute(
        "SELECT count || ' x ' || part FROM data_part WHERE drop_off = ? AND state = 'open'"
        " ORDER BY n",
        (board.drop_off,),
    )
    parts = ", ".join(words for (words,) in rows)
    data = [f"its drop-off {board.drop_off} has open data-bearing parts: {parts}"] if parts else []
    cuts = conn.execute(
        "SELECT code, override_reason FROM cut WHERE board = ? AND override_reason <> ''"
        " ORDER BY clock, code",
        (board.code,),
    )
    overrides = (f"cut before by override, {code}: {reason}" for code, reason in cuts)
    return (*data, *overrides, *tool_warnings(conn))


def check_fit_to_sell(conn: sqlite3.Connection, piece: Piece) -> None:
    """
    Raise while a piece, or a part of it, was cut by override from a board with open hazards.

    The override lets a maker cut at their own risk; a buyer has not agreed to it.

    Raises:
        Held: With the hazards.
    """
    for part in cut_pieces(conn, piece.code):
        _check_part_fit(conn, part)


def _check_part_fit(conn: sqlite3.Connection, piece: Piece) -> None:
    assert piece.cut is not None  # only pieces of one cut are asked
    assert piece.board is not None
    if not load_cut(conn, piece.cut).override_reason:
        return
    left = find_open_checks(conn, piece.board)
    if left:
        told = "; ".join(f"{check.hazard}: {check.finding}" for check in left)
        raise Held(
            f"{piece.code} was cut by override, and {piece.board} still has {told}",
            hint=f"look at the board first: salvage board clear {piece.board}",
        )
