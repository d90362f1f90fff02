"""Outings: planned, packed piece by piece, and what is in the box."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NotFound, Refused
from salvage.frozen import dataclass
from salvage.records.season import Outing, OutingCash, OutingPiece
from salvage.records.things import Piece
from salvage.store.lookup import load_outing
from salvage.store.rows import select, select_one
from salvage.work.slips import outing_here

if TYPE_CHECKING:
    import sqlite3

    from salvage.canonical import Json
    from salvage.ids import Code
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class NewOuting:
    """
    An outing to come.

    Args:
        name: What it is called, on slips and lists.
        place: Where it is.
        begins_on: Its first day.
        ends_on: Its last day; the first one if left out.
        stall_fee_minor: What the stall costs, in the workshop's currency.
        notes: For the workshop only.
    """

    name: str
    begins_on: date
    place: str = ""
    ends_on: date | None = None
    stall_fee_minor: int = 0
    notes: str = ""


@dataclass(frozen=True, slots=True)
class OutingCorrection:
    """
    What was wrong about an outing; None for what stays.

    Args:
        name, place, notes: In words.
        begins_on, ends_on: Its days.
        stall_fee_minor: What the stall cost.
    """

    name: str | None = None
    place: str | None = None
    begins_on: date | None = None
    ends_on: date | None = None
    stall_fee_minor: int | None = None
    notes: str | None = None


@dataclass(frozen=True, slots=True)
class BoxPiece:
    """
    A piece of an outing.

    Args:
        piece: The record.
        key: Two letters that stand for it at this outing.
        state: ``packed``, ``sold``, ``given``, ``home``, ``missing``, ``unpacked``; or ``back``
            for one that was sold and came back there.
    """

    piece: Piece
    key: str
    state: str


@dataclass(frozen=True, slots=True)
class OutingView:
    """
    An outing as it stands.

    Args:
        outing: The record.
        pieces: What was packed, sold or brought home, in the order of their keys.
        cash: Cash that moved without a sale.
        cash_sales_minor: Cash taken, less cash given back.
        card_sales_minor: The same by card.
        other_sales_minor: The same by other ways.
        fees_minor: What the bank keeps of it.
        slips: Number of slips.
    """

    outing: Outing
    pieces: tuple[BoxPiece, ...]
    cash: tuple[OutingCash, ...]
    cash_sales_minor: int
    card_sales_minor: int
    other_sales_minor: int
    fees_minor: int
    slips: int

    @property
    def expected_minor(self) -> int:
        """Cash that should be in the box."""
        moved = sum(one.amount_minor for one in self.cash)
        return self.outing.float_minor + moved + self.cash_sales_minor

    @property
    def taken_minor(self) -> int:
        """All that was taken, less what was given back."""
        return self.cash_sales_minor + self.card_sales_minor + self.other_sales_minor

    def in_state(self, *states: str) -> tuple[BoxPiece, ...]:
        """Its pieces in one of some states."""
        return tuple(one for one in self.pieces if one.state in states)


def plan_outing(shop: Workshop, *, new: NewOuting, dry_run: bool = False) -> OutingView:
    """
    Plan an outing.

    Args:
        shop: The open workshop.
        new: What is known of it.
        dry_run: Do everything, then roll back.

    Raises:
        BadValue: If it has no name, or ends before it begins.
    """
    name, ends_on = " ".join(new.name.split()), new.ends_on or new.begins_on
    _check_outing(name, new.begins_on, ends_on)
    data: dict[str, Json] = {
        "name": name,
        "place": new.place,
        "begins_on": new.begins_on.isoformat(),
        "ends_on": ends_on.isoformat(),
        "stall_fee_minor": new.stall_fee_minor,
        "currency": shop.settings.currency,
        "notes": new.notes,
    }

    def steps(change: Change) -> OutingView:
        code = change.new_code("U")
        change.append("outing.planned", (code,), data, made=(code,))
        return see_outing(change.conn, code)

    return shop.commit("plan outing", steps, dry_run=dry_run)


def _check_outing(name: str, begins_on: date, ends_on: date) -> None:
    if not name:
        raise BadValue("an outing has a name", hint="such as 'Lantern Fair'")
    if ends_on < begins_on:
        raise BadValue(f"it would end on {ends_on}, before it begins on {begins_on}")


def correct_outing(
    shop: Workshop, *, outing: Code, new: OutingCorrection, why: str, dry_run: bool = False
) -> OutingView:
    """
    Mend what was typed wrong about an outing.

    Args:
        shop: The open workshop.
        outing: Its code.
        new: The right values.
        why: Such as "the fee was raised"; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing.
        BadValue: If nothing differs, no reason is given, or it would end before it begins.
    """
    from dataclasses import asdict

    if not why.strip():
        raise BadValue("say why", hint="such as 'the fee was raised'", field="--reason")
    typed = {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in asdict(new).items()
        if value is not None
    }

    def steps(change: Change) -> OutingView:
        old = load_outing(change.conn, outing)
        was = {name: getattr(old, name) for name in typed}
        differ = [name for name in typed if typed[name] != was[name]]
        if not differ:
            raise BadValue(f"nothing about {outing} differs from the record")
        data: dict[str, Json] = {
            "was": {name: was[name] for name in differ},
            "now": {name: typed[name] for name in differ},
            "why": why,
        }
        change.append("outing.corrected", (outing,), data)
        now = load_outing(change.conn, outing)
        days = date.fromisoformat(now.begins_on), date.fromisoformat(now.ends_on)
        _check_outing(now.name.strip(), *days)
        return see_outing(change.conn, outing)

    return shop.commit("correct outing", steps, dry_run=dry_run)


def view_outing(shop: Workshop, *, outing: Code) -> OutingView:
    """
    An outing as it stands.

    Raises:
        NotFound: If there is no such outing.
    """
    return see_outing(shop.conn, outing)


def see_outing(conn: sqlite3.Connection, outing: Code) -> OutingView:
    """The outing of a code, through an open connection."""
    found = load_outing(conn, outing)
    totals = dict(
        conn.execute(
            "SELECT paid_by, sum(CASE kind WHEN 'sale' THEN paid_minor ELSE -paid_minor END)"
            " FROM slip CROSS JOIN slip_line ON slip = number WHERE outing = ? AND outing <> ''"
            " GROUP BY paid_by",
            (outing,),
        )
    )
    (fees, slips) = conn.execute(
        "SELECT coalesce(sum(fee_minor), 0), count(DISTINCT slip) FROM slip CROSS JOIN slip_line"
        " ON slip = number WHERE outing = ? AND outing <> ''",
        (outing,),
    ).fetchone()
    cash, card = totals.pop("cash", 0), totals.pop("card", 0)
    rest = "FROM outing_cash WHERE outing = ? ORDER BY at, id"
    return OutingView(
        found,
        _pieces(conn, outing),
        select(conn, OutingCash, rest, (outing,)),
        cash,
        card,
        sum(totals.values()),
        fees,
        slips,
    )


def _pieces(conn: sqlite3.Connection, outing: Code) -> tuple[BoxPiece, ...]:
    rest = "FROM outing_piece WHERE outing = ? ORDER BY length(key), key"
    packed = {one.piece: one for one in select(conn, OutingPiece, rest, (outing,))}
    rows = conn.execute(
        "SELECT piece, kind, is_gift FROM slip CROSS JOIN slip_line ON slip = number"
        " WHERE outing = ? AND outing <> '' AND piece <> '' ORDER BY at, number",
        (outing,),
    )
    last = {piece: (kind, bool(gift)) for piece, kind, gift in rows}
    found = []
    for code in dict.fromkeys((*packed, *last)):
        piece = select_one(conn, Piece, "FROM piece WHERE code = ?", (code,))
        if piece is None:  # taken back by another device; its slip tells of it
            continue
        row = packed.get(code)
        state = _state(piece, row.state if row else "", last.get(code))
        found.append(BoxPiece(piece, row.key if row else "", state))
    return tuple(found)


def _state(piece: Piece, packed: str, slip: tuple[str, bool] | None) -> str:
    if slip and slip[0] == "sale" and piece.stage == "sold":
        return "given" if slip[1] else "sold"
    if slip and slip[0] == "refund" and packed not in ("home", "missing"):
        return "back"
    if packed == "packed" and piece.stage == "sold":
        return "sold elsewhere"
    return packed or "back"


def list_outings(shop: Workshop) -> tuple[OutingView, ...]:
    """All outings, the latest first."""
    rest = "FROM outing ORDER BY begins_on DESC, code DESC"
    return tuple(see_outing(shop.conn, one.code) for one in select(shop.conn, Outing, rest))


def find_outing(shop: Workshop, *, typed: str = "", state: str = "") -> Code:
    """
    The outing that is meant: by code, by a part of its name, or the one that it can only be.

    Args:
        shop: The open workshop.
        typed: Code or name; empty for the one that is open here, else the only one in *state*.
        state: ``planned``, ``open``, or empty for any.

    Raises:
        NotFound: If none fits.
        Refused: If several do.
    """
    from salvage.errors import BadCode
    from salvage.ids import parse_code

    if not typed:
        here = outing_here(shop.conn, shop.settings.device)
        if here:
            return here.code
    else:
        try:
            return load_outing(shop.conn, parse_code(typed, kind="U")).code
        except BadCode:
            pass
    every = select(shop.conn, Outing, "FROM outing ORDER BY begins_on DESC, code DESC")
    word = typed.strip().casefold()
    fits = [one for one in every if word in one.name.casefold() and (typed or one.state == state)]
    if len(fits) == 1:
        return fits[0].code
    if not fits:
        words = f"there is no outing '{typed}'" if typed else f"no outing is {state or 'planned'}"
        is_piece = typed.strip()[:1].upper() == "P" and any(map(str.isdigit, typed))
        mend = "name the outing first, then its pieces" if is_piece else "salvage outing list"
        raise NotFound(words, hint=mend)
    codes = ", ".join(one.code for one in fits[:5])
    raise Refused(f"{len(fits)} outings fit", hint=f"give the code of one: {codes}")
