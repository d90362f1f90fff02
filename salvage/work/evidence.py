"""Evidence of checks: photos and notes that show that a hazard was looked for, or is off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.ids import Code
from salvage.records.things import Photo
from salvage.store.lookup import load_board
from salvage.store.rows import select
from salvage.work.own_facts import find_known_hazard
from salvage.work.photos import NewPhoto, append_photo, keep, look_over

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping, Sequence

    from salvage.canonical import Json
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class CheckEvidence:
    """
    One piece of evidence.

    Args:
        board: The board.
        n: Its number on the board.
        hazard: What it is about.
        photo: Number of the board's photo; None for a note alone.
        note: What it shows, or what was seen.
        by: Who gave it.
        at: When.
    """

    board: Code
    n: int
    hazard: str
    photo: int | None
    note: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class NewEvidence:
    """
    What shows that a check was made.

    Args:
        note: What was seen, in words.
        photo: A new photo.
        photo_n: Number of a photo that the board has already.
    """

    note: str = ""
    photo: NewPhoto | None = None
    photo_n: int | None = None


@dataclass(frozen=True, slots=True)
class TakenEvidence:
    """Evidence whose photo, if it has one, was looked over and kept."""

    note: str
    photo_n: int | None
    photo: Mapping[str, Json] | None


def take_in_evidence(shop: Workshop, new: NewEvidence, *, dry_run: bool) -> TakenEvidence:
    """
    Look evidence over before the change, and keep the bytes of its photo.

    Raises:
        BadValue: If it holds nothing, or both a new photo and a number.
        BadFile: If the photo is no picture.
    """
    if not (new.note.strip() or new.photo or new.photo_n is not None):
        raise BadValue("evidence is a photo or a note", field="--photo")
    if new.photo is None:
        return TakenEvidence(new.note, new.photo_n, None)
    if new.photo_n is not None:
        raise BadValue("name a new photo or one of the board's own, not both", field="--photo")
    looked = look_over(Code(""), new.photo)
    return TakenEvidence(new.note, None, keep(shop, new.photo, looked, dry_run=dry_run))


def append_evidence(
    change: Change, board: Code, hazards: Sequence[str], taken: TakenEvidence
) -> None:
    """
    Journal evidence for each of the hazards inside an open change, its photo first.

    Raises:
        NotFound: If the board has no photo of that number.
    """
    photo_n = taken.photo_n
    if taken.photo is not None:
        append_photo(change, board, taken.photo)
        photo_n = _photo_numbers(change.conn, board)[-1]
    elif photo_n is not None and photo_n not in _photo_numbers(change.conn, board):
        known = ", ".join(map(str, _photo_numbers(change.conn, board))) or "none"
        raise NotFound(f"{board} has no photo {photo_n}", hint=f"it has: {known}")
    numbers = change.next_numbers("check_evidence", "board", board, count=len(hazards))
    for n, hazard in zip(numbers, hazards, strict=True):
        data: dict[str, Json] = {
            "n": n,
            "hazard": hazard,
            "photo": photo_n,
            "note": taken.note.strip(),
        }
        change.append("hazard.evidence", (board,), data)


def _photo_numbers(conn: sqlite3.Connection, board: Code) -> list[int]:
    photos = select(conn, Photo, "FROM photo WHERE code = ? ORDER BY n", (board,))
    return [photo.n for photo in photos]


def evidence_of(conn: sqlite3.Connection, board: Code) -> tuple[CheckEvidence, ...]:
    """All evidence of a board's checks, in order."""
    return select(conn, CheckEvidence, "FROM check_evidence WHERE board = ? ORDER BY n", (board,))


def add_evidence(
    shop: Workshop,
    *,
    board: Code,
    hazards: Sequence[str],
    evidence: NewEvidence,
    dry_run: bool = False,
) -> tuple[CheckEvidence, ...]:
    """
    Keep a photo or note for checks that are on a board's list; gives all evidence of the board.

    Args:
        shop: The open workshop.
        board: The board's code.
        hazards: Slugs or names of what it shows.
        evidence: The photo or note.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If the board, hazard or photo is not known.
        BadValue: If nothing is given.
        Refused: If the board is not checked for one of the hazards.
    """
    taken = take_in_evidence(shop, evidence, dry_run=dry_run)

    def steps(change: Change) -> tuple[CheckEvidence, ...]:
        conn = change.conn
        load_board(conn, board)
        rows = conn.execute("SELECT hazard FROM hazard_check WHERE board = ?", (board,))
        listed = {slug for (slug,) in rows}
        slugs = list(dict.fromkeys(find_known_hazard(conn, word).slug for word in hazards))
        if strange := [slug for slug in slugs if slug not in listed]:
            raise Refused(
                f"{board} is not checked for {', '.join(strange)}",
                hint=f"say what was found first: salvage board clear {board} …",
            )
        append_evidence(change, board, slugs, taken)
        return evidence_of(conn, board)

    return shop.commit("add evidence", steps, dry_run=dry_run)
