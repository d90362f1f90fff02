"""``salvage stocktake settle``, ``found`` and ``lost``: differences settled by events."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.failures import Misuse
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, clean, note, show_change, show_list
from salvage.cli.stocktake import commands, difference_record

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.stock_take import Settlement, StockView
    from salvage.work.workshop import Workshop

Codes = Annotated[
    list[str] | None,
    typer.Option(metavar="CODE", help="One difference, or 'all'; may be given again."),
]


@commands.command(
    "settle", example="salvage stocktake settle --lost all --moved all --close", changes=True
)
def settle(
    context: typer.Context,
    lost: Codes = None,
    found: Codes = None,
    moved: Codes = None,
    returned: Codes = None,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why, for the record.")] = "",
    close: Annotated[bool, typer.Option("--close", help="End the stock-take.")] = False,
) -> None:
    """
    Settle the differences: by flags, or asked one by one; one undo takes all of it back.

    --lost are missing things, --found lost ones that are there, --moved boards at another place,
    --returned pieces that count as sold. What is not settled stays as it is in the record.
    """
    from salvage.work.stock_take import open_stock_take, settle_stock_take, view_stock_take

    session = session_of(context)
    given = {"missing": lost, "found": found, "elsewhere": moved, "sold": returned}
    with session.open() as shop:
        view = view_stock_take(shop, take=open_stock_take(shop.conn))
        by_flags = any(given.values()) or close
        settlement = (
            _by_flags(shop, view, given, reason) if by_flags else _by_asking(session, view, reason)
        )
        if settlement.is_empty and not close:
            note(session, "nothing was settled; next: salvage stocktake show")
            return
        done = settle_stock_take(shop, settlement=settlement, close=close, dry_run=session.dry_run)
    lines = [f"{one.code}  {_SETTLED[one.kind]}" for one in done.settled]
    lines += [f"{done.take.code}  closed"] if done.is_closed else []
    show_change(
        session,
        {
            "stock_take": done.take.code,
            "settled": [difference_record(one) for one in done.settled],
            "left": [difference_record(one) for one in done.left],
            "closed": done.is_closed,
        },
        lines=lines,
        codes=[one.code for one in done.settled],
        next_step="stocktake settle --close" if not done.is_closed else "stocktake start",
    )


_SETTLED = {
    "missing": "is lost",
    "found": "is found again",
    "elsewhere": "is moved to where it was seen",
    "sold": "came back; its sale is taken back",
}
_QUESTIONS = {
    "missing": "Settle as lost?",
    "found": "Settle as found again?",
    "elsewhere": "Settle as moved there?",
    "sold": "Take the sale back?",
}


def _by_flags(
    shop: Workshop, view: StockView, given: dict[str, list[str] | None], reason: str
) -> Settlement:
    from salvage.work.reading import read_code
    from salvage.work.stock_take import Settlement

    chosen: dict[str, list[Code]] = {}
    for kind, words in given.items():
        codes: list[Code] = []
        for word in words or ():
            if word.lower() == "all":
                codes += [one.code for one in view.differences if one.kind == kind]
            else:
                codes.append(read_code(shop, text=word))
        chosen[kind] = codes
    return Settlement(
        chosen["missing"], chosen["found"], chosen["elsewhere"], chosen["sold"], reason
    )


def _by_asking(session: Session, view: StockView, reason: str) -> Settlement:
    """Ask for each difference that can be settled here; a return alone leaves it."""
    from salvage.cli.ask import confirm
    from salvage.errors import Refused
    from salvage.work.stock_take import Settlement

    if not session.may_ask and not session.yes:
        raise Misuse("say what to settle with --lost, --found, --moved or --returned")
    chosen: dict[str, list[Code]] = {kind: [] for kind in _QUESTIONS}
    for one in view.differences:
        if one.kind not in _QUESTIONS:
            note(session, f"{one.code}  {clean(one.words)}: {difference_record(one)['mend']}")
            continue
        try:
            told = f"{one.code} {clean(one.title)}: {clean(one.words)}."
            confirm(session, f"{told} {_QUESTIONS[one.kind]}")
        except Refused:
            continue
        chosen[one.kind].append(one.code)
    return Settlement(
        chosen["missing"], chosen["found"], chosen["elsewhere"], chosen["sold"], reason
    )


@commands.command("found", example="salvage stocktake found BC0002J", changes=True)
def found_(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="CODE...", help="Lost things.")],
) -> None:
    """Say that lost things are there again, outside of a stock-take."""
    from salvage.work.reading import read_code
    from salvage.work.stock_take import COUNTED, find_again

    session = session_of(context)
    with session.open() as shop:
        read = [read_code(shop, text=code, kinds=COUNTED) for code in codes]
        lost = find_again(shop, codes=read, dry_run=session.dry_run)
    show_change(
        session,
        [record_of(one) for one in lost],
        lines=[f"{one.code}  is found again" for one in lost],
        codes=[one.code for one in lost],
        next_step=f"scan {lost[0].code}",
    )


@commands.command("lost", example="salvage stocktake lost")
def lost_(context: typer.Context) -> None:
    """List what is lost, the longest missed first."""
    from salvage.work.stock_take import list_lost

    session = session_of(context)
    with session.open() as shop:
        records = [record_of(one) for one in list_lost(shop)]
    columns = (
        Column("code", "code"),
        Column("since", "at", lambda at: str(at)[:10]),
        Column("stock-take", "stock_take"),
        Column("reason", "reason"),
    )
    show_list(session, records, columns, empty="nothing is lost")
