"""
Stock-takes: what is on the shelves against what the record says, and the events that settle it.

What was seen is journalled scan by scan or photo by photo, so a stock-take may be broken off at any
time and gone on with. Seeing a thing changes nothing about it; only settling does.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code, kind_of
from salvage.records.counting import (
    STOCK_TAKE_KIND,
    STOCK_TAKE_THINGS,
    LostThing,
    SeenThing,
    StockTake,
)
from salvage.store.change import Change
from salvage.store.lookup import count_rows, exists
from salvage.store.rows import select, select_one
from salvage.work.places import place_words
from salvage.work.stock_difference import Difference, find_differences, judge_codes
from salvage.work.workshop import Workshop

COUNTED = "BP"
"""Kinds of things that a stock-take counts."""


@dataclass(frozen=True, slots=True)
class StockView:
    """
    A stock-take as it stands.

    Args:
        take: The record.
        seen: How many things were seen.
        differences: To the record, the missing first.
    """

    take: StockTake
    seen: int
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class Sight:
    """
    What a stock-take says to a code that it was shown.

    Args:
        code: It.
        words: Where it stands with it, in words.
        is_new: False where it was seen before at the same place, or is not counted.
        is_odd: Whether the record says something else.
    """

    code: Code
    words: str
    is_new: bool
    is_odd: bool = False


@dataclass(frozen=True, slots=True)
class Settlement:
    """
    What is to be settled, by codes.

    Args:
        lost: Missing things that are given up for now.
        found: Lost things that are there again.
        moved: Boards that lie where they were seen.
        returned: Pieces that count as sold and are there: the sale is taken back.
        reason: Why, for the record.
    """

    lost: Collection[Code] = ()
    found: Collection[Code] = ()
    moved: Collection[Code] = ()
    returned: Collection[Code] = ()
    reason: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be settled."""
        return not (self.lost or self.found or self.moved or self.returned)


@dataclass(frozen=True, slots=True)
class Settled:
    """
    What was settled.

    Args:
        settled: Each difference that is settled now.
        left: Those that are not.
        is_closed: Whether the stock-take is closed.
    """

    settled: tuple[Difference, ...]
    left: tuple[Difference, ...]
    is_closed: bool
    take: StockTake = field(repr=False)


def begin_stock_take(
    shop: Workshop, *, place: str = "", things: str = "all", dry_run: bool = False
) -> StockTake:
    """
    Begin a stock-take.

    Args:
        shop: The open workshop.
        place: Only of this place, by name or label; empty for the whole workshop. Pieces have no
            place in the record, so there only boards can be missing.
        things: One of :data:`salvage.records.counting.STOCK_TAKE_THINGS`.
        dry_run: Do everything, then roll back.

    Raises:
        Refused: If another is open.
    """
    if things not in STOCK_TAKE_THINGS:
        words = ", ".join(STOCK_TAKE_THINGS)
        raise BadValue(f"'{things}' cannot be counted", hint=f"use one of: {words}")

    def steps(change: Change) -> StockTake:
        name = place_words(change.conn, place) if place.strip() else ""
        other = select_one(change.conn, StockTake, "FROM stock_take WHERE state = 'open'")
        if other:
            raise Refused(
                f"stock-take {other.code} is open since {other.begun_at[:10]}",
                hint="go on with 'salvage stocktake scan', or end it with 'salvage stocktake"
                " settle --close'",
            )
        code = change.new_code(STOCK_TAKE_KIND)
        change.append("stocktake.begun", (code,), {"place": name, "things": things}, made=(code,))
        return load_stock_take(change.conn, code)

    return shop.commit("begin stock-take", steps, dry_run=dry_run)


def load_stock_take(conn: sqlite3.Connection, code: Code) -> StockTake:
    """The stock-take with this code; NotFound where there is none."""
    found = select_one(conn, StockTake, "FROM stock_take WHERE code = ?", (code,))
    if found is None:
        raise NotFound(f"there is no stock-take {code} in this workshop")
    return found


def open_stock_take(conn: sqlite3.Connection) -> StockTake:
    """
    The stock-take that is going on.

    Raises:
        NotFound: If none is.
    """
    rest = "FROM stock_take WHERE state = 'open' ORDER BY begun_at DESC, code DESC"
    found = select_one(conn, StockTake, rest)
    if found is None:
        raise NotFound("no stock-take is going on", hint="begin one: salvage stocktake start")
    return found


def record_seen(
    shop: Workshop,
    *,
    codes: Sequence[Code],
    place: str = "",
    source: str = "scan",
    dry_run: bool = False,
) -> tuple[Sight, ...]:
    """
    Note that things are there; in the journal when this returns.

    Args:
        shop: The open workshop.
        codes: What was seen, known here or not.
        place: Where, by name or label; the stock-take's own place if empty.
        source: ``scan``, or the name of a photo.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If no stock-take is going on.
    """
    source = source.encode("utf-8", "replace").decode("utf-8")

    def steps(change: Change) -> tuple[Sight, ...]:
        take = open_stock_take(change.conn)
        name = place_words(change.conn, place) if place.strip() else take.place
        counted = [code for code in dict.fromkeys(codes) if code[0] in COUNTED]
        before = _seen_at(change.conn, take.code, counted)
        new = [code for code in counted if code not in before or (name and name != before[code])]
        if new:
            data = {"codes": list(map(str, new)), "place": name, "source": source}
            change.append("stocktake.seen", (take.code,), data)
        odd = judge_codes(change.conn, take, counted)
        return tuple(_sight(code, new, odd.get(code)) for code in dict.fromkeys(codes))

    return shop.commit("see stock", steps, dry_run=dry_run)


