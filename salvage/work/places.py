"""
Places with labels: what a scanned shelf or box means.

A board's place is a text, and any text will do. A place with a label has a code as well; wherever
a place is asked for, its code says its name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadCode, BadValue
from salvage.frozen import dataclass
from salvage.ids import Code, kind_of, parse_code
from salvage.records.place import PLACE_KIND, Place
from salvage.store.lookup import load_place
from salvage.store.rows import select, select_one

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Sequence

    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

_MOST_LETTERS = 60


@dataclass(frozen=True, slots=True)
class PlaceView:
    """
    A place and what the record says lies there.

    Args:
        place: The record.
        boards: Codes of boards, in order.
    """

    place: Place
    boards: tuple[Code, ...]


def tidy_place(text: str) -> str:
    """
    A place's name without needless blanks.

    >>> tidy_place("  shelf   A3 ")
    'shelf A3'
    """
    return " ".join(text.split())


def place_words(conn: sqlite3.Connection, text: str) -> str:
    """
    The name that a typed or scanned place means: that of a place's code, or the text itself.

    Raises:
        NotFound: If it is the code of a place that is not known.
        BadCode: If it is the code of something that is no place.
    """
    try:
        code = parse_code(text)
    except BadCode:
        return tidy_place(text)
    if code[0] != PLACE_KIND:
        raise BadCode(
            f"{code} is a {kind_of(code)}, and nothing lies in it",
            hint="scan the label of a shelf or a box, or type its name",
        )
    return load_place(conn, code).name


def find_place(conn: sqlite3.Connection, name: str) -> Place | None:
    """The place with a name, in any case; None where none has a label of that name."""
    return select_one(
        conn,
        Place,
        "FROM place WHERE name = ? COLLATE NOCASE ORDER BY code LIMIT 1",
        (tidy_place(name),),
    )


def name_places(
    shop: Workshop, *, names: Sequence[str], dry_run: bool = False
) -> tuple[Place, ...]:
    """
    Give each place a code for its label; one that has a code already keeps it.

    Args:
        shop: The open workshop.
        names: As the workshop calls them, such as ``shelf A3``.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If there is no name, or one is empty or too long for a label.
    """
    tidy = [_check_name(name) for name in names]
    if not tidy:
        raise BadValue("there is no place to name", hint='such as "shelf A3"')
    known = [find_place(shop.conn, name) for name in tidy]
    found = tuple(place for place in known if place is not None)
    if len(found) == len(tidy):
        return found

    def steps(change: Change) -> tuple[Place, ...]:
        return tuple(find_place(change.conn, name) or _name(change, name) for name in tidy)

    return shop.commit("name place", steps, dry_run=dry_run)


def _name(change: Change, name: str) -> Place:
    code = change.new_code(PLACE_KIND)
    change.append("place.named", (code,), {"name": name}, made=(code,))
    return load_place(change.conn, code)


def _check_name(name: str) -> str:
    tidy = tidy_place(name)
    if not 1 <= len(tidy) <= _MOST_LETTERS:
        what = f"'{tidy[:20]}…' is too long for a place" if tidy else "a place needs a name"
        raise BadValue(what, hint=f"1 to {_MOST_LETTERS} letters, such as shelf A3")
    try:
        parse_code(tidy)
    except BadCode:
        return tidy
    raise BadValue(f"'{tidy}' is a code", hint="give the place a name, such as shelf A3")


def view_place(conn: sqlite3.Connection, code: Code) -> PlaceView:
    """
    A place with the boards that lie there.

    Raises:
        NotFound: If there is no such place.
    """
    place = load_place(conn, code)
    rows = conn.execute(
        "SELECT code FROM board WHERE place = ? COLLATE NOCASE AND retired = '' ORDER BY code",
        (place.name,),
    )
    return PlaceView(place, tuple(Code(board) for (board,) in rows))


def list_places(shop: Workshop) -> tuple[PlaceView, ...]:
    """All places that have a code, by name."""
    places = select(shop.conn, Place, "FROM place ORDER BY name COLLATE NOCASE, code")
    return tuple(view_place(shop.conn, place.code) for place in places)
