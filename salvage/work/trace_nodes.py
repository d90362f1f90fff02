"""The things of a trace as boxes of its picture, without a name that is nobody's business."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable

from salvage.ids import Code, kind_of
from salvage.paper.lineage import Node
from salvage.records.things import Piece
from salvage.store.lookup import (
    load_board,
    load_consignment,
    load_cut,
    load_drop_off,
    load_piece,
    load_recall,
    load_reservation,
)
from salvage.units import format_area, format_mass
from salvage.work.discretion import Discretion
from salvage.work.donors import public_name
from salvage.work.lineage import boards_of, outermost, parts_of
from salvage.work.trace import where_now

DONORS, DROP_OFFS, BOARDS, CUTS, PIECES, ARTICLES = range(6)
"""Columns of the picture."""


def mark_of(conn: sqlite3.Connection, piece: Code) -> str:
    """The sign for where a piece is; a part is where its article is."""
    found = load_piece(conn, piece)
    if found.recalled:
        return "recalled"
    if found.stage in ("sold", "withdrawn"):
        return {"sold": "sold", "withdrawn": "gone"}[found.stage]
    return "here" if outermost(conn, piece) == piece else "part"


def node_of(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    """A thing as a box of the picture."""
    return _NODES[code[0]](conn, code, discretion)


def _donor(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    del discretion  # this is what the donor agreed to
    return Node(code, DONORS, code, "donor", (public_name(conn, code),))


def _drop_off(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    found = load_drop_off(conn, code)
    weight = f", {format_mass(found.weight_mg / 1000)}" if found.weight_mg else ""
    contents = discretion.show_of(found.donor, found.contents)
    lines = (contents, f"{found.received_on}{weight}")
    return Node(code, DROP_OFFS, code, "drop-off", lines)


def _board(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    found = load_board(conn, code)
    usable = f", {format_area(found.usable_um2 / 1e6)} usable" if found.outline else ""
    state = "retired" if found.retired else f"{found.clearance}{usable}"
    mark = "recalled" if found.recalled else "gone" if found.retired else "here"
    return Node(code, BOARDS, code, "board", (discretion.show_own(found.title), state), mark)


def _cut(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    del discretion
    found = load_cut(conn, code)
    is_scrap = found.outcome != "piece"
    place = f"{found.x_um / 1000:g}, {found.y_um / 1000:g} mm, {found.at[:10]}"
    lines = (f"{'scrap' if is_scrap else found.shape}, {found.tool}", f"at {place}")
    return Node(code, CUTS, code, "cut", lines, "gone" if is_scrap else "")


def _reservation(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    del discretion  # for whom it is held is nobody's business
    found = load_reservation(conn, code)
    return Node(code, CUTS, code, "held place", (found.shape, found.state))


def _piece(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    found, parts = load_piece(conn, code), parts_of(conn, code)
    now = discretion.show_own(_now(conn, found))
    mark = mark_of(conn, code)
    if not parts:
        return Node(code, PIECES, code, "piece", (found.shape, now), mark)
    boards = len(boards_of(conn, code))
    depth = _depth(conn, code)
    of = f"{len(parts)} parts, {boards} board{'s' if boards > 1 else ''}"
    lines = (discretion.show_own(found.shape), f"{of}, {now}")
    return Node(code, ARTICLES + depth - 1, code, "article", lines, mark)


def _now(conn: sqlite3.Connection, piece: Piece) -> str:
    """Where a piece is, with the day of a sale before its place, which may be cut short."""
    words = where_now(conn, piece)
    sold = _SOLD.fullmatch(words)
    if not sold:
        return words
    return f"{sold['how']} {sold['day']}{', ' + sold['venue'] if sold['venue'] else ''}"


_SOLD = re.compile(r"(?P<how>sold|given away)(?: at (?P<venue>.*))? on (?P<day>[0-9-]{10})")


def _depth(conn: sqlite3.Connection, code: Code) -> int:
    """0 for a piece of one cut, 1 for an article of such, and so on."""
    parts = parts_of(conn, code)
    return 1 + max(_depth(conn, part.piece) for part in parts) if parts else 0


def _consignment(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    found = load_consignment(conn, code)
    weight = format_mass(found.weight_mg / 1000)
    lines = (discretion.show_own(found.contents), f"{weight}, sent {found.sent_on}")
    return Node(code, BOARDS, code, "consignment", lines, "gone")


def _recall(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    found = load_recall(conn, code)
    lines = (discretion.show_own(found.reason), f"{found.state}, {found.learned_on}")
    return Node(code, DROP_OFFS, code, "recall", lines, "recalled")


def _other(conn: sqlite3.Connection, code: Code, discretion: Discretion) -> Node:
    """A plan, a place: known by its code alone."""
    del conn, discretion
    return Node(code, BOARDS, code, kind_of(code))


_NODES: dict[str, Callable[[sqlite3.Connection, Code, Discretion], Node]] = {
    "G": _donor,
    "D": _drop_off,
    "B": _board,
    "K": _cut,
    "R": _reservation,
    "P": _piece,
    "C": _consignment,
    "H": _recall,
    "J": _other,
    "F": _other,
}
