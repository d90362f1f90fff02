"""
What a recall cannot rule out: links that the record does not hold.

Nothing here says that a thing is affected; it says that nobody can say that it is not.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from salvage.ids import Code
from salvage.records.materials import STAGE_OF
from salvage.records.recalls import swapped_week, week_number
from salvage.store.lookup import load_batch
from salvage.store.recall_reach import Cause
from salvage.work.settings import NOBODY


@dataclass(frozen=True, slots=True)
class Unknown:
    """
    One link that is missing.

    Args:
        code: The thing of which it is not known; a drop-off where its boards are not on record, the
            number of a slip where a piece was sold without its label.
        words: What is not known of it.
    """

    code: Code
    words: str


def find_unknown(conn: sqlite3.Connection, recall: Code, cause: Cause) -> tuple[Unknown, ...]:
    """
    What cannot be ruled out now and is not in the recall already.

    Args:
        conn: Open connection.
        recall: The recall, whose items are left out; empty before it is opened.
        cause: Its cause.
    """
    rows = conn.execute("SELECT code FROM recall_item WHERE recall = ?", (recall,))
    inside = {code for (code,) in rows}
    found = (*_FINDERS[cause["kind"]](conn, cause), *_sold_unlabelled(conn), *_scrap(conn, recall))
    return tuple(one for one in dict.fromkeys(found) if one.code not in inside)


def _of_descent(conn: sqlite3.Connection, cause: Cause) -> Iterator[Unknown]:
    code = str(cause["code"])
    if code[0] == "V":
        yield from _of_batch(conn, Code(code))
    if code[0] not in "GD":
        return
    column = "donor" if code[0] == "G" else "code"
    rows = conn.execute(
        "SELECT code, board_count, (SELECT count(*) FROM board WHERE drop_off = drop_off.code)"
        f" FROM drop_off WHERE {column} = ? ORDER BY code",
        (code,),
    )
    for drop_off, came, recorded in rows:
        if came is None:
            words = f"nobody counted its boards; {recorded} are on record"
            yield Unknown(Code(drop_off), words)
        elif came > recorded:
            yield Unknown(Code(drop_off), f"{came - recorded} of {came} boards are not on record")


def _of_batch(conn: sqlite3.Connection, code: Code) -> Iterator[Unknown]:
    batch = load_batch(conn, code)
    stage = STAGE_OF.get(batch.material, "")
    rows = conn.execute(
        "SELECT piece, at FROM unsaid WHERE stage = ? AND at >= ? ORDER BY piece",
        (stage, batch.received_on),
    )
    for piece, at in rows:
        yield Unknown(Code(piece), f"{stage} on {at[:10]}, and nobody noted with what")
    same = conn.execute(
        "SELECT code, received_on FROM batch WHERE lot = ? AND lot <> '' AND maker = ?"
        " AND code <> ? ORDER BY code",
        (batch.lot, batch.maker, code),
    )
    for other, day in same:
        yield Unknown(Code(other), f"the same lot, received on {day}")


def _of_date_codes(conn: sqlite3.Connection, cause: Cause) -> Iterator[Unknown]:
    first, last = week_number(str(cause["first"])), week_number(str(cause["last"]))
    assert first is not None  # the cause was checked when it was recorded
    assert last is not None
    rows = conn.execute("SELECT code, date_code FROM board ORDER BY code")
    for board, text in rows:
        week, swapped = week_number(text), swapped_week(text)
        if week is None:
            words = f"its date code '{text}' is not read" if text else "it has no date code"
            yield Unknown(Code(board), words)
        elif swapped is not None and first <= swapped <= last and not first <= week <= last:
            yield Unknown(Code(board), f"its date code {text} may have the week first")


def _of_hazard(conn: sqlite3.Connection, cause: Cause) -> Iterator[Unknown]:
    rows = conn.execute(
        "SELECT board.code, finding FROM board LEFT JOIN hazard_check ON board = board.code"
        " AND hazard = ?1 WHERE finding IS NULL OR finding IN ('not checked', 'cannot tell')"
        " ORDER BY board.code",
        (cause["hazard"],),
    )
    for board, finding in rows:
        words = f"{cause['hazard']}: {finding}" if finding else "nobody looked for it here"
        yield Unknown(Code(board), words)


def _of_measuring(conn: sqlite3.Connection, cause: Cause) -> Iterator[Unknown]:
    del cause
    rows = conn.execute(
        "SELECT DISTINCT board FROM measuring WHERE how GLOB '*mat without a serial*' ORDER BY 1"
    )
    for (board,) in rows:
        yield Unknown(Code(board), "it was measured on a mat whose serial is not on record")


def _of_worker(conn: sqlite3.Connection, cause: Cause) -> Iterator[Unknown]:
    if NOBODY in cause["by"]:
        return
    rows = conn.execute(
        "SELECT DISTINCT piece, stage FROM staging WHERE by = ? AND at >= ? AND at < ? ORDER BY 1",
        (NOBODY, cause["since"], cause["until"]),
    )
    for piece, stage in rows:
        if stage in (cause["stages"] or [stage]):
            yield Unknown(Code(piece), f"{stage} by somebody whose name is not on record")


def _sold_unlabelled(conn: sqlite3.Connection) -> Iterator[Unknown]:
    rows = conn.execute(
        "SELECT slip, words, day, venue FROM slip_line CROSS JOIN slip ON number = slip"
        " WHERE piece = '' AND kind = 'sale' ORDER BY slip, slip_line.n"
    )
    for slip, words, day, venue in rows:
        where = f" at {venue}" if venue else ""
        yield Unknown(Code(slip), f"on this slip a piece without its label: {words}, {day}{where}")


def _scrap(conn: sqlite3.Connection, recall: Code) -> Iterator[Unknown]:
    rows = conn.execute(
        "SELECT cut.code, cut.board FROM recall_item JOIN cut ON cut.board = recall_item.code"
        " WHERE recall = ? AND cut.outcome = 'scrap' ORDER BY cut.code",
        (recall,),
    )
    for cut, board in rows:
        yield Unknown(Code(cut), f"scrap of {board}: where it went is not on record")


_FINDERS = {
    "descent": _of_descent,
    "date code": _of_date_codes,
    "hazard": _of_hazard,
    "worker": _of_worker,
    "mat": _of_measuring,
    "measured": _of_measuring,
}
