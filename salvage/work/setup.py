"""The workshop's settings, changed as an operation."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from salvage.records.things import Board
from salvage.store.change import Change
from salvage.store.rows import select
from salvage.work.area import usable_with
from salvage.work.printers import find_printer
from salvage.work.settings import Settings, parse_settings, read_settings
from salvage.work.tools import find_bit
from salvage.work.workshop import Workshop

_AREA_SETTINGS = {"tool_um", "wall_um", "least_um"}


def change_settings(shop: Workshop, *, typed: Mapping[str, str], dry_run: bool = False) -> Settings:
    """
    Set one or more of the workshop's settings; usable areas that depend on them are counted again.

    Args:
        shop: The open workshop.
        typed: Names and values as people type them; lengths in millimetres.
        dry_run: Do everything, then roll back.

    Raises:
        ManyMistakes: If a name is unknown or a value does not parse.
        NotFound: If there is no such printer.
    """
    stored = parse_settings(typed)
    if stored.get("printer"):
        stored["printer"] = find_printer(shop, stored["printer"]).name
    if stored.get("bit"):
        stored["bit"] = find_bit(shop.conn, stored["bit"]).name

    def steps(change: Change) -> Settings:
        change.append("workshop.set", (), {"settings": stored})
        if _AREA_SETTINGS & stored.keys():
            usable = _count_again(change.conn)
            change.append("area.recounted", (), {"usable_um2": usable})
        return read_settings(change.conn)

    return shop.commit("change settings", steps, dry_run=dry_run)


def _count_again(conn: sqlite3.Connection) -> dict[str, int]:
    boards = select(conn, Board, "FROM board WHERE retired = '' AND outline IS NOT NULL")
    return {board.code: usable_with(conn, board) for board in boards}
