"""Packing for an outing: each piece is given two letters that stand for it there."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from salvage.errors import Refused
from salvage.ids import LETTERS, Code
from salvage.records.season import OutingPiece
from salvage.records.things import Piece
from salvage.store.change import Change
from salvage.store.lookup import load_outing, load_piece
from salvage.store.rows import select
from salvage.work.gate import check_gate
from salvage.work.outings import OutingView, see_outing
from salvage.work.sellable import check_sellable, order_of_piece
from salvage.work.workshop import Workshop


def next_keys(conn: sqlite3.Connection, outing: Code, count: int) -> list[str]:
    """
    The next unused keys of an outing: two letters for the first 256 pieces, then three.

    Args:
        conn: Open connection.
        outing: Its code.
        count: How many.
    """
    rows = conn.execute("SELECT key FROM outing_piece WHERE outing = ?", (outing,))
    used = {key for (key,) in rows}
    fresh = (key for key in (key_of(n) for n in range(len(used) * 2 + count)) if key not in used)
    return [key for key, _ in zip(fresh, range(count), strict=False)]


def key_of(number: int) -> str:
    """
    The key with a number, from 0 on.

    >>> key_of(0), key_of(17), key_of(256)
    ('BB', 'CC', 'BBB')
    """
    base = len(LETTERS)
    if number < base * base:
        return LETTERS[number // base] + LETTERS[number % base]
    number -= base * base
    first, rest = divmod(number, base * base)
    return LETTERS[first % base] + LETTERS[rest // base] + LETTERS[rest % base]


def pack(
    shop: Workshop, *, outing: Code, pieces: Sequence[Code], dry_run: bool = False
) -> OutingView:
    """
    Pack pieces for an outing; each is given a key of two letters that stands for it there.

    Args:
        shop: The open workshop.
        outing: Its code.
        pieces: Their codes; one that is packed already stays so.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing or piece.
        Refused: If the outing is closed, or a piece may not be sold or is packed for another one.
    """

    def steps(change: Change) -> OutingView:
        found = load_outing(change.conn, outing)
        if found.state == "closed":
            raise Refused(f"{outing} ({found.name}) is closed")
        rows = select(change.conn, OutingPiece, "FROM outing_piece WHERE outing = ?", (outing,))
        known = {row.piece: row for row in rows}
        new = [code for code in dict.fromkeys(pieces) if code not in known]
        keys = dict(zip(new, next_keys(change.conn, outing, len(new)), strict=True))
        for code in dict.fromkeys(pieces):
            if code in known and known[code].state == "packed":
                continue
            piece = load_piece(change.conn, code)
            _check_packable(change.conn, outing, piece)
            check_gate(change.conn, piece, shop.settings.markets, shop.today)
            key = known[code].key if code in known else keys[code]
            change.append("piece.packed", (code, outing), {"outing": outing, "key": key})
        return see_outing(change.conn, outing)

    return shop.commit("pack", steps, dry_run=dry_run)


def ready_pieces(shop: Workshop) -> tuple[Code, ...]:
    """Pieces that are ready and priced, and neither packed nor waiting for an order."""
    rows = shop.conn.execute(
        "SELECT code FROM piece WHERE stage = 'ready' AND price_minor IS NOT NULL AND recalled = 0"
        " AND code NOT IN (SELECT code FROM lost_thing)"
        " AND code NOT IN (SELECT piece FROM part WHERE taken_out_at = '')"
        " AND code NOT IN (SELECT piece FROM outing_piece JOIN outing ON outing.code = outing"
        "  WHERE outing_piece.state = 'packed' AND outing.state <> 'closed') ORDER BY code"
    )
    codes = [Code(code) for (code,) in rows]
    return tuple(
        code for code in codes if not order_of_piece(shop.conn, load_piece(shop.conn, code))
    )


def _check_packable(conn: sqlite3.Connection, outing: Code, piece: Piece) -> None:
    check_sellable(conn, piece)
    row = conn.execute(
        "SELECT code, name FROM outing_piece JOIN outing ON outing.code = outing"
        " WHERE piece = ? AND outing <> ? AND outing_piece.state = 'packed'"
        " AND outing.state <> 'closed'",
        (piece.code, outing),
    ).fetchone()
    if row:
        raise Refused(
            f"{piece.code} is packed for {row[0]} ({row[1]})",
            hint=f"salvage outing unpack {row[0]} {piece.code}",
        )


def unpack(
    shop: Workshop, *, outing: Code, pieces: Sequence[Code], reason: str = "", dry_run: bool = False
) -> OutingView:
    """
    Take pieces out of the box again.

    Args:
        shop: The open workshop.
        outing: Its code.
        pieces: Their codes.
        reason: Why.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing.
        Refused: If a piece is not packed for it.
    """

    def steps(change: Change) -> OutingView:
        packed = {one.piece.code for one in see_outing(change.conn, outing).in_state("packed")}
        for code in dict.fromkeys(pieces):
            if code not in packed:
                raise Refused(f"{code} is not packed for {outing}")
            change.append("piece.unpacked", (code, outing), {"outing": outing, "reason": reason})
        return see_outing(change.conn, outing)

    return shop.commit("unpack", steps, dry_run=dry_run)
