"""The deeds of the bench, done to the record one by one."""

from __future__ import annotations

from collections.abc import Callable

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.journal import read_events_about
from salvage.store.lookup import load_reservation
from salvage.work.bench_words import Deed, Done
from salvage.work.cutting import record_cut
from salvage.work.history import undo
from salvage.work.pieces import sell, set_stage, take_back
from salvage.work.place_cutting import cut_of_place
from salvage.work.record import move_board
from salvage.work.workshop import Workshop

ACTS = ("cut piece", "cut scrap", "set stage", "sell piece", "take back piece", "move board")
"""Names of the operations that the bench does, as the history shows them."""

_AT_BENCH = "at the bench"


def do_deed(shop: Workshop, *, deed: Deed, dry_run: bool = False) -> Done:
    """
    Do one deed of the bench; it is in the record when this returns.

    Args:
        shop: The open workshop.
        deed: What to do, as :func:`salvage.work.bench.advance` gave it.
        dry_run: Do everything, then roll back.

    Raises:
        SalvageError: As the operation itself refuses; then nothing was written.
    """
    return _DOERS[deed.verb](shop, deed, dry_run)


def _cut(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    """Cut a reserved place as it stands; a place that was let go meanwhile is refused."""
    held = load_reservation(shop.conn, deed.reservation)
    if held.state != "held":
        raise Refused(f"{held.code} is {held.state} already", hint=f"scan {deed.code} again")
    spoilt = deed.verb == "spoil"
    new = cut_of_place(
        shop.conn,
        held,
        outcome="scrap" if spoilt else "piece",
        reason=f"spoilt {_AT_BENCH}" if spoilt else "",
    )
    view = record_cut(shop, new=new, dry_run=dry_run)
    made = f"{view.piece.code}  {view.cut.shape}" if view.piece else f"scrap  {view.cut.shape}"
    return _done(shop, view.cut.code, f"{made} cut from {deed.code}", dry_run)


def _stage(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    (view,) = set_stage(shop, pieces=[deed.code], stage=deed.stage, dry_run=dry_run)
    return _done(shop, deed.code, f"{deed.code}  {view.piece.shape} is {deed.stage}", dry_run)


def _withdraw(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    note = f"scrapped {_AT_BENCH}"
    (view,) = set_stage(shop, pieces=[deed.code], stage="withdrawn", note=note, dry_run=dry_run)
    return _done(shop, deed.code, f"{deed.code}  {view.piece.shape} is withdrawn", dry_run)


def _sell(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    from salvage.units import format_money

    view = sell(shop, piece=deed.code, price_minor=deed.price_minor, dry_run=dry_run)
    sale = view.sales[-1]
    price = format_money(sale.price_minor, sale.currency)
    return _done(shop, deed.code, f"{deed.code}  {view.piece.shape} sold for {price}", dry_run)


def _take_back(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    reason = f"brought back {_AT_BENCH}"
    view = take_back(shop, piece=deed.code, reason=reason, dry_run=dry_run)
    return _done(shop, deed.code, f"{deed.code}  {view.piece.shape} came back", dry_run)


def _move(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    move_board(shop, board=deed.code, place=deed.place, dry_run=dry_run)
    return _done(shop, deed.code, f"{deed.code}  moved to {deed.place}", dry_run)


def _undo(shop: Workshop, deed: Deed, dry_run: bool) -> Done:
    taken = undo(shop, operation=deed.operation, why=_AT_BENCH, dry_run=dry_run)
    return Done(deed.operation, f"undone: {taken.act}  {' '.join(taken.codes[:3])}")


def _done(shop: Workshop, code: Code, words: str, dry_run: bool) -> Done:
    """What was done, with the operation's id for undo; a dry run has none."""
    events = read_events_about(shop.conn, code) if not dry_run else ()
    return Done(events[-1].operation if events else "", words)


_DOERS: dict[str, Callable[[Workshop, Deed, bool], Done]] = {
    "cut": _cut,
    "spoil": _cut,
    "withdraw": _withdraw,
    "stage": _stage,
    "sell": _sell,
    "take back": _take_back,
    "move": _move,
    "undo": _undo,
}
