"""The day of an outing: the stall opens, cash moves, things come home, and all is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from salvage.canonical import Json
from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.season import Outing
from salvage.store.change import Change
from salvage.store.lookup import load_outing, load_piece
from salvage.units import format_money
from salvage.work.outings import BoxPiece, OutingView, see_outing
from salvage.work.packing import next_keys
from salvage.work.slips import outing_here
from salvage.work.workshop import Workshop


def open_outing(
    shop: Workshop, *, outing: Code, float_minor: int = 0, dry_run: bool = False
) -> OutingView:
    """
    Open the stall on this device; from now on what is sold here belongs to the outing.

    Args:
        shop: The open workshop.
        outing: Its code.
        float_minor: Cash in the box to begin with.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing.
        Refused: If it is closed, or another one is open on this device.
    """

    def steps(change: Change) -> OutingView:
        found = load_outing(change.conn, outing)
        if found.state != "planned":
            raise Refused(f"{outing} ({found.name}) is {found.state} already")
        other = outing_here(change.conn, change.author.device)
        if other:
            raise Refused(
                f"{other.code} ({other.name}) is open on this device",
                hint="close it first: salvage outing close",
            )
        data: dict[str, Json] = {"float_minor": float_minor, "currency": found.currency}
        change.append("outing.opened", (outing,), data)
        return see_outing(change.conn, outing)

    return shop.commit("open outing", steps, dry_run=dry_run)


def move_cash(
    shop: Workshop, *, outing: Code, amount_minor: int, reason: str, dry_run: bool = False
) -> OutingView:
    """
    Note cash that goes into the box, or out of it, without a sale.

    Args:
        shop: The open workshop.
        outing: Its code.
        amount_minor: Below zero for what goes out.
        reason: Such as "stall fee"; it stays on the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing.
        Refused: If it is not open, or more would go out than is there.
        BadValue: If the amount is nothing, or no reason is given.
    """
    if not amount_minor or not reason.strip():
        raise BadValue(
            "say how much and why", hint='salvage outing cash out 35 --reason "stall fee"'
        )

    def steps(change: Change) -> OutingView:
        found = _check_open(load_outing(change.conn, outing))
        data: dict[str, Json] = {
            "amount_minor": amount_minor,
            "currency": found.currency,
            "reason": reason,
        }
        change.append("outing.cash_moved", (outing,), data)
        view = see_outing(change.conn, outing)
        if view.expected_minor < 0:
            left = format_money(view.expected_minor - amount_minor, found.currency)
            raise Refused(f"only {left} should be in the box")
        return view

    return shop.commit("move cash", steps, dry_run=dry_run)


def _check_open(outing: Outing) -> Outing:
    if outing.state != "open":
        raise Refused(
            f"{outing.code} ({outing.name}) is {outing.state}, not open",
            hint=f"salvage outing show {outing.code}",
        )
    return outing


def bring_home(
    shop: Workshop, *, outing: Code, pieces: Sequence[Code], dry_run: bool = False
) -> OutingView:
    """
    Note pieces that came home from an outing, as they are scanned at the end of the day.

    Args:
        shop: The open workshop.
        outing: Its code.
        pieces: Their codes; one that was never packed is noted all the same.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing or piece.
        Refused: If the outing is not open, or a piece counts as sold.
    """

    def steps(change: Change) -> OutingView:
        _check_open(load_outing(change.conn, outing))
        known = {one.piece.code: one for one in see_outing(change.conn, outing).pieces}
        for code in dict.fromkeys(pieces):
            piece = load_piece(change.conn, code)
            if piece.stage == "sold":
                raise Refused(
                    f"{code} is on record as sold",
                    hint="if another piece was sold instead, take the sale back and record it"
                    f" anew: salvage history {code}",
                )
            if code in known and known[code].state == "home":
                continue
            key = known[code].key if code in known else ""
            key = key or next_keys(change.conn, outing, 1)[0]
            change.append("piece.came_home", (code, outing), {"outing": outing, "key": key})
        return see_outing(change.conn, outing)

    return shop.commit("bring home", steps, dry_run=dry_run)


@dataclass(frozen=True, slots=True)
class Count:
    """
    What was counted at the end of an outing.

    Args:
        counted_minor: Cash in the box.
        missing: Pieces that are neither home nor sold, and are given up for now.
        all_missing: All of those, without naming them.
        reason: What explains a difference.
    """

    counted_minor: int
    missing: tuple[Code, ...] = ()
    all_missing: bool = False
    reason: str = ""


def close_outing(
    shop: Workshop, *, outing: Code, count: Count, dry_run: bool = False
) -> OutingView:
    """
    Close an outing with its count; what is missing goes on the list of lost things.

    Args:
        shop: The open workshop.
        outing: Its code.
        count: What was counted.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such outing.
        Refused: If it is not open, or pieces are unaccounted for that were not said to be missing.
        BadValue: If the cash differs and nothing explains it.
    """

    def steps(change: Change) -> OutingView:
        view = see_outing(change.conn, outing)
        found = _check_open(view.outing)
        out = view.in_state("packed", "back")
        missing = [
            one.piece.code for one in out if count.all_missing or one.piece.code in count.missing
        ]
        _check_accounted(out, missing, count.missing)
        _check_explained(view, count, bool(missing))
        take = _count_stock(change, view, missing, count.reason) if missing else ""
        data: dict[str, Json] = {
            "expected_minor": view.expected_minor,
            "counted_minor": count.counted_minor,
            "currency": found.currency,
            "missing": list(missing),
            "stock_take": take,
            "reason": count.reason,
        }
        change.append("outing.closed", (outing,), data)
        return see_outing(change.conn, outing)

    return shop.commit("close outing", steps, dry_run=dry_run)


def _check_accounted(
    out: Sequence[BoxPiece], missing: Sequence[Code], named: Sequence[Code]
) -> None:
    if strangers := sorted(set(named) - {one.piece.code for one in out}):
        raise Refused(f"{strangers[0]} is not missing", hint="salvage outing show")
    left = [one for one in out if one.piece.code not in missing]
    if left:
        told = ", ".join(f"{one.piece.code} {one.piece.shape}" for one in left[:8])
        more = f" and {len(left) - 8} more" if len(left) > 8 else ""
        count = "1 packed piece is" if len(left) == 1 else f"{len(left)} packed pieces are"
        raise Refused(
            f"{count} neither sold nor home: {told}{more}",
            hint="scan them home, or name them with --missing and say why",
        )


def _check_explained(view: OutingView, count: Count, is_missing: bool) -> None:
    differs = count.counted_minor != view.expected_minor
    if (differs or is_missing) and not count.reason.strip():
        currency = view.outing.currency
        counted, due = (
            format_money(minor, currency) for minor in (count.counted_minor, view.expected_minor)
        )
        words = f"{counted} were counted and {due} expected" if differs else "pieces are missing"
        raise BadValue(f"{words}: say what explains it", field="--reason")


def _count_stock(change: Change, view: OutingView, missing: Sequence[Code], reason: str) -> Code:
    """Journal the count as a stock-take of its own, so that what is missing is lost like others."""
    take = change.new_code("T")
    name = view.outing.name
    data: dict[str, Json] = {"place": name, "things": "pieces"}
    change.append("stocktake.begun", (take,), data, made=(take,))
    home = [str(one.piece.code) for one in view.in_state("home")]
    seen: dict[str, Json] = {"codes": list(home), "place": name, "source": "scan"}
    change.append("stocktake.seen", (take,), seen)
    for code in missing:
        change.append("thing.lost", (code,), {"stock_take": take, "reason": reason})
    change.append("stocktake.closed", (take,), {"seen": len(home), "missing": len(missing)})
    return take
