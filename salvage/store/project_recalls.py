"""
What events of recalls do to the tables, and what later events bring into an open recall.

A recall reaches further than the day on which it was opened: a piece cut tomorrow from its board, a
board whose date code is read next week, a use of its batch that another device had noted. Each such
event is looked at once, and what the cause reaches joins.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from salvage.canonical import Json, canonical_bytes
from salvage.records.recalls import FREED_AT_THE_END, FREEING
from salvage.store.recall_reach import CUT_STAGE, Cause, is_hit, reach, reach_of_things

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterator

    from salvage.records.events import Event

_TABLES = {"B": "board", "P": "piece", "V": "batch"}
"""Tables of what can be recalled, by kind letter."""

BRINGING = frozenset(
    {
        "board.recorded",
        "board.corrected",
        "board.outlined",
        "hazard.checked",
        "cut.made",
        "piece.staged",
        "batch.used",
        "article.assembled",
        "article.taken_apart",
    }
)
"""Kinds of events after which a thing may belong to an open recall that did not before."""


def _open_older(conn: sqlite3.Connection, event: Event) -> None:
    """A recall as it was opened at first: from one thing, all held."""
    subject = event.data["subject"]
    _open(conn, event, {"kind": "descent", "code": subject}, hold=True, to_do="")


def _begin(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    cause = data["cause"]
    assert isinstance(cause, dict)
    _open(conn, event, cause, hold=bool(data["hold"]), to_do=str(data["to_do"]))


def _open(
    conn: sqlite3.Connection, event: Event, cause: dict[str, Json], *, hold: bool, to_do: str
) -> None:
    code, data = event.about[0], event.data
    conn.execute(
        "INSERT INTO recall (code, subject, reason, learned_on, state, outcome, cause, hold, to_do)"
        " VALUES (?, ?, ?, ?, 'open', '', ?, ?, ?)",
        (
            code,
            data["subject"],
            data["reason"],
            data["learned_on"],
            canonical_bytes(cause).decode(),
            int(hold),
            to_do,
        ),
    )
    items = data["items"]
    assert isinstance(items, list)
    for item in items:
        _join(conn, code, item["code"], item["where_at"])
    # What another device had added, which the one that recalled did not know.
    for found in reach(conn, cause):
        _join(conn, code, found, _where(conn, found))


def _where(conn: sqlite3.Connection, code: str) -> str:
    query = {
        "B": "SELECT CASE place WHEN '' THEN 'on the shelf' ELSE place END FROM board",
        "P": "SELECT stage FROM piece",
        "V": "SELECT 'material' FROM batch",
    }[code[0]]
    row = conn.execute(f"{query} WHERE code = ?", (code,)).fetchone()
    return str(row[0]) if row else ""


def _join(
    conn: sqlite3.Connection, recall: str, code: str, where_at: Json, *, at: str = ""
) -> None:
    """Call a thing back, once; what is not there (its cut was undone elsewhere) is passed over."""
    joined = conn.execute(
        "INSERT INTO recall_item (recall, code, where_at, joined_at, holds)"
        f" SELECT ?, code, ?, ?, 0 FROM {_TABLES[code[0]]} WHERE code = ? ON CONFLICT DO NOTHING",
        (recall, where_at, at, code),
    ).rowcount
    if joined:
        _set_hold(conn, recall, code, hold=True)


def _set_hold(conn: sqlite3.Connection, recall: str, code: str, *, hold: bool) -> None:
    """Let an item count as recalled by a recall that holds, or no more."""
    changed = conn.execute(
        "UPDATE recall_item SET holds = ?1 WHERE recall = ?2 AND code = ?3 AND holds <> ?1"
        " AND (?1 = 0 OR EXISTS (SELECT 1 FROM recall WHERE code = ?2 AND hold = 1))",
        (int(hold), recall, code),
    ).rowcount
    if changed:
        conn.execute(
            f"UPDATE {_TABLES[code[0]]} SET recalled = recalled + ? WHERE code = ?",
            (1 if hold else -1, code),
        )


def _items(conn: sqlite3.Connection, recall: str) -> list[tuple[str, str]]:
    rows = conn.execute(
        "SELECT code, outcome FROM recall_item WHERE recall = ? ORDER BY code", (recall,)
    )
    return list(rows)


def _hold(conn: sqlite3.Connection, event: Event) -> None:
    recall, hold = event.about[0], bool(event.data["hold"])
    conn.execute("UPDATE recall SET hold = ? WHERE code = ?", (int(hold), recall))
    for code, outcome in _items(conn, recall):
        _set_hold(conn, recall, code, hold=hold and outcome not in FREEING)


def _add(conn: sqlite3.Connection, event: Event) -> None:
    items = event.data["items"]
    assert isinstance(items, list)
    for item in items:
        _join(conn, event.about[0], item["code"], item["where_at"], at=event.at)


def _settle(conn: sqlite3.Connection, event: Event) -> None:
    recall, outcome = event.about[0], event.data["outcome"]
    for code in event.about[1:]:
        conn.execute(
            "UPDATE recall_item SET outcome = ?, note = ?, settled_by = ?, settled_at = ?"
            " WHERE recall = ? AND code = ?",
            (outcome, event.data["note"], event.by, event.at, recall, code),
        )
        _set_hold(conn, recall, code, hold=outcome not in FREEING)


def _close(conn: sqlite3.Connection, event: Event) -> None:
    recall = event.about[0]
    conn.execute(
        "UPDATE recall SET state = 'closed', outcome = ? WHERE code = ?",
        (event.data["outcome"], recall),
    )
    for code, outcome in _items(conn, recall):
        if outcome in FREED_AT_THE_END:
            _set_hold(conn, recall, code, hold=False)


def _nothing(conn: sqlite3.Connection, event: Event) -> None:
    """What was left open is told by the journal alone."""


def bring_into_recalls(conn: sqlite3.Connection, event: Event) -> None:
    """
    Let what an event changes join the open recalls whose cause now reaches it.

    Args:
        conn: Connection with a transaction open, the event's own rule applied.
        event: Any event.
    """
    if event.kind not in BRINGING:
        return
    rows = conn.execute("SELECT code, cause FROM recall WHERE state = 'open'").fetchall()
    for recall, text in rows:
        for code in _newly_reached(conn, recall, json.loads(text), event):
            _join(conn, recall, code, _where(conn, code), at=event.at)


def _newly_reached(
    conn: sqlite3.Connection, recall: str, cause: Cause, event: Event
) -> Iterator[str]:
    things = [code for code in event.about if code[0] in "BP"]
    if cause["kind"] == "worker":
        is_work = _is_work_of(cause, event)
        hit = [code for code in things if is_work or _is_inside(conn, recall, code)]
    else:
        hit = [c for c in things if is_hit(conn, cause, c) or _is_inside(conn, recall, c)]
    if hit:
        yield from reach_of_things(conn, hit)


def _is_work_of(cause: Cause, event: Event) -> bool:
    """Whether an event is a step at a stage by one of the cause's workers in its time."""
    stage = CUT_STAGE if event.kind == "cut.made" else event.data.get("stage")
    if not stage or event.by not in cause["by"]:
        return False
    return cause["since"] <= event.at < cause["until"] and stage in (cause["stages"] or [stage])


def _is_inside(conn: sqlite3.Connection, recall: str, code: str) -> bool:
    """Whether the board that a piece was cut from, or a part of it, is in the recall."""
    row = conn.execute(
        "SELECT 1 FROM piece JOIN recall_item ON recall_item.code = piece.board"
        " WHERE piece.code = ?1 AND recall = ?2 UNION ALL SELECT 1 FROM part JOIN recall_item"
        " ON recall_item.code = part.piece WHERE article = ?1 AND recall = ?2"
        " AND taken_out_at = ''",
        (code, recall),
    ).fetchone()
    return row is not None


RECALL_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "recall.opened": _open_older,
    "recall.begun": _begin,
    "recall.hold_set": _hold,
    "recall.joined": _add,
    "recall.settled": _settle,
    "recall.left_open": _nothing,
    "recall.closed": _close,
}
"""Rules by event kind."""
