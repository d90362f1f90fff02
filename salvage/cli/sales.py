"""``salvage sales``: the ledger, and totals of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.outing_view import slip_record
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, note, show_list, show_record
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.work.ledger import LedgerLine, Period, Total
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "sales", "The ledger: every sale and refund, and totals.", "salvage sales totals --per month"
)

From: TypeAlias = Annotated[str, typer.Option("--from", metavar="DAY", help="From this day on.")]
Until: TypeAlias = Annotated[str, typer.Option("--until", metavar="DAY", help="Up to this day.")]
OfOuting: TypeAlias = Annotated[
    str, typer.Option("--outing", metavar="OUTING", help="Only of this outing.")
]


def read_period(shop: Workshop, first: str, last: str, outing: str) -> Period:
    """
    The part of the ledger that was typed.

    Args:
        shop: The open workshop.
        first, last: Days; empty for no bound.
        outing: Code or name; empty for all.
    """
    from salvage.work.ledger import Period
    from salvage.work.outings import find_outing
    from salvage.work.plans import parse_day

    return Period(
        parse_day(first, field="--from") if first else None,
        parse_day(last, field="--until") if last else None,
        find_outing(shop, typed=outing) if outing else "",
    )


@commands.command("list", example="salvage sales list --from 2026-11-01")
def list_(
    context: typer.Context,
    first: From = "",
    last: Until = "",
    outing: OfOuting = "",
    most: Annotated[int, typer.Option(min=1, help="At most so many, the newest.")] = 100,
) -> None:
    """List what was sold and given back, oldest first."""
    from salvage.work.ledger import list_sales

    session = session_of(context)
    with session.open() as shop:
        lines = list_sales(shop, period=read_period(shop, first, last, outing), most=most)
    columns = (
        Column("slip", "slip"),
        Column("day", "day"),
        Column("kind", "kind"),
        Column("piece", "piece"),
        Column("what", "words"),
        Column("paid", "paid"),
        Column("off", "discount"),
        Column("by", "paid_by"),
        Column("venue", "venue"),
    )
    show_list(session, [_line_record(line) for line in lines], columns, empty="nothing was sold")


def _line_record(line: LedgerLine) -> dict[str, Any]:
    currency = line.currency
    return record_of(
        line,
        paid=format_money(line.paid_minor, currency),
        discount=format_money(line.discount_minor, currency) if line.discount_minor else "",
    )


@commands.command("show", example="salvage sales show C1042")
def show(
    context: typer.Context,
    slip: Annotated[
        str, typer.Argument(metavar="SLIP", help="Its number, or a piece for its newest slip.")
    ],
) -> None:
    """Show one slip with its lines."""
    from salvage.work.amounts import format_rate
    from salvage.work.ledger import show_slip

    session = session_of(context)
    with session.open() as shop:
        view = show_slip(shop, number=slip)
    record, found = slip_record(view), view.slip
    venue = f" at {found.venue}" if found.venue else ""
    by = f" by {found.paid_by}" if found.paid_by else ""
    lines = [f"{found.number}  {found.kind} on {found.day}{venue}: {record['total']}{by}"]
    for line in view.lines:
        off = line.discount_minor and f", {format_money(line.discount_minor, found.currency)} off"
        gift = ", a gift" if line.is_gift else ""
        paid = format_money(line.paid_minor, found.currency)
        lines.append(f"  {line.piece or '-':9} {line.words}  {paid}{off or ''}{gift}")
    if found.tax_ppm is not None:
        tax = format_money(sum(line.tax_minor for line in view.lines), found.currency)
        lines.append(f"  of this {tax} tax at {format_rate(found.tax_ppm)}")
    lines += [f"  {text}" for text in (found.tax_note, found.notes) if text]
    lines.append(f"  to take it back: salvage undo {found.operation[-8:]}")
    plain = ["number", "kind", "day", "total_minor", "currency", "paid_by"]
    show_record(session, record, lines=lines, plain=plain)


@commands.command("totals", example="salvage sales totals --per month")
def totals(
    context: typer.Context,
    per: Annotated[
        str,
        typer.Option(
            metavar="WHAT", help="all, day, month, year, outing, venue, shape, paid or tax."
        ),
    ] = "all",
    first: From = "",
    last: Until = "",
    outing: OfOuting = "",
) -> None:
    """
    Totals of the ledger; what was given back is taken off.

    The tax is worked out from the rate that stood in the settings at each sale; whether it is owed
    is for you and your adviser to say.
    """
    from salvage.work.ledger import total_sales

    session = session_of(context)
    with session.open() as shop:
        found = total_sales(shop, by=per, period=read_period(shop, first, last, outing))
    show_list(
        session, [_total_record(total) for total in found], _COLUMNS, empty="nothing was sold"
    )
    if found and not session.form and any(total.tax_minor for total in found):
        note(session, "tax as noted at each sale; this is no advice on tax")


def _total_record(total: Total) -> dict[str, Any]:
    currency = total.currency
    amounts = {
        name: format_money(getattr(total, f"{name}_minor"), currency)
        for name in ("list", "discount", "paid", "refunded", "net", "tax", "fee")
    }
    return record_of(total, net_minor=total.net_minor, **amounts)


_COLUMNS = (
    Column("", "key", lambda key: key or "-"),
    Column("sold", "sold"),
    Column("given", "given"),
    Column("back", "returned"),
    Column("list", "list"),
    Column("off", "discount"),
    Column("refunded", "refunded"),
    Column("net", "net"),
    Column("tax", "tax"),
    Column("fees", "fee"),
)
