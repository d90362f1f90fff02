"""What events of plans do to the tables; the places of a plan are reservations."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.project_boards import rings_text
from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _make_plan(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "plan",
        event.data,
        leave=("lines", "shears"),
        code=event.about[0],
        made_at=event.at,
        state="held",
        reason="",
    )
    _set_lines(conn, event)


def _change_plan(conn: sqlite3.Connection, event: Event) -> None:
    plan = event.about[0]
    conn.execute("DELETE FROM plan_line WHERE plan = ?", (plan,))
    conn.execute("DELETE FROM plan_shear WHERE plan = ?", (plan,))
    conn.execute(
        "UPDATE plan SET holds_until = ?, state = 'held', reason = '' WHERE code = ?",
        (event.data["holds_until"], plan),
    )
    _set_lines(conn, event)


def _set_lines(conn: sqlite3.Connection, event: Event) -> None:
    lines, shears = event.data["lines"], event.data["shears"]
    assert isinstance(lines, list)
    assert isinstance(shears, list)
    for n, line in enumerate(lines, 1):
        region = rings_text(line["region"])
        insert_row(
            conn, "plan_line", line, leave=("region",), plan=event.about[0], n=n, region=region
        )
    for n, cut in enumerate(shears, 1):
        insert_row(conn, "plan_shear", cut, plan=event.about[0], n=n)


def _extend_plan(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE plan SET holds_until = ? WHERE code = ?",
        (event.data["holds_until"], event.about[0]),
    )


def _release_plan(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE plan SET state = 'released', reason = ? WHERE code = ?",
        (event.data["reason"], event.about[0]),
    )


PLAN_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "plan.made": _make_plan,
    "plan.changed": _change_plan,
    "plan.extended": _extend_plan,
    "plan.released": _release_plan,
}
"""Rules by event kind."""
