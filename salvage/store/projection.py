"""
The journal's projection: tables that answer quickly and can be rebuilt at any time.

Every event passes through :func:`project`, live and on a rebuild alike, so that both give the same
rows. The functions that know one kind of event each live beside this file, by the trade's rooms.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from salvage.errors import StoreTrouble
from salvage.ids import running_number
from salvage.records.events import Event
from salvage.store.journal import read_events, undone_ids
from salvage.store.project_bench import BENCH_RULES
from salvage.store.project_boards import BOARD_RULES
from salvage.store.project_cuts import CUT_RULES
from salvage.store.project_intake import INTAKE_RULES
from salvage.store.project_plans import PLAN_RULES
from salvage.store.project_printing import PRINTING_RULES

# Parents first; cleared in the other order.
TABLES = (
    "event_item",
    "undone",
    "counter",
    "setting",
    "device",
    "donor",
    "drop_off",
    "data_part",
    "file",
    "shape",
    "mat",
    "board",
    "hazard_check",
    "keep_out",
    "plan",
    "plan_line",
    "plan_shear",
    "reservation",
    "cut",
    "piece",
    "sale",
    "photo",
    "consignment",
    "recall",
    "recall_item",
    "place",
    "label_stock",
    "printer",
    "stock_take",
    "stock_seen",
    "lost_thing",
    "inbox",
)
"""Tables of the projection."""


def _undo(conn: sqlite3.Connection, event: Event) -> None:
    del event  # which events are gone follows from all corrections together
    rebuild(conn)


Rule = Callable[[sqlite3.Connection, Event], None]
RULES: dict[str, Rule] = {
    **INTAKE_RULES,
    **BOARD_RULES,
    **CUT_RULES,
    **PRINTING_RULES,
    **PLAN_RULES,
    **BENCH_RULES,
    "correction.undone": _undo,
}
"""What each kind of event does to the tables."""


def project(conn: sqlite3.Connection, event: Event) -> None:
    """Apply one new event to the tables."""
    _note_codes(conn, event)
    RULES[event.kind](conn, event)


def _note_codes(conn: sqlite3.Connection, event: Event) -> None:
    """Index the event under its codes and use up the codes that it made, undone or not."""
    made = set(event.made)
    conn.executemany(
        "INSERT INTO event_item (code, seq, made) VALUES (?, ?, ?)",
        [(code, event.seq, int(code in made)) for code in dict.fromkeys(event.about)],
    )
    conn.executemany(
        "INSERT INTO counter (kind, device, last) VALUES (?, ?, ?)"
        " ON CONFLICT DO UPDATE SET last = max(last, excluded.last)",
        [(code[0], code[1], running_number(code)) for code in event.made],
    )


def rebuild(conn: sqlite3.Connection) -> int:
    """
    Empty the projection and replay the whole journal into it, in the open transaction.

    Returns:
        The number of events replayed.

    Raises:
        StoreTrouble: If the journal holds a kind of event that this version does not know.
    """
    conn.execute("PRAGMA defer_foreign_keys = ON")
    for table in reversed(TABLES):
        conn.execute(f"DELETE FROM {table}")
    return replay(conn, conn)


def replay(source: sqlite3.Connection, target: sqlite3.Connection) -> int:
    """Project all events of *source* into the empty tables of *target*; gives their number."""
    gone = undone_ids(source)
    count = 0
    for event in read_events(source):
        count += 1
        _note_codes(target, event)
        if event.id in gone:
            target.execute(
                "INSERT INTO undone (event_id, by_event) VALUES (?, ?)", (event.id, gone[event.id])
            )
        elif event.kind not in RULES:
            raise StoreTrouble(
                f"event {event.seq} is of kind '{event.kind}', which this version does not know",
                hint="update with: pip install --upgrade salvage",
            )
        elif event.kind != "correction.undone":
            RULES[event.kind](target, event)
    return count
