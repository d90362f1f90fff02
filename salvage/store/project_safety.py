"""What events of own rows, alerts and evidence do to the tables."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from salvage.records.alerts import Alert, BoardFacts, concerns
from salvage.store.rows import insert_row, select

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable

    from salvage.records.events import Event

_REOPENED = (
    "UPDATE hazard_check SET finding = 'not checked', outcome = '', how = '', goes_to = '',"
    " reason = '', by = '', at = ''"
    " WHERE board = ? AND hazard = ?"
    " AND (finding = 'absent' OR (outcome = 'accepted' AND finding <> 'present'))"
)


def expect_hazard(conn: sqlite3.Connection, board: str, hazard: str) -> None:
    """Put a hazard on a board's checklist, unless it stands there already."""
    conn.execute(
        "INSERT INTO hazard_check (board, hazard, finding, outcome, how, goes_to, reason, by, at)"
        " VALUES (?, ?, 'not checked', '', '', '', '', '', '') ON CONFLICT DO NOTHING",
        (board, hazard),
    )


def set_clearance(conn: sqlite3.Connection, board: str) -> None:
    """A board is held while one of its hazards is open."""
    (open_checks,) = conn.execute(
        "SELECT count(*) FROM hazard_check"
        " WHERE board = ? AND NOT (finding = 'absent' OR outcome <> '')",
        (board,),
    ).fetchone()
    clearance = "held" if open_checks else "cleared"
    conn.execute("UPDATE board SET clearance = ? WHERE code = ?", (clearance, board))


def standing_alerts(conn: sqlite3.Connection) -> tuple[Alert, ...]:
    """Alerts that were not lifted, in the order in which they were raised."""
    return select(conn, Alert, "FROM alert WHERE lifted = '' ORDER BY rowid")


def board_facts(conn: sqlite3.Connection, board: str) -> BoardFacts:
    """What alerts look at, as the board stands in the tables."""
    (facts,) = select(conn, BoardFacts, "FROM board WHERE code = ?", (board,))
    return facts


def heed_alerts(conn: sqlite3.Connection, board: str, *, before: BoardFacts | None = None) -> None:
    """
    Let a board that was recorded or corrected expect what the standing alerts ask for.

    Args:
        conn: Connection with a transaction open.
        board: The board's code.
        before: What it was until now; alerts that concerned it then are not applied again.
    """
    alerts = standing_alerts(conn)
    if not alerts:
        return
    now = board_facts(conn, board)
    for alert in alerts:
        if concerns(alert, now) and not (before and concerns(alert, before)):
            _reopen(conn, board, alert.hazard)


def _reopen(conn: sqlite3.Connection, board: str, hazard: str) -> None:
    """Ask for a check: anew where nothing was found; what was removed stays removed."""
    expect_hazard(conn, board, hazard)
    conn.execute(_REOPENED, (board, hazard))
    set_clearance(conn, board)


def _raise_alert(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "alert", event.data, id=event.id, by=event.by, at=event.at, lifted="")
    (alert,) = select(conn, Alert, "FROM alert WHERE id = ?", (event.id,))
    for board in _concerned(conn, alert):
        _reopen(conn, board, alert.hazard)


def _concerned(conn: sqlite3.Connection, alert: Alert) -> Iterable[str]:
    rows = conn.execute("SELECT code FROM board ORDER BY code").fetchall()
    return (code for (code,) in rows if concerns(alert, board_facts(conn, code)))


def _lift_alert(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE alert SET lifted = ? WHERE id = ?", (event.data["reason"], event.data["alert"])
    )


def _add_fact(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "INSERT INTO own_fact (kind, slug, fields, withdrawn, by, at) VALUES (?, ?, ?, '', ?, ?)"
        " ON CONFLICT (kind, slug) DO UPDATE SET fields = excluded.fields, withdrawn = '',"
        " by = excluded.by, at = excluded.at",
        (
            data["kind"],
            data["slug"],
            json.dumps(data["fields"], ensure_ascii=False, sort_keys=True),
            event.by,
            event.at,
        ),
    )


def _withdraw_fact(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "UPDATE own_fact SET withdrawn = ? WHERE kind = ? AND slug = ?",
        (data["reason"], data["kind"], data["slug"]),
    )


def _add_evidence(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "check_evidence", event.data, board=event.about[0], by=event.by, at=event.at)


SAFETY_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "fact.added": _add_fact,
    "fact.withdrawn": _withdraw_fact,
    "alert.raised": _raise_alert,
    "alert.lifted": _lift_alert,
    "hazard.evidence": _add_evidence,
}
"""Rules by event kind."""
