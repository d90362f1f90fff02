"""
Straight cuts that part a board: what hand shears did, or will do for a plan that still holds.

Shears leave no kerf, so a board that they cut is whole by its area and yet lies in panels. Each
line counts as a keep-out of two thousandths of a millimetre: nothing usable spans it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import NoRoom
from salvage.records.region import Region

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Collection

    from salvage.geometry.ledger import Taken
    from salvage.ids import Code

# Half a line's width; an overlap of so little is rounding to the test for conflicts.
_HALF_UM = 1
# A shape may touch a line, and reach over it by no more than this.
_TOUCH_MM = 0.01

LineUm = tuple[int, int, int, int]
"""Start and end of a straight cut, in micrometres of the board."""


def read_lines(
    conn: sqlite3.Connection,
    board: Code,
    *,
    without: str | int = "",
    freed: Collection[str] = (),
    plan: str = "",
) -> tuple[LineUm, ...]:
    """
    The straight cuts across a board of plans that hold places on it, or that were cut from.

    Args:
        conn: Open connection.
        board: The board's code.
        without: Code of a held reservation that does not count.
        freed: Codes of held reservations that do not count either.
        plan: A plan whose cuts count in any case, since it is about to hold or be cut.
    """
    rows = conn.execute(
        "SELECT s.from_x_um, s.from_y_um, s.to_x_um, s.to_y_um, s.plan, r.code, r.state"
        " FROM plan_shear s LEFT JOIN reservation r ON r.plan = s.plan AND r.board = s.board"
        " WHERE s.board = ? ORDER BY s.plan, s.n",
        (board,),
    )
    found: dict[LineUm, None] = {}
    for x0, y0, x1, y1, of_plan, code, state in rows:
        is_held = state == "held" and code != without and code not in freed
        if is_held or state == "cut" or of_plan == plan:
            found[x0, y0, x1, y1] = None
    return tuple(found)


def is_parted(conn: sqlite3.Connection, board: Code) -> bool:
    """Whether hand shears have cut a board into panels for a plan."""
    row = conn.execute(
        "SELECT 1 FROM plan_shear s JOIN reservation r ON r.plan = s.plan AND r.board = s.board"
        " WHERE s.board = ? AND r.state = 'cut' LIMIT 1",
        (board,),
    ).fetchone()
    return row is not None


def lines_as_taken(lines: Collection[LineUm]) -> tuple[Taken, ...]:
    """Lines as the ledger of area takes them."""
    from salvage.geometry.ledger import Taken

    return tuple(Taken("keep-out", "straight cut", _sliver(line)) for line in lines)


def _sliver(line: LineUm) -> Region:
    x0, y0, x1, y1 = line
    left, right, bottom, top = min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1)
    across, upward = (_HALF_UM, 0) if left == right else (0, _HALF_UM)
    left, right, bottom, top = left - across, right + across, bottom - upward, top + upward
    return Region(((left, bottom), (right, bottom), (right, top), (left, top)))


def check_not_across(
    conn: sqlite3.Connection, board: Code, region: Region, *, freed: Collection[str] = ()
) -> None:
    """
    Raise if a region spans a straight cut.

    Args:
        conn: Open connection.
        board: The board's code.
        region: In board coordinates.
        freed: Codes of held reservations that do not count.

    Raises:
        NoRoom: Naming the line.
    """
    import shapely

    from salvage.geometry.outline import to_polygon

    lines = read_lines(conn, board, freed=freed)
    if not lines:
        return
    inner = to_polygon(region).buffer(-_TOUCH_MM)
    for x0, y0, x1, y1 in lines:
        line = shapely.LineString([(x0 / 1000, y0 / 1000), (x1 / 1000, y1 / 1000)])
        if inner.intersects(line):
            raise NoRoom(
                f"the shape lies across the straight cut from {x0 / 1000:g},{y0 / 1000:g} to"
                f" {x1 / 1000:g},{y1 / 1000:g} mm, where {board} is parted by shears",
                hint=f"keep within one part: salvage board area {board}",
            )
