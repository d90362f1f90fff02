"""What is left of a board: its record turned into the ledger of area."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.records.region import Region, region_of_text
from salvage.records.things import Board, Cut, KeepOut, Reservation
from salvage.store.rows import select
from salvage.units import from_um
from salvage.work.parting import lines_as_taken, read_lines
from salvage.work.settings import Settings, read_settings

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection

    from salvage.geometry.ledger import Ledger, Rules, Taken
    from salvage.ids import Code


def cut_rules(settings: Settings) -> Rules:
    """The workshop's numbers as the geometry wants them."""
    from salvage.geometry.ledger import Rules

    return Rules(
        tool_mm=from_um(settings.tool_um),
        wall_mm=from_um(settings.wall_um),
        least_mm=from_um(settings.least_um),
    )


def read_taken(
    conn: sqlite3.Connection,
    board: Code,
    *,
    without: str | int = "",
    freed: Collection[str] = (),
) -> tuple[Taken, ...]:
    """
    Everything that takes material on a board: cuts, keep-outs that stand, held reservations.

    The straight cuts of hand shears are among the keep-outs, so that nothing usable spans one.

    Args:
        conn: Open connection.
        board: The board's code.
        without: Number of a keep-out or code of a reservation that does not count.
        freed: Codes of reservations that do not count either.
    """
    from salvage.geometry.ledger import Taken

    cuts = select(conn, Cut, "FROM cut WHERE board = ? ORDER BY clock, code", (board,))
    keep_outs = select(
        conn, KeepOut, "FROM keep_out WHERE board = ? AND lifted = 0 ORDER BY n", (board,)
    )
    held = select(
        conn,
        Reservation,
        "FROM reservation WHERE board = ? AND state = 'held' ORDER BY code",
        (board,),
    )
    return (
        *(Taken("cut", cut.code, region_of_text(cut.region), cut.kerf_um) for cut in cuts),
        *(
            Taken("keep-out", k.reason, region_of_text(k.region), 0)
            for k in keep_outs
            if k.n != without
        ),
        *(
            Taken("reservation", r.code, region_of_text(r.region), 0)
            for r in held
            if r.code != without and r.code not in freed
        ),
        *lines_as_taken(read_lines(conn, board, without=without, freed=freed)),
    )


def board_outline(board: Board) -> Region | None:
    """The board's outline, or None while it is not measured."""
    return region_of_text(board.outline) if board.outline else None


def account_board(conn: sqlite3.Connection, board: Board) -> Ledger | None:
    """The ledger of a board's area, or None while it has no outline."""
    from salvage.geometry.ledger import account

    outline = board_outline(board)
    if outline is None:
        return None
    rules = cut_rules(read_settings(conn))
    return account(outline, read_taken(conn, board.code), rules)


def usable_with(
    conn: sqlite3.Connection, board: Board, *more: Taken, without: str | int = ""
) -> int:
    """
    Usable area of a board once *more* is taken as well, in square micrometres.

    Args:
        conn: Open connection.
        board: The board; its outline counts, not its stored area.
        more: What is about to be taken.
        without: Number of a keep-out or code of a reservation that does not count any more.
    """
    from salvage.geometry.ledger import usable_area_mm2

    outline = board_outline(board)
    if outline is None:
        return 0
    taken = (*read_taken(conn, board.code, without=without), *more)
    return to_um2(usable_area_mm2(outline, taken, cut_rules(read_settings(conn))))


def usable_fresh(conn: sqlite3.Connection, outline: Region) -> int:
    """Usable area of an outline of which nothing is taken, in square micrometres."""
    from salvage.geometry.ledger import usable_area_mm2

    return to_um2(usable_area_mm2(outline, (), cut_rules(read_settings(conn))))


def to_um2(mm2: float) -> int:
    """Whole square micrometres, rounded down so that nothing is overstated."""
    return int(mm2 * 1_000_000)
