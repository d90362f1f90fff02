"""Mending what was typed wrong: the old value and the new one both stay on the record."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.things import Board, Donor, DropOff
from salvage.store.change import Change
from salvage.store.lookup import load_board, load_drop_off
from salvage.units import format_mass, parse_country, to_mg, to_um
from salvage.work.donors import DonorView, check_naming, view_donor
from salvage.work.expecting import expected_slugs
from salvage.work.mass import SCALES, outweighed
from salvage.work.receive import DropOffView, check_contents, view_drop_off
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class DropOffCorrection:
    """
    What was wrong about a drop-off; None for what stays.

    Args:
        received_on: Day it arrived.
        contents: What arrived, in words.
        board_count: Number of boards; 0 if nobody counted.
        weight_g: Weight in grams; 0 if nobody weighed.
        origin: Coarse place it comes from.
        origin_country: ISO 3166-1 code.
        story: What the donor told.
        notes: For the workshop only.
    """

    received_on: date | None = None
    contents: str | None = None
    board_count: int | None = None
    weight_g: float | None = None
    origin: str | None = None
    origin_country: str | None = None
    story: str | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class BoardCorrection:
    """
    What was wrong about a board; None for what stays.

    Args:
        type: A board type's slug. The hazards of the new type are expected as well, not checked;
            those of the old type stay on the checklist.
        maker, model: As printed on it.
        date_code: As printed.
        colour: Of the solder mask.
        thickness_mm: By caliper; 0 if nobody measured.
        weight_g: By scales; 0 if nobody weighed.
        notes: For the workshop only.
    """

    type: str | None = None
    maker: str | None = None
    model: str | None = None
    date_code: str | None = None
    colour: str | None = None
    thickness_mm: float | None = None
    weight_g: float | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class DonorCorrection:
    """
    What was wrong about a donor; None for what stays.

    How the donor wishes to appear is no slip of the pen: see
    :func:`salvage.work.donors.set_naming`.

    Args:
        name: Person or body; sealed anew, and kept apart from the journal.
        contact: Address or telephone; likewise.
        source_kind: One of :data:`salvage.records.choices.SOURCE_KINDS`.
    """

    name: str | None = None
    contact: str | None = None
    source_kind: str | None = None


def correct_drop_off(
    shop: Workshop, *, drop_off: Code, new: DropOffCorrection, why: str, dry_run: bool = False
) -> DropOffView:
    """
    Mend what was typed wrong about a drop-off.

    Args:
        shop: The open workshop.
        drop_off: The drop-off's code.
        new: The right values.
        why: Such as "misread the scales"; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such drop-off.
        BadValue: If nothing differs, no reason is given, it is not said what arrived, or something
            of it was sent off before the day.
        Refused: If more has left of it than would have come in.
    """
    _check_why(why)
    if new.contents is not None:
        check_contents(new.contents)
    typed: dict[str, Json] = {
        "received_on": new.received_on.isoformat() if new.received_on else None,
        "contents": new.contents,
        "board_count": new.board_count,
        "weight_mg": None if new.weight_g is None else to_mg(new.weight_g),
        "origin": new.origin,
        "origin_country": new.origin_country
        and parse_country(new.origin_country, field="--origin-country"),
        "story": new.story,
        "notes": new.notes,
    }

    def steps(change: Change) -> DropOffView:
        old = load_drop_off(change.conn, drop_off)
        _check_came_first(change.conn, drop_off, new.received_on)
        data = _difference(old, typed, may_lack=("board_count", "weight_mg"))
        change.append("dropoff.corrected", (drop_off,), {**data, "why": why})
        _check_not_outweighed(change.conn, drop_off)
        return view_drop_off(change.conn, drop_off)

    return shop.commit("correct drop-off", steps, dry_run=dry_run)


def correct_board(
    shop: Workshop, *, board: Code, new: BoardCorrection, why: str, dry_run: bool = False
) -> Board:
    """
    Mend what was typed wrong about a board.

    Args:
        shop: The open workshop.
        board: The board's code.
        new: The right values; another type brings that type's hazards to the checklist.
        why: Such as "read the wrong side"; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such board.
        BadValue: If nothing differs, or no reason is given.
        Refused: If a piece of it weighs more than it would.
    """
    _check_why(why)
    typed: dict[str, Json] = {
        "type": new.type,
        "maker": new.maker,
        "model": new.model,
        "date_code": new.date_code,
        "colour": new.colour,
        "thickness_um": None if new.thickness_mm is None else to_um(new.thickness_mm),
        "weight_mg": None if new.weight_g is None else to_mg(new.weight_g),
        "notes": new.notes,
    }

    def steps(change: Change) -> Board:
        old = load_board(change.conn, board)
        data = _difference(old, typed, may_lack=("thickness_um", "weight_mg"))
        _check_pieces_lighter(change.conn, board, new.weight_g)
        hazards = _newly_expected(shop, old, new)
        change.append("board.corrected", (board,), {**data, "hazards": hazards, "why": why})
        return load_board(change.conn, board)

    return shop.commit("correct board", steps, dry_run=dry_run)


def _check_pieces_lighter(conn: sqlite3.Connection, board: Code, weight_g: float | None) -> None:
    heaviest = conn.execute(
        "SELECT code, weight_mg FROM piece WHERE board = ? AND weight_mg > 0"
        " ORDER BY weight_mg DESC, code LIMIT 1",
        (board,),
    ).fetchone()
    if weight_g and heaviest and heaviest[1] > to_mg(weight_g) * (1 + SCALES):
        raise Refused(
            f"its piece {heaviest[0]} alone weighs {format_mass(heaviest[1] / 1000)}",
            hint=f"'salvage piece weigh {heaviest[0]} …' mends the piece's weight",
        )


def correct_donor(
    shop: Workshop, *, donor: Code, new: DonorCorrection, why: str, dry_run: bool = False
) -> DonorView:
    """
    Mend what was typed wrong about a donor; of name and contact the journal holds only new seals.

    Args:
        shop: The open workshop.
        donor: The donor's code.
        new: The right values.
        why: Such as "misspelt"; it stays on the record, so it may not repeat name or contact.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such donor.
        BadValue: If nothing differs, no reason is given, the reason holds a word of name or
            contact, or a donor who is to be named would have no name.
    """
    _check_why(why)

    def steps(change: Change) -> DonorView:
        old = view_donor(change.conn, donor)
        private = {"name": (old.name, new.name), "contact": (old.contact, new.contact)}
        check_nothing_private(why, private, known=old.donor.described_as)
        if new.name is not None:
            check_naming(old.donor.naming, old.donor.described_as, new.name)
        typed: dict[str, Json] = {"source_kind": new.source_kind}
        for field, (was, now) in private.items():
            if now is not None and now != was:
                typed[f"{field}_seal"] = change.seal(now) or ""
        data = _difference(old.donor, typed, may_lack=("name_seal", "contact_seal"))
        change.append("donor.corrected", (donor,), {**data, "why": why})
        return view_donor(change.conn, donor)

    return shop.commit("correct donor", steps, dry_run=dry_run)


def _check_why(why: str) -> None:
    if not why.strip():
        raise BadValue("say why", hint="such as 'misread the scales'", field="--reason")


def _difference(
    old: DropOff | Board | Donor, typed: Mapping[str, Json], *, may_lack: tuple[str, ...]
) -> dict[str, Json]:
    """Old and new values of the fields that differ; an empty one of *may_lack* becomes null."""
    now = {
        field: value or None if field in may_lack else value
        for field, value in typed.items()
        if value is not None
    }
    was: dict[str, Json] = {field: getattr(old, field) for field in now}
    differ = [field for field in now if now[field] != was[field]]
    if not differ:
        raise BadValue(
            f"nothing about {old.code} differs from the record",
            hint=f"'salvage history {old.code}' shows it",
        )
    return {
        "was": {field: was[field] for field in differ},
        "now": {field: now[field] for field in differ},
    }


def _check_came_first(conn: sqlite3.Connection, drop_off: Code, came: date | None) -> None:
    (sent_on,) = conn.execute(
        "SELECT min(sent_on) FROM consignment WHERE drop_off = ?", (drop_off,)
    ).fetchone()
    if came and sent_on and came > date.fromisoformat(sent_on):
        raise BadValue(
            f"{came} is after a part of {drop_off} was sent off on {sent_on}",
            hint="give the real day",
            field="--date",
        )


def _check_not_outweighed(conn: sqlite3.Connection, drop_off: Code) -> None:
    for code, came_mg, sent_mg in outweighed(conn):
        if code == drop_off:
            raise Refused(
                f"{format_mass(sent_mg / 1000)} of {code} have left already, which is more than"
                f" {format_mass(came_mg / 1000)}",
                hint=f"'salvage trace {code}' lists the consignments",
            )


def _newly_expected(shop: Workshop, board: Board, new: BoardCorrection) -> list[Json]:
    """Hazards of another type or date code that are not on the board's checklist yet."""
    if not new.type and new.date_code is None:
        return []
    rows = shop.conn.execute("SELECT hazard FROM hazard_check WHERE board = ?", (board.code,))
    listed = {hazard for (hazard,) in rows}
    date_code = board.date_code if new.date_code is None else new.date_code
    slugs = expected_slugs(shop, new.type or board.type, date_code)
    return [slug for slug in slugs if slug not in listed]


_WORD = re.compile(r"\w{4,}")
"""Shorter words, such as "the" and "Ltd", tell nobody's name."""


def check_nothing_private(
    why: str,
    private: Mapping[str, tuple[str, str | None]],
    *,
    known: str,
    field: str = "--reason",
) -> None:
    """
    Raise if the reason, which the journal keeps in clear, holds a word that is sealed.

    Args:
        why: The reason.
        private: Sealed texts by what they are.
        known: What is told of the donor anyhow.
        field: Where the reason was typed.
    """
    told = set(_WORD.findall(why.casefold())) - set(_WORD.findall(known.casefold()))
    for sealed, texts in private.items():
        for text in filter(None, texts):
            if found := sorted(told & set(_WORD.findall(text.casefold()))):
                raise BadValue(
                    f"the reason holds '{found[0]}', which is part of the sealed {sealed}",
                    hint="say it without the name, such as 'misspelt'",
                    field=field,
                )
