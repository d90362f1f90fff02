"""
What a recall's cause reaches: boards and pieces that it hits, and all that came of them.

A cause is a mapping with a ``kind``. Everything is asked of the tables, so that a replay of the
journal, on whichever device, finds the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from salvage.records.recalls import week_number

if TYPE_CHECKING:
    import sqlite3

# The fields of a cause differ by its kind, so their values are Any.
Cause = Mapping[str, Any]

CUT_STAGE = "rough"
"""The stage that a piece is at when it was cut."""

_DESCENT = {
    "G": "SELECT board.code FROM drop_off JOIN board ON board.drop_off = drop_off.code"
    " WHERE donor = ?1",
    "D": "SELECT code FROM board WHERE drop_off = ?1",
    "B": "SELECT code FROM board WHERE code = ?1",
    "K": "SELECT code FROM piece WHERE cut = ?1",
    "P": "SELECT code FROM piece WHERE code = ?1 UNION SELECT piece FROM part WHERE article = ?1",
    # What went into an article stays in the parts that it was taken apart into.
    "V": "SELECT code FROM batch WHERE code = ?1"
    " UNION SELECT code FROM material_use WHERE batch = ?1 AND voided = ''"
    " UNION SELECT piece FROM material_use JOIN part ON article = code AND taken_out_at > at"
    " WHERE batch = ?1 AND voided = ''",
}

# The reading of salvage.records.recalls.week_number, in the database's own words.
_WEEKS = """
SELECT code FROM (SELECT code, replace(replace(date_code, ' ', ''), '-', '') AS digits FROM board)
WHERE digits GLOB '[0-9][0-9][0-9][0-9]' AND CAST(substr(digits, 3) AS INTEGER) BETWEEN 1 AND 53
AND (CASE WHEN digits >= '70' THEN 190000 ELSE 200000 END) + CAST(digits AS INTEGER)
    BETWEEN ?1 AND ?2
"""

# All pieces of a board that is reached, and every article that one of them is in.
_REACH = """
WITH RECURSIVE reach (code) AS (
    {hit}
    UNION SELECT piece.code FROM reach JOIN piece ON piece.board = reach.code
    UNION SELECT part.article FROM reach JOIN part ON part.piece = reach.code
        AND part.taken_out_at = ''
)
"""


def _places(values: Sequence[object], first: int) -> str:
    return ", ".join(f"?{number}" for number in range(first, first + len(values)))


def _worker(cause: Cause) -> tuple[str, list[object]]:
    names, stages = cause["by"], cause["stages"]
    parameters: list[object] = [cause["since"], cause["until"], *names, *stages]
    who = f"by IN ({_places(names, 3)}) AND at >= ?1 AND at < ?2"
    if stages:
        who += f" AND stage IN ({_places(stages, 3 + len(names))})"
    parts = [
        f"SELECT piece FROM staging WHERE {who}",
        f"SELECT code FROM material_use WHERE voided = '' AND {who}",
    ]
    if not stages or CUT_STAGE in stages:
        cuts = f"SELECT code, by, at, '{CUT_STAGE}' AS stage FROM cut"
        cuts = f"SELECT code FROM ({cuts}) WHERE {who}"
        parts.append(f"SELECT code FROM piece WHERE cut IN ({cuts})")
    return " UNION ".join(parts), parameters


def _hit(cause: Cause) -> tuple[str, list[object]]:
    """The query for what a cause hits itself, and its parameters."""
    match cause["kind"]:
        case "descent":
            return _DESCENT[str(cause["code"])[0]], [cause["code"]]
        case "date code":
            weeks: list[object] = [week_number(cause["first"]), week_number(cause["last"])]
            return _WEEKS, weeks
        case "hazard":
            marks = cause["marks"]
            query = (
                f"SELECT code FROM hazard_mark WHERE hazard = ?1 AND mark IN ({_places(marks, 2)})"
            )
            return query, [cause["hazard"], *marks]
        case "measured":
            query = (
                "SELECT board FROM measuring WHERE at >= ?1 AND at < ?2 AND instr(lower(how), ?3)"
            )
            return query, [cause["since"], cause["until"], str(cause["how"]).lower()]
        case "mat":
            query = "SELECT board FROM measuring WHERE how GLOB ?1 OR how GLOB ?2"
            return query, [f"*mat {cause['serial']}", f"*mat {cause['serial']}[^0-9]*"]
        case "worker":
            return _worker(cause)
        case _:
            return "SELECT NULL WHERE 0", []


def is_hit(conn: sqlite3.Connection, cause: Cause, code: str) -> bool:
    """Whether a cause hits a thing itself, not only something that it came of."""
    query, parameters = _hit(cause)
    number = len(parameters) + 1
    row = conn.execute(
        f"SELECT 1 FROM (SELECT NULL AS code WHERE 0 UNION ALL {_renamed(query)})"
        f" WHERE code = ?{number}",
        (*parameters, code),
    ).fetchone()
    return row is not None


def _renamed(query: str) -> str:
    return f"SELECT * FROM ({query})"


def reach(conn: sqlite3.Connection, cause: Cause) -> list[str]:
    """Boards, pieces and batches that a cause reaches, in the order of their codes."""
    hit, parameters = _hit(cause)
    query = _REACH.format(hit=hit)
    return [
        code for (code,) in conn.execute(f"{query} SELECT code FROM reach ORDER BY 1", parameters)
    ]


def reach_of_things(conn: sqlite3.Connection, codes: Sequence[str]) -> list[str]:
    """The things themselves and what came of them."""
    hit = " UNION ".join(f"SELECT ?{number}" for number in range(1, len(codes) + 1))
    query = _REACH.format(hit=hit)
    return [code for (code,) in conn.execute(f"{query} SELECT code FROM reach ORDER BY 1", codes)]
