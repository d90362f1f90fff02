"""The shelf: boards by state and by words, page by page, with what a small picture needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.records.things import Board
from salvage.store.lookup import count_rows
from salvage.store.rows import select
from salvage.work.record import BOARD_STATES

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterable, Sequence

    from salvage.ids import Code
    from salvage.work.workshop import Workshop

ORDERS = {
    "newest": "recorded_at DESC, code DESC",
    "largest": "usable_um2 DESC, code",
    "smallest": "usable_um2 = 0, usable_um2, code",
    "place": "place = '', place COLLATE NOCASE, code",
}
"""Orders of the shelf; the first is the usual one."""

_MOST_WORDS = 12

# Columns of the board itself in which words are looked for.
_COLUMNS = (
    "code",
    "type",
    "maker",
    "model",
    "date_code",
    "colour",
    "place",
    "notes",
    "outline_from",
)

_ELSEWHERE = (
    (
        "drop_off IN (SELECT code FROM drop_off WHERE code LIKE {0} OR contents LIKE {0}"
        " OR origin LIKE {0} OR story LIKE {0} OR notes LIKE {0})"
    ),
    "code IN (SELECT board FROM keep_out WHERE lifted = 0 AND reason LIKE {0})",
    "code IN (SELECT board FROM piece WHERE code LIKE {0} OR shape LIKE {0})",
    (
        "drop_off IN (SELECT drop_off.code FROM drop_off JOIN donor ON donor.code = drop_off.donor"
        " WHERE donor.described_as LIKE {0})"
    ),
)
_PRIVATE = (
    "drop_off IN (SELECT drop_off.code FROM drop_off JOIN donor ON donor.code = drop_off.donor"
    " JOIN private_field ON seal = name_seal WHERE value LIKE {0})"
)


@dataclass(frozen=True, slots=True)
class ShelfQuery:
    """
    What is looked for on the shelf.

    Args:
        text: Words, each of which must stand somewhere in the board's record.
        state: Key of :data:`salvage.work.record.BOARD_STATES`.
        order: Key of :data:`ORDERS`.
        start: So many are passed over.
        most: At most so many are given.
        private: Whether donors' own names count among the words.
    """

    text: str = ""
    state: str = ""
    order: str = "newest"
    start: int = 0
    most: int = 24
    private: bool = True


@dataclass(frozen=True, slots=True)
class ShelfMarks:
    """Regions of a board as text, for a small picture: cuts, keep-outs, and what is held."""

    cuts: tuple[str, ...] = ()
    keep_outs: tuple[str, ...] = ()
    held: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """
    One page of the shelf.

    Args:
        query: What was asked.
        total: How many boards there are in all.
        boards: Those of this page.
        marks: What to draw on them.
        faces: Hash of the newest photo with known corners, of each board that has one.
    """

    query: ShelfQuery
    total: int
    boards: tuple[Board, ...]
    marks: dict[Code, ShelfMarks]
    faces: dict[Code, str]


def search_shelf(shop: Workshop, *, query: ShelfQuery) -> ShelfPage:
    """
    One page of the boards that a query finds.

    Args:
        shop: The open workshop.
        query: What is looked for.
    """
    words = query.text.split()[:_MOST_WORDS]
    where = [f"({BOARD_STATES[query.state]})"]
    where += [_condition(f"?{n}", private=query.private) for n in range(1, len(words) + 1)]
    found = f"FROM board WHERE {' AND '.join(where)}"
    parameters = [f"%{_escape(word)}%" for word in words]
    total = count_rows(shop.conn, found, parameters)
    rest = f"{found} ORDER BY {ORDERS[query.order]} LIMIT {query.most:d} OFFSET {query.start:d}"
    boards = select(shop.conn, Board, rest, parameters)
    codes = [board.code for board in boards]
    return ShelfPage(query, total, boards, _marks(shop.conn, codes), _faces(shop.conn, codes))


def _condition(mark: str, *, private: bool) -> str:
    """A board matches a word that stands in any of its texts; *mark* stands for the word."""
    own = [f"{column} LIKE {{0}}" for column in _COLUMNS]
    tests = [*own, *_ELSEWHERE, *([_PRIVATE] if private else [])]
    like = mark + r" ESCAPE '\'"
    return "(" + " OR ".join(test.format(like) for test in tests) + ")"


def _escape(word: str) -> str:
    """A word whose own percent signs and underlines mean themselves."""
    return word.replace("\\", r"\\").replace("%", r"\%").replace("_", r"\_")


def _marks(conn: sqlite3.Connection, codes: Sequence[Code]) -> dict[Code, ShelfMarks]:
    return {
        code: ShelfMarks(cuts, keep_outs, held)
        for code, cuts, keep_outs, held in (
            (
                code,
                _regions(conn, "cut WHERE board = ?", code),
                _regions(conn, "keep_out WHERE lifted = 0 AND board = ?", code),
                _regions(conn, "reservation WHERE state = 'held' AND board = ?", code),
            )
            for code in codes
        )
    }


def _regions(conn: sqlite3.Connection, rest: str, code: Code) -> tuple[str, ...]:
    return tuple(region for (region,) in conn.execute(f"SELECT region FROM {rest}", (code,)))


def _faces(conn: sqlite3.Connection, codes: Iterable[Code]) -> dict[Code, str]:
    """Hash of each board's newest front photo whose corners are known."""
    faces = {}
    for code in codes:
        row = conn.execute(
            "SELECT sha256 FROM photo WHERE code = ? AND side = 'front' AND corners <> ''"
            " ORDER BY n DESC LIMIT 1",
            (code,),
        ).fetchone()
        if row:
            faces[code] = str(row[0])
    return faces
