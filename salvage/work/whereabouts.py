"""Where boards and pieces are now, told for many at once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from salvage.ids import Code

GROUPS = (
    "sold",
    "outing",
    "bench",
    "shelf",
    "reserved",
    "lost",
    "withdrawn",
    "scrapped",
    "material",
    "gone",
)
"""
Where a thing can be, the most urgent first: sold, packed for an outing, a piece in the workshop, a
board in the workshop, set aside or with places held for somebody, not found at a stock-take,
withdrawn, a retired board, a batch of a material, and what is on record no more.
"""


GROUP_WORDS = {
    "sold": "sold",
    "outing": "packed for an outing",
    "bench": "pieces in the workshop",
    "shelf": "boards in the workshop",
    "reserved": "held for somebody",
    "lost": "not found at a stock-take",
    "withdrawn": "withdrawn",
    "scrapped": "retired boards",
    "material": "batches of material",
    "gone": "no longer on record",
}
"""Where things are, in words, by their group."""


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """
    Where one thing is now.

    Args:
        code: Its code.
        what: Shape of a piece, title of a board or batch.
        group: One of :data:`GROUPS`.
        words: Where it is, in words.
        venue: Where it was sold; empty if not said, or not sold.
        day: Day of the sale; empty if not sold.
    """

    code: Code
    what: str
    group: str
    words: str
    venue: str = ""
    day: str = ""


_PIECES = """
SELECT piece.code, shape, stage, coalesce(venue, ''), coalesce(sold_on, ''),
    coalesce(returned_on, ''), coalesce(n, 0),
    coalesce((SELECT min(article) FROM part
              WHERE part.piece = piece.code AND taken_out_at = ''), '')
FROM (SELECT value AS asked FROM json_each(?)) JOIN piece ON piece.code = asked
LEFT JOIN sale ON stage IN ('sold', 'returned') AND sale.piece = piece.code AND n = coalesce(
    (SELECT max(n) FROM sale AS other WHERE other.piece = piece.code AND returned_on = ''),
    (SELECT max(n) FROM sale AS other WHERE other.piece = piece.code))
"""

# What is so of few pieces is asked once for all, not of each.
_LOST = "SELECT code, stock_take FROM lost_thing"
_PACKED = """
SELECT piece, min(name || ' (' || outing.code || ')') FROM outing_piece
JOIN outing ON outing.code = outing
WHERE outing_piece.state = 'packed' AND outing.state <> 'closed' GROUP BY piece
"""
_SET_ASIDE = "SELECT piece, customer_order FROM set_aside"
_ORDERED = """
SELECT piece || '/' || sale_n, customer_order FROM slip CROSS JOIN slip_line ON slip = number
WHERE customer_order <> '' AND piece <> ''
"""

_BOARDS = """
SELECT board.code, maker, model, type, place, retired, coalesce(lost_thing.stock_take, ''),
    (SELECT group_concat(for_whom, ', ') FROM (SELECT DISTINCT for_whom FROM reservation
     WHERE reservation.board = board.code AND state = 'held' ORDER BY for_whom))
FROM (SELECT value AS asked FROM json_each(?)) JOIN board ON board.code = asked
LEFT JOIN lost_thing ON lost_thing.code = board.code
"""

_BATCHES = """
SELECT code, name, lot FROM (SELECT value AS asked FROM json_each(?)) JOIN batch ON code = asked
"""


def locate(conn: sqlite3.Connection, codes: Iterable[str]) -> tuple[Whereabouts, ...]:
    """
    Where each thing is now, the most urgent group first; what is on record no more is left out.

    Args:
        conn: Open connection.
        codes: Of boards, pieces and batches.
    """
    asked: dict[str, list[str]] = {"P": [], "B": [], "V": []}
    for code in codes:
        asked[code[0]].append(code)
    rows = conn.execute(_PIECES, (json.dumps(asked["P"]),)) if asked["P"] else ()
    few = [dict(conn.execute(query)) for query in (_LOST, _PACKED, _SET_ASIDE, _ORDERED)]
    found = _with_articles({row[0]: (_place_piece(few, *row[:-1]), row[-1]) for row in rows})
    found += [_place_board(*row) for row in conn.execute(_BOARDS, (json.dumps(asked["B"]),))]
    for code, name, lot in conn.execute(_BATCHES, (json.dumps(asked["V"]),)):
        words = f"{name}{f', lot {lot}' if lot else ''}"
        found.append(Whereabouts(Code(code), words, "material", "material"))
    found.sort(key=lambda one: one.code)
    return tuple(sorted(found, key=lambda one: _RANKS[one.group]))


_RANKS = {group: rank for rank, group in enumerate(GROUPS)}


def _with_articles(pieces: dict[str, tuple[Whereabouts, str]]) -> list[Whereabouts]:
    """Pieces where they lie; a part is where the outermost article around it is."""
    found = []
    for one, around in pieces.values():
        if not around:
            found.append(one)
            continue
        seen = {one.code}
        while around in pieces and around not in seen and one.group != "sold":
            seen.add(pieces[around][0].code)
            there, outer = pieces[around]
            words = f"in article {around}, {there.words}"
            one = Whereabouts(one.code, one.what, there.group, words, there.venue, there.day)
            around = outer
        found.append(one)
    return found


def _place_piece(few: Sequence[dict[str, str]], *row: Any) -> Whereabouts:
    code, shape, stage, venue, sold_on, returned_on, n = row
    lost, packed, aside, ordered = few
    if stage == "sold":
        buyer = ordered.get(f"{code}/{n}") if ordered else None
        bought = f" for order {buyer}" if buyer else ""
        words = f"sold{f' at {venue}' if venue else ''} on {sold_on}{bought}"
        return Whereabouts(code, shape, "sold", words, venue, sold_on)
    before = f"came back on {returned_on}" if stage == "returned" else stage
    if code in lost:
        words = f"{before}, not found at the stock-take {lost[code]}"
        return Whereabouts(code, shape, "lost", words)
    if stage == "withdrawn":
        return Whereabouts(code, shape, "withdrawn", before)
    if code in packed:
        return Whereabouts(code, shape, "outing", f"{before}, packed for {packed[code]}")
    if code in aside:
        return Whereabouts(code, shape, "reserved", f"{before}, set aside for {aside[code]}")
    return Whereabouts(code, shape, "bench", before)


def _place_board(*row: str) -> Whereabouts:
    code, maker, model, kind, place, retired, lost, reserved = row
    title = " ".join(part for part in (maker, model, kind.replace("-", " ")) if part)
    words, group = place or "on the shelf", "shelf"
    if retired:
        words, group = f"retired: {retired}", "scrapped"
    elif lost:
        words, group = f"{words}, not found at the stock-take {lost}", "lost"
    elif reserved:
        words, group = f"{words}, places held for {reserved}", "reserved"
    return Whereabouts(Code(code), title, group, words)
