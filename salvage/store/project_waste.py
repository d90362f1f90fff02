"""What events of waste, consignments with items, and boards weighed again do to the tables."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from salvage.store.rows import insert_row

if TYPE_CHECKING:
    import sqlite3

    from salvage.records.events import Event


def _open(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "waste_container", event.data, code=event.about[0], closed_on="")


def _put(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(conn, "waste_item", event.data, container=event.about[0], clock=event.clock)


def _close(conn: sqlite3.Connection, event: Event) -> None:
    _shut(conn, event.about[0], str(event.data["closed_on"]))


def _shut(conn: sqlite3.Connection, container: str, day: str) -> None:
    conn.execute(
        "UPDATE waste_container SET closed_on = ? WHERE code = ? AND closed_on = ''",
        (day, container),
    )


def _hand_over(conn: sqlite3.Connection, event: Event) -> None:
    data, code = event.data, event.about[0]
    insert_row(conn, "consignment", data, leave=("permit", "items"), code=code, drop_off=None)
    conn.execute(
        "INSERT INTO consignment_detail VALUES (?, ?, '', NULL, '')", (code, data["permit"])
    )
    items = data["items"]
    assert isinstance(items, list)
    for n, item in enumerate(items, 1):
        assert isinstance(item, Mapping)
        insert_row(conn, "consignment_item", item, consignment=code, n=n)
        if item["what"] == "container":
            _shut(conn, str(item["code"]), str(data["sent_on"]))


def _confirm(conn: sqlite3.Connection, event: Event) -> None:
    data = event.data
    conn.execute(
        "INSERT INTO consignment_detail VALUES (?1, '', ?2, ?3, ?4)"
        " ON CONFLICT (consignment) DO UPDATE SET confirmed_on = ?2, confirmed_mg = ?3,"
        " confirmation = ?4",
        (event.about[0], data["confirmed_on"], data["confirmed_mg"], data["confirmation"]),
    )


def _weigh_board(conn: sqlite3.Connection, event: Event) -> None:
    insert_row(
        conn,
        "board_weighing",
        event.data,
        event_id=event.id,
        board=event.about[0],
        clock=event.clock,
    )


def _set_copper(conn: sqlite3.Connection, event: Event) -> None:
    conn.execute("DELETE FROM board_copper WHERE board = ?", (event.about[0],))
    insert_row(conn, "board_copper", event.data, board=event.about[0])


WASTE_RULES: dict[str, Callable[[sqlite3.Connection, Event], None]] = {
    "waste.opened": _open,
    "waste.put": _put,
    "waste.closed": _close,
    "consignment.handed_over": _hand_over,
    "consignment.confirmed": _confirm,
    "board.weighed": _weigh_board,
    "board.copper_set": _set_copper,
}
"""Rules by event kind."""