def _seen_at(conn: sqlite3.Connection, take: Code, codes: Sequence[Code]) -> dict[str, str]:
    rest = "FROM stock_seen WHERE stock_take = ? AND code = ?"
    seen = (select_one(conn, SeenThing, rest, (take, code)) for code in codes)
    return {one.code: one.place for one in seen if one}


def _sight(code: Code, new: Collection[Code], odd: Difference | None) -> Sight:
    if code[0] not in COUNTED:
        return Sight(code, f"a {kind_of(code)} is not counted", is_new=False, is_odd=True)
    words = odd.words if odd else "as recorded"
    if code not in new:
        words = f"seen before, {words}"
    return Sight(code, words, code in new, bool(odd))


def view_stock_take(shop: Workshop, *, take: StockTake) -> StockView:
    """A stock-take with what was seen and how it differs from the record now."""
    seen = count_rows(shop.conn, "FROM stock_seen WHERE stock_take = ?", (take.code,))
    return StockView(take, seen, find_differences(shop.conn, take))


def settle_stock_take(
    shop: Workshop, *, settlement: Settlement, close: bool = False, dry_run: bool = False
) -> Settled:
    """
    Settle differences by events, in one step that one undo takes back.

    Args:
        shop: The open workshop.
        settlement: What to settle.
        close: End the stock-take; what is not settled stays as it is in the record.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If no stock-take is going on.
        Refused: If a code does not differ in the way that it is to be settled.
    """
    wanted = {
        "missing": settlement.lost,
        "found": settlement.found,
        "elsewhere": settlement.moved,
        "sold": settlement.returned,
    }

    def steps(change: Change) -> Settled:
        take = open_stock_take(change.conn)
        before = find_differences(change.conn, take)
        chosen = [one for one in before if one.code in wanted.get(one.kind, ())]
        _check_all_chosen(wanted, chosen)
        for one in chosen:
            _settle_one(change, take, one, settlement.reason, shop.today.isoformat())
        left = find_differences(change.conn, take)
        if close:
            seen = count_rows(change.conn, "FROM stock_seen WHERE stock_take = ?", (take.code,))
            missing = sum(one.kind == "missing" for one in left)
            change.append("stocktake.closed", (take.code,), {"seen": seen, "missing": missing})
        return Settled(tuple(chosen), left, close, load_stock_take(change.conn, take.code))

    return shop.commit("settle stock-take", steps, dry_run=dry_run)


_AS = {"missing": "lost", "found": "found again", "elsewhere": "moved", "sold": "returned"}


def _check_all_chosen(wanted: dict[str, Collection[Code]], chosen: Sequence[Difference]) -> None:
    there = {(one.kind, one.code) for one in chosen}
    for kind, codes in wanted.items():
        for code in codes:
            if (kind, code) not in there:
                raise Refused(
                    f"{code} cannot be settled as {_AS[kind]}",
                    hint="'salvage stocktake show' says how each differs",
                )


def _settle_one(change: Change, take: StockTake, one: Difference, reason: str, today: str) -> None:
    if one.kind == "missing":
        change.append("thing.lost", (one.code,), {"stock_take": take.code, "reason": reason})
    elif one.kind == "found":
        change.append("thing.found", (one.code,), {"stock_take": take.code})
    elif one.kind == "elsewhere":
        change.append("board.moved", (one.code,), {"place": one.seen_at})
    else:
        (n,) = change.conn.execute(
            "SELECT max(n) FROM sale WHERE piece = ?", (one.code,)
        ).fetchone()
        why = reason or f"on the shelf at stock-take {take.code}"
        change.append("piece.returned", (one.code,), {"n": n, "returned_on": today, "reason": why})


def find_again(
    shop: Workshop, *, codes: Sequence[Code], dry_run: bool = False
) -> tuple[LostThing, ...]:
    """
    Say that lost things are there again, outside of a stock-take.

    Args:
        shop: The open workshop.
        codes: Of the things.
        dry_run: Do everything, then roll back.

    Raises:
        Refused: If a thing is not lost.
        NotFound: If there is nothing with a code.
    """

    def steps(change: Change) -> tuple[LostThing, ...]:
        found = []
        for code in dict.fromkeys(codes):
            lost = select_one(change.conn, LostThing, "FROM lost_thing WHERE code = ?", (code,))
            if lost is None:
                known = exists(change.conn, code)
                raise Refused(f"{code} is not lost" if known else f"there is no {code} here")
            change.append("thing.found", (code,), {"stock_take": lost.stock_take})
            found.append(lost)
        return tuple(found)

    return shop.commit("find again", steps, dry_run=dry_run)


def list_lost(shop: Workshop) -> tuple[LostThing, ...]:
    """Everything that is lost, the longest missed first."""
    return select(shop.conn, LostThing, "FROM lost_thing ORDER BY at, code")
