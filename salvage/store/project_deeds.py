"""Facts that recalls are found by: who did a stage, what was found, how a board was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.records.materials import STAGE_OF

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event

_MATERIAL_STAGES = frozenset(STAGE_OF.values())


def _stage(conn: sqlite3.Connection, event: Event) -> None:
    piece, stage = event.about[0], event.data["stage"]
    conn.execute(
        "INSERT INTO staging (by, at, piece, stage) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
        (event.by, event.at, piece, stage),
    )
    if stage in _MATERIAL_STAGES:
        _note_unsaid(conn, piece, str(stage), event.at)


def _note_unsaid(conn: sqlite3.Connection, piece: str, stage: str, at: str) -> None:
    """A stage that needs a material, where nobody said which."""
    conn.execute(
        "INSERT INTO unsaid (stage, piece, at) SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1"
        " FROM material_use WHERE code = ?2 AND stage = ?1 AND voided = '') ON CONFLICT DO NOTHING",
        (stage, piece, at),
    )


def _use(conn: sqlite3.Connection, event: Event) -> None:
    conn.executemany(
        "DELETE FROM unsaid WHERE stage = ? AND piece = ?",
        [(event.data["stage"], code) for code in event.about[1:]],
    )


def _void_use(conn: sqlite3.Connection, event: Event) -> None:
    rows = conn.execute(
        "SELECT code, stage, at FROM material_use WHERE batch = ? AND n = ?",
        (event.about[0], event.data["n"]),
    ).fetchall()
    for piece, stage, at in rows:
        if stage in _MATERIAL_STAGES:
            _note_unsaid(conn, piece, stage, at)


def _check(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    marks = {"found": data["finding"] == "present", "accepted": data["outcome"] == "accepted"}
    for mark, holds in marks.items():
        if holds:
            _mark(conn, str(data["hazard"]), mark, event.about[0])


def _mark(conn: sqlite3.Connection, hazard: str, mark: str, code: str) -> None:
    conn.execute(
        "INSERT INTO hazard_mark (hazard, mark, code) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
        (hazard, mark, code),
    )


def _cut(conn: sqlite3.Connection, event: Event) -> None:
    """A piece that was cut by override, under each hazard that was open then."""
    if not event.data["override_reason"] or event.data["outcome"] != "piece":
        return
    _, board, piece = event.about[:3]
    rows = conn.execute(
        "SELECT hazard FROM hazard_check"
        " WHERE board = ? AND NOT (finding = 'absent' OR outcome <> '')",
        (board,),
    ).fetchall()
    for (hazard,) in rows:
        _mark(conn, hazard, "overridden", piece)


def _measure(conn: sqlite3.Connection, event: Event) -> None:
    if event.data["outline_from"]:
        conn.execute(
            "INSERT INTO measuring (board, at, how) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            (event.about[0], event.at, event.data["outline_from"]),
        )


DEED_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "piece.staged": _stage,
    "batch.used": _use,
    "batch.use_voided": _void_use,
    "hazard.checked": _check,
    "cut.made": _cut,
    "board.recorded": _measure,
    "board.outlined": _measure,
}
"""By event kind; applied after the rule that keeps the thing itself."""
