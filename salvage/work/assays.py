"""
Assays: tests of what one part contains or releases, held against the limits of the markets.

A result speaks for one part, as limits do: there is nothing here that averages over a piece, and a
result for a coating says nothing about what lies below it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused
from salvage.frozen import dataclass
from salvage.ids import Code, kind_of
from salvage.knowledge.amounts import Amount, parse_amount
from salvage.knowledge.product_rules import (
    PARTS,
    Judgement,
    ProductRule,
    judge,
    rules_of,
)
from salvage.records.gate import Assay
from salvage.store.lookup import load_batch, load_board, load_piece
from salvage.store.rows import select
from salvage.units import has_come
from salvage.work.day_order import check_order
from salvage.work.own_facts import own_limits

if TYPE_CHECKING:
    import sqlite3
    from datetime import date

    from salvage.canonical import Json
    from salvage.store.change import Change
    from salvage.work.workshop import Workshop

BATCH_PARTS = {
    "sealant": "coating",
    "resin": "coating",
    "coating": "coating",
    "adhesive": "coating",
    "finding": "finding",
    "cord or chain": "finding",
}
"""Which part of a piece a batch of a material becomes."""

_BOARD_PARTS = ("laminate", "bare metal", "solder", "component")
_EVERY_MARKET = ("EU", "US-CA")  # where none is chosen: all of our list
_QUANTITY = {"content": "share", "soluble": "share", "release": "release", "wipe": "wipe"}


@dataclass(frozen=True, slots=True)
class NewAssay:
    """
    A result as the report or the instrument gives it.

    Args:
        analyte: One of :data:`salvage.records.gate.ANALYTES`.
        amount: What was measured, or below which detection limit it lies.
        method: One of :data:`salvage.records.gate.ASSAY_METHODS`.
        measure: One of :data:`salvage.records.gate.MEASURES`; empty for what the unit says.
        part: One of :data:`salvage.knowledge.product_rules.PARTS`; empty for a batch's own.
        detection_limit: Of the method; None if not reported.
        uncertainty: Of the result; None if not reported.
        instrument: Such as "handheld XRF 3, calibrated in May".
        lab: Name of the outside laboratory; empty for an own test.
        tested_on: Day; today when None.
        document: Number of the report.
        note: Anything else.
    """

    analyte: str
    amount: Amount
    method: str
    measure: str = ""
    part: str = ""
    detection_limit: Amount | None = None
    uncertainty: Amount | None = None
    instrument: str = ""
    lab: str = ""
    tested_on: date | None = None
    document: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class AssayView:
    """
    An assay with what it says about each limit that it can be held against.

    Args:
        assay: The record.
        verdicts: Rules of the chosen markets, or of all where none is chosen, each with its word.
    """

    assay: Assay
    verdicts: tuple[tuple[ProductRule, Judgement], ...]


def amount_of(assay: Assay) -> Amount:
    """What was measured."""
    return Amount(assay.figure, assay.unit, bool(assay.is_below))


def judge_assay(assay: Assay, rule: ProductRule) -> Judgement:
    """
    Hold an assay against one rule's limit.

    Where the rule asks for an outside laboratory, an own test or a supplier's word cannot tell.
    """
    uncertainty = parse_amount(assay.uncertainty) if assay.uncertainty else None
    found = judge(amount_of(assay), uncertainty, rule.limit)
    is_outside = bool(assay.lab) and assay.method != "supplier declaration"
    if found.word == "meets" and rule.proof == "third-party" and not is_outside:
        return Judgement("cannot tell", "only an outside laboratory's test counts here")
    return found


def view_assay(shop: Workshop, assay: Assay) -> AssayView:
    """An assay with its verdicts."""
    markets = [market for market in shop.settings.markets.split(",") if market]
    own = own_limits(shop.conn)
    held = [
        rule
        for market in markets or _EVERY_MARKET
        for rule in rules_of(market, day=shop.today, own=own)
    ]
    rules = {
        rule.limit.slug: rule
        for rule in held
        if (rule.analyte, rule.measure) == (assay.analyte, assay.measure)
        and any(rule.binds("unknown", assay.part, age) for age in ("adult", "child"))
    }
    return AssayView(assay, tuple((rule, judge_assay(assay, rule)) for rule in rules.values()))


def assays_of(conn: sqlite3.Connection, code: Code) -> tuple[Assay, ...]:
    """All assays of one thing, voided ones included, oldest first."""
    return select(conn, Assay, "FROM assay WHERE code = ? ORDER BY n", (code,))


def list_assays(shop: Workshop, *, code: Code | None = None) -> tuple[AssayView, ...]:
    """
    Assays with their verdicts, oldest first.

    Args:
        shop: The open workshop.
        code: A board, piece or batch; None for all.
    """
    rest = "FROM assay WHERE ?1 IN ('', code) ORDER BY tested_on, at, code, n"
    return tuple(view_assay(shop, each) for each in select(shop.conn, Assay, rest, (code or "",)))


def record_assay(shop: Workshop, *, code: Code, new: NewAssay, dry_run: bool = False) -> AssayView:
    """
    Record a test of one part of a board, piece or batch.

    Raises:
        NotFound: If there is nothing with this code.
        BadValue: If the code is of another kind, the part is none of the list, units do not go
            together, the instrument is not said, or the day has not come.
    """
    part = _part(shop.conn, code, new.part)
    measure = _check_amounts(new)
    day = new.tested_on or shop.today
    if not has_come(day, shop.today):
        check_order(day, shop.today, words="the test", field="--date")
    if not new.instrument.strip() and new.method != "supplier declaration":
        raise BadValue(
            "say what it was measured with",
            hint="such as 'handheld XRF 3, calibrated in May'",
            field="--instrument",
        )
    data: dict[str, Json] = {
        "part": part,
        "analyte": new.analyte,
        "measure": measure,
        "method": new.method,
        "figure": new.amount.figure,
        "unit": new.amount.unit,
        "is_below": new.amount.is_below,
        "detection_limit": str(new.detection_limit or ""),
        "uncertainty": str(new.uncertainty or ""),
        "instrument": new.instrument,
        "lab": new.lab,
        "tested_on": day.isoformat(),
        "document": new.document,
        "note": new.note,
    }

    def steps(change: Change) -> AssayView:
        _part(change.conn, code, new.part)
        n = change.next_numbers("assay", "code", code)[0]
        change.append("assay.recorded", (code,), {**data, "n": n})
        return view_assay(shop, _find(change.conn, code, n))

    return shop.commit("record assay", steps, dry_run=dry_run)


def _part(conn: sqlite3.Connection, code: Code, part: str) -> str:
    """The part that an assay of a thing speaks for."""
    if code[0] == "V":
        own = BATCH_PARTS.get(load_batch(conn, code).material, "")
        if not own or part not in ("", own):
            raise BadValue(
                f"{code} goes into a piece as {own or 'nothing'}, not as {part}", field="--part"
            )
        return own
    loaders = {"B": (load_board, _BOARD_PARTS), "P": (load_piece, PARTS)}
    if code[0] not in loaders:
        raise BadValue(f"{code} is a {kind_of(code)}; assays are of boards, pieces and batches")
    load, parts = loaders[code[0]]
    load(conn, code)
    if part not in parts:
        raise BadValue(
            "limits hold for each part, so say which one was tested; a whole piece has none",
            hint=f"one of: {', '.join(parts)}",
            field="--part",
        )
    return part


def _check_amounts(new: NewAssay) -> str:
    """The measure, once figure, detection limit and uncertainty go together."""
    quantity = new.amount.quantity
    fitting = [measure for measure, known in _QUANTITY.items() if known == quantity]
    measure = new.measure or fitting[0]
    if measure not in fitting:
        raise BadValue(
            f"{new.amount.unit} is no unit for {measure}", hint="check the unit", field="--value"
        )
    others = (("--detection-limit", new.detection_limit), ("--uncertainty", new.uncertainty))
    for field, other in others:
        if other and other.quantity != quantity:
            raise BadValue(f"{other.unit} and {new.amount.unit} do not go together", field=field)
    return measure


def _find(conn: sqlite3.Connection, code: Code, n: int) -> Assay:
    found = [assay for assay in assays_of(conn, code) if assay.n == n]
    if not found:
        known = ", ".join(str(assay.n) for assay in assays_of(conn, code)) or "none"
        raise Refused(f"{code} has no assay {n}", hint=f"it has: {known}")
    return found[0]


def void_assay(shop: Workshop, *, code: Code, n: int, why: str, dry_run: bool = False) -> AssayView:
    """
    Say that an assay does not count; it stays on the record, with the reason.

    Raises:
        Refused: If there is no such assay, or it was voided already.
        BadValue: If no reason is given.
    """
    if not why.strip():
        raise BadValue("say why", hint="such as 'wrong piece on the table'", field="--reason")

    def steps(change: Change) -> AssayView:
        found = _find(change.conn, code, n)
        if found.voided:
            raise Refused(f"assay {n} of {code} was voided already: {found.voided}")
        change.append("assay.voided", (code,), {"n": n, "why": why})
        return view_assay(shop, _find(change.conn, code, n))

    return shop.commit("void assay", steps, dry_run=dry_run)
