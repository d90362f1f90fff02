"""Finding things by their code, and offering the nearest where there is none."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeVar

from salvage.errors import NotFound
from salvage.ids import KINDS, Code, nearest_codes, slips_of
from salvage.records.actions import ACTION_KIND, is_action
from salvage.records.materials import Batch
from salvage.records.place import Place
from salvage.records.recalls import Recall
from salvage.records.season import Order, Outing
from salvage.records.things import (
    Board,
    Consignment,
    Cut,
    Donor,
    DropOff,
    Piece,
    Plan,
    Reservation,
)
from salvage.records.waste import WasteContainer
from salvage.store.rows import select_one

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

Record = TypeVar("Record")

TABLE_OF = {
    "B": "board",
    "P": "piece",
    "D": "drop_off",
    "G": "donor",
    "K": "cut",
    "R": "reservation",
    "C": "consignment",
    "H": "recall",
    "F": "place",
    "T": "stock_take",
    "J": "plan",
    "V": "batch",
    "E": "waste_container",
    "N": "customer_order",
    "U": "outing",
}
"""Table that holds the things of a kind letter."""


def exists(conn: sqlite3.Connection, code: Code) -> bool:
    """True when the workshop holds the thing with this code, or it is an action's."""
    if code[0] == ACTION_KIND:
        return is_action(code)
    row = conn.execute(f"SELECT 1 FROM {TABLE_OF[code[0]]} WHERE code = ?", (code,)).fetchone()
    return row is not None


def complete_code(conn: sqlite3.Connection, start: str, *, kinds: str, most: int = 50) -> list[str]:
    """Codes of some kinds that begin with *start*, in order."""
    found: list[str] = []
    for kind in kinds:
        rows = conn.execute(
            f"SELECT code FROM {TABLE_OF[kind]} WHERE code >= ? AND code < ? ORDER BY code LIMIT ?",
            (start, start + "~", most),
        )
        found += [code for (code,) in rows]
    return found[:most]


def suggest(conn: sqlite3.Connection, text: str, *, kinds: str = "") -> list[str]:
    """Codes that exist and look most like *text*."""
    known: list[str] = []
    for kind in kinds or TABLE_OF:
        if kind in TABLE_OF:
            known += _alike(conn, TABLE_OF[kind], text, kind)
    return nearest_codes(text, known)


_FEW = 500
"""So many codes of a kind are compared one by one."""


def _alike(conn: sqlite3.Connection, table: str, text: str, kind: str) -> list[str]:
    """Codes of one kind among which the nearest are: all of few; of many, those a slip away."""
    rows = conn.execute(f"SELECT code FROM {table} LIMIT ?", (_FEW + 1,)).fetchall()
    if len(rows) > _FEW:
        asked = json.dumps([code for code in slips_of(text) if code.startswith(kind)])
        rows = conn.execute(
            f"SELECT code FROM json_each(?) AS asked CROSS JOIN {table} ON code = asked.value",
            (asked,),
        ).fetchall()
    return [code for (code,) in rows]


def _load(conn: sqlite3.Connection, record: type[Record], code: str) -> Record:
    found = select_one(conn, record, f"FROM {TABLE_OF[code[0]]} WHERE code = ?", (code,))
    if found is None:
        word = KINDS[code[0]]
        raise NotFound(
            f"there is no {word} {code} in this workshop",
            nearest=suggest(conn, code, kinds=code[0]),
        )
    return found


def load_board(conn: sqlite3.Connection, code: Code) -> Board:
    """The board with this code; NotFound where there is none (likewise for all below)."""
    return _load(conn, Board, code)


def load_piece(conn: sqlite3.Connection, code: Code) -> Piece:
    """The piece with this code."""
    return _load(conn, Piece, code)


def load_drop_off(conn: sqlite3.Connection, code: Code) -> DropOff:
    """The drop-off with this code."""
    return _load(conn, DropOff, code)


def load_donor(conn: sqlite3.Connection, code: Code) -> Donor:
    """The donor with this code."""
    return _load(conn, Donor, code)


def load_cut(conn: sqlite3.Connection, code: Code) -> Cut:
    """The cut with this code."""
    return _load(conn, Cut, code)


def load_reservation(conn: sqlite3.Connection, code: Code) -> Reservation:
    """The reservation with this code."""
    return _load(conn, Reservation, code)


def load_plan(conn: sqlite3.Connection, code: Code) -> Plan:
    """The plan with this code."""
    return _load(conn, Plan, code)


def load_recall(conn: sqlite3.Connection, code: Code) -> Recall:
    """The recall with this code."""
    return _load(conn, Recall, code)


def load_consignment(conn: sqlite3.Connection, code: Code) -> Consignment:
    """The consignment with this code."""
    return _load(conn, Consignment, code)


def load_container(conn: sqlite3.Connection, code: Code) -> WasteContainer:
    """The waste container with this code."""
    return _load(conn, WasteContainer, code)


def load_place(conn: sqlite3.Connection, code: Code) -> Place:
    """The place with this code."""
    return _load(conn, Place, code)


def load_batch(conn: sqlite3.Connection, code: Code) -> Batch:
    """The batch of a material with this code."""
    return _load(conn, Batch, code)


def load_order(conn: sqlite3.Connection, code: Code) -> Order:
    """The order with this code."""
    return _load(conn, Order, code)


def load_outing(conn: sqlite3.Connection, code: Code) -> Outing:
    """The outing with this code."""
    return _load(conn, Outing, code)


def read_private(conn: sqlite3.Connection, seal: str | None) -> str:
    """The personal text behind a seal; empty where there is none or it was erased."""
    row = conn.execute("SELECT value FROM private_field WHERE seal = ?", (seal,)).fetchone()
    return str(row[0]) if row else ""


def count_rows(conn: sqlite3.Connection, rest: str, parameters: Sequence[object] = ()) -> int:
    """Number of rows of ``SELECT count(*)`` with *rest* from ``FROM`` on."""
    (number,) = conn.execute(f"SELECT count(*) {rest}", parameters).fetchone()
    return int(number)
