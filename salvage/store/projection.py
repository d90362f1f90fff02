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
from salvage.store.project_articles import ARTICLE_RULES
from salvage.store.project_bench import BENCH_RULES
from salvage.store.project_boards import BOARD_RULES
from salvage.store.project_custody import CUSTODY_RULES
from salvage.store.project_cuts import CUT_RULES
from salvage.store.project_deeds import DEED_RULES
from salvage.store.project_gate import GATE_RULES
from salvage.store.project_intake import INTAKE_RULES
from salvage.store.project_materials import MATERIAL_RULES
from salvage.store.project_orders import ORDER_RULES
from salvage.store.project_papers import PAPER_RULES
from salvage.store.project_plans import PLAN_RULES
from salvage.store.project_printing import PRINTING_RULES
from salvage.store.project_recalls import RECALL_RULES, bring_into_recalls
from salvage.store.project_safety import SAFETY_RULES
from salvage.store.project_season import SEASON_RULES
from salvage.store.project_tools import TOOL_RULES
from salvage.store.project_waste import WASTE_RULES

# Parents first; cleared in the other order.
TABLES = (
    "event_item",
    "undone",
    "counter",
    "setting",
    "device",
    "device_key",
    "donor",
    "forgotten",
    "drop_off",
    "data_part",
    "data_search",
    "medium",
    "hand_over",
    "sanitising",
    "drop_off_closed",
    "file",
    "shape",
    "mat",
    "own_fact",
    "alert",
    "board",
    "hazard_check",
    "keep_out",
    "plan",
    "plan_line",
    "plan_shear",
    "reservation",
    "cut",
    "piece",
    "part",
    "board_share",
    "sale",
    "assay",
    "piece_product",
    "piece_audience",
    "gate_accepted",
    "photo",
    "check_evidence",
    "consignment",
    "consignment_detail",
    "consignment_item",
    "waste_container",
    "waste_item",
    "tool",
    "tool_use",
    "tool_run",
    "wording",
    "printed_paper",
    "board_weighing",
    "board_copper",
    "recall",
    "recall_item",
    "clash",
    "clash_settled",
    "place",
    "label_stock",
    "printer",
    "printed_tag",
    "stock_take",
    "stock_seen",
    "lost_thing",
    "inbox",
    "batch",
    "batch_paper",
    "material_use",
    "staging",
    "unsaid",
    "hazard_mark",
    "measuring",
    "customer_order",
    "order_line",
    "quote",
    "quote_line",
    "order_plan",
    "set_aside",
    "forgotten_customer",
    "outing",
    "outing_piece",
    "outing_cash",
    "slip",
    "slip_line",
    "time_spent",
    "step_rate",
)
"""Tables of the projection."""

_FILLED = f"SELECT {', '.join(f'(SELECT {name!r} FROM {name} LIMIT 1)' for name in TABLES)}"


def _undo(conn: sqlite3.Connection, event: Event) -> None:
    del event  # which events are gone follows from all corrections together
    rebuild(conn)


# Kinds of events that may name codes of things which are not there.
_LOOSE = (
    *("stocktake.", "inbox.", "donor.forgotten", "recall.", "alert."),
    *("order.forgotten", "sale.", "time."),
)

Rule = Callable[[sqlite3.Connection, Event], None]
RULES: dict[str, Rule] = {
    **INTAKE_RULES,
    **CUSTODY_RULES,
    **GATE_RULES,
    **BOARD_RULES,
    **CUT_RULES,
    **ARTICLE_RULES,
    **PRINTING_RULES,
    **PLAN_RULES,
    **BENCH_RULES,
    **MATERIAL_RULES,
    **WASTE_RULES,
    **TOOL_RULES,
    **RECALL_RULES,
    **SAFETY_RULES,
    **ORDER_RULES,
    **SEASON_RULES,
    **PAPER_RULES,
    "correction.undone": _undo,
}
"""What each kind of event does to the tables."""


def project(conn: sqlite3.Connection, event: Event) -> None:
    """Apply one new event to the tables."""
    _note_codes(conn, event)
    _apply(conn, event)


def _apply(conn: sqlite3.Connection, event: Event) -> None:
    """The event's own rule, the facts that it leaves behind, and what it brings into recalls."""
    RULES[event.kind](conn, event)
    if event.kind in DEED_RULES:
        DEED_RULES[event.kind](conn, event)
    bring_into_recalls(conn, event)


def _note_codes(conn: sqlite3.Connection, event: Event) -> None:
    """Index the event under its codes and use up the codes that it made, undone or not."""
    made = event.made
    conn.executemany(
        "INSERT INTO event_item (code, seq, made) VALUES (?, ?, ?)",
        [(code, event.seq, int(code in made)) for code in dict.fromkeys(event.about)],
    )
    if made:
        _use_up(conn, event)


def _use_up(conn: sqlite3.Connection, event: Event) -> None:
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
    for table in reversed(filled_tables(conn)):
        conn.execute(f"DELETE FROM {table}")
    return replay(conn, conn)


def filled_tables(conn: sqlite3.Connection) -> list[str]:
    """The tables of the projection that hold a row, asked for all at once; parents first."""
    return [table for table in conn.execute(_FILLED).fetchone() if table]


def replay(source: sqlite3.Connection, target: sqlite3.Connection) -> int:
    """
    Project all events of *source* into the empty tables of *target*; gives their number.

    What two devices did at the same time may not go together: a board cut here whose record was
    taken back there. Such an event stays in the journal and is noted as a clash; the rest goes on.
    """
    gone = undone_ids(source)
    (devices,) = source.execute("SELECT count(DISTINCT device) FROM event").fetchone()
    standing: set[str] = set()
    count = 0
    for event in read_events(source):
        count += 1
        _note_codes(target, event)
        if event.id in gone:
            target.execute(
                "INSERT INTO undone (event_id, by_event) VALUES (?, ?)", (event.id, gone[event.id])
            )
            continue
        if event.kind not in RULES:
            raise StoreTrouble(
                f"event {event.seq} is of kind '{event.kind}', which this version does not know",
                hint="update with: pip install --upgrade salvage",
            )
        if event.kind == "correction.undone":
            continue
        reason = _replay_beside_others(target, event, standing) if devices > 1 else ""
        if reason:
            target.execute("INSERT INTO clash (event_id, reason) VALUES (?, ?)", (event.id, reason))
            continue
        if devices == 1:
            _apply(target, event)
        standing.update(event.made)
    return count


def _replay_beside_others(conn: sqlite3.Connection, event: Event, standing: set[str]) -> str:
    """Apply an event unless it rests on what is not there; why it could not be, or nothing."""
    made = set(event.made)
    missing = [code for code in event.about if code not in made and code not in standing]
    if missing and not event.kind.startswith(_LOOSE):
        return f"rests on {', '.join(missing)}, which another device has taken back"
    conn.execute("SAVEPOINT one_event")
    try:
        _apply(conn, event)
    except sqlite3.IntegrityError:
        conn.execute("ROLLBACK TO one_event")
        return "cannot stand beside what another device did at the same time"
    finally:
        conn.execute("RELEASE one_event")
    return ""
