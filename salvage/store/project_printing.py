"""What events about places, label stock and printers do to the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable

    from salvage.records.events import Event


def _name_place(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "place", event.data, code=event.made[0], label_printed=0, named_at=event.at)


def _describe_stock(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("DELETE FROM label_stock WHERE name = ?", (event.data["name"],))
    insert_row(conn, "label_stock", event.data, described_at=event.at)


def _describe_printer(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "INSERT INTO printer (name, dpi, stock, shift_x_um, shift_y_um, stretch_x_ppm,"
        " stretch_y_ppm, checked_at) VALUES (?, ?, ?, 0, 0, 0, 0, '')"
        " ON CONFLICT (name) DO UPDATE SET dpi = excluded.dpi, stock = excluded.stock",
        (data["name"], data["dpi"], data["stock"]),
    )


def _check_printer(conn: sqlite3.Connection, event: Event) -> None:
    columns = ("shift_x_um", "shift_y_um", "stretch_x_ppm", "stretch_y_ppm")
    conn.execute(
        f"UPDATE printer SET {', '.join(f'{name} = ?' for name in columns)}, checked_at = ?"
        " WHERE name = ?",
        (*(event.data[name] for name in columns), event.at, event.data["name"]),
    )


def _print_tag(conn: sqlite3.Connection, event: Event) -> None:
    (piece,) = event.about
    conn.execute("DELETE FROM printed_tag WHERE piece = ?", (piece,))
    insert_row(conn, "printed_tag", event.data, piece=piece, printed_at=event.at)


PRINTING_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "place.named": _name_place,
    "stock.described": _describe_stock,
    "printer.described": _describe_printer,
    "printer.checked": _check_printer,
    "tag.printed": _print_tag,
}
"""Rules by event kind."""
