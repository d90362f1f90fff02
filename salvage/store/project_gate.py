"""What events of assays and of the gate before a sale do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _assay(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "assay", event.data, code=event.about[0], by=event.by, at=event.at, voided="")


def _void(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute(
        "UPDATE assay SET voided = ? WHERE code = ? AND n = ?",
        (event.data["why"], event.about[0], event.data["n"]),
    )


def _set_product(conn: sqlite3.Connection, event: Event) -> None:
    for piece in event.about:
        conn.execute("DELETE FROM piece_product WHERE piece = ?", (piece,))
        insert_row(conn, "piece_product", event.data, piece=piece, by=event.by, at=event.at)


def _set_audience(conn: sqlite3.Connection, event: Event) -> None:
    piece = event.about[0]
    conn.execute("DELETE FROM piece_audience WHERE piece = ?", (piece,))
    insert_row(
        conn,
        "piece_audience",
        event.data,
        leave=("rests_on",),
        piece=piece,
        by=event.by,
        at=event.at,
    )


def _accept(conn: sqlite3.Connection, event: Event) -> None:
    piece = event.about[0]
    insert_row(conn, "gate_accepted", event.data, piece=piece, by=event.by, at=event.at)


GATE_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "assay.recorded": _assay,
    "assay.voided": _void,
    "piece.product_set": _set_product,
    "piece.audience_set": _set_audience,
    "gate.accepted": _accept,
}
"""Rules by event kind."""
