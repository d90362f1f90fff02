"""Where boards and pieces are now, told for many at once."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from salvage.ids import Code

GROUPS = (
    "sold",
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
Where a thing can be, the most urgent first: sold, a piece in the workshop, a board in the workshop,
a board with places held for somebody, not found at a stock-take, withdrawn, a retired board, a
batch of a material, and what is on record no more.
"""


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
SELECT piece.code, shape, stage, coalesce(lost_thing.stock_take, ''),
    coalesce(sale.venue, ''), coalesce(sale.sold_on, ''), coalesce(sale.returned_on, ''),
    coalesce((SELECT article FROM part WHERE part.piece = piece.code AND taken_out_at = ''
              ORDER BY article LIMIT 1), '')
FROM {reach} JOIN piece ON piece.code = {reach}.code
LEFT JOIN lost_thing ON lost_thing.code = piece.code
LEFT JOIN sale ON sale.piece = piece.code AND sale.n =
    (SELECT n FROM sale AS other WHERE other.piece = piece.code
     ORDER BY returned_on <> '', n DESC LIMIT 1)
ORDER BY piece.code
"""

_BOARDS = """
SELECT board.code, maker, model, type, place, retired, coalesce(lost_thing.stock_take, ''),
    (SELECT group_concat(for_whom, ', ') FROM (SELECT DISTINCT for_whom FROM reservation
     WHERE reservation.board = board.code AND state = 'held' ORDER BY for_whom))
FROM {reach} JOIN board ON board.code = {reach}.code
LEFT JOIN lost_thing ON lost_thing.code = board.code
ORDER BY board.code
"""


def locate(
    conn: sqlite3.Connection, *, table: str, clause: str = "", parameters: Sequence[object] = ()
) -> tuple[Whereabouts, ...]:
    """
    Where every thing of a table of codes is now, the most urgent group first.

    Args:
        conn: Open connection.
        table: Name of a table or of a common table expression with a column ``code``; never text
            from outside.
        clause: The ``WITH`` clause that makes it; empty for a table of the schema.
        parameters: Of the clause.
    """
    pieces = conn.execute(f"{clause} {_PIECES.format(reach=table)}", parameters)
    found = _with_articles({row[0]: (_place_piece(*row[:-1]), row[-1]) for row in pieces})
    boards = conn.execute(f"{clause} {_BOARDS.format(reach=table)}", parameters)
    found += [_place_board(*row) for row in boards]
    batches = conn.execute(
        f"{clause} SELECT batch.code, name, lot FROM {table} JOIN batch ON batch.code"
        f" = {table}.code ORDER BY 1",
        parameters,
    )
    found += [
        Whereabouts(Code(code), f"{name}{f', lot {lot}' if lot else ''}", "material", "material")
        for code, name, lot in batches
    ]
    return tuple(sorted(found, key=lambda one: (GROUPS.index(one.group), one.code)))


def _with_articles(pieces: dict[str, tuple[Whereabouts, str]]) -> list[Whereabouts]:
    """Pieces where they lie; a part is where the outermost article around it is."""
    found = []
    for one, around in pieces.values():
        seen = {one.code}
        while around in pieces and around not in seen and one.group != "sold":
            seen.add(pieces[around][0].code)
            there, outer = pieces[around]
            words = f"in article {around}, {there.words}"
            one = Whereabouts(one.code, one.what, there.group, words, there.venue, there.day)
            around = outer
        found.append(one)
    return found


def _place_piece(
    code: str, shape: str, stage: str, lost: str, venue: str, sold_on: str, returned_on: str
) -> Whereabouts:
    if stage == "sold":
        words = f"sold{f' at {venue}' if venue else ''} on {sold_on}"
        return Whereabouts(Code(code), shape, "sold", words, venue, sold_on)
    before = f"came back on {returned_on}" if stage == "returned" else stage
    if lost:
        return Whereabouts(
            Code(code), shape, "lost", f"{before}, not found at the stock-take {lost}"
        )
    group = "withdrawn" if stage == "withdrawn" else "bench"
    return Whereabouts(Code(code), shape, group, before)


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
