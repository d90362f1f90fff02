"""``salvage order``: what customers ask for, from the request to the quote and the answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias, TypeVar

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.order_view import due_words, order_lines, order_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, show_change, show_list, show_record
from salvage.units import format_money

if TYPE_CHECKING:
    from collections.abc import Callable

    from salvage.work.order_view import OrderView
    from salvage.work.workshop import Workshop

Read = TypeVar("Read")

commands = CommandSet(
    "order",
    "Customers' orders: request, quote, boards, pieces, hand-over.",
    'salvage order take tern:2 --customer "R. Example" --due 2026-12-18',
)

OrderCode: TypeAlias = Annotated[
    str, typer.Argument(metavar="ORDER", help="The order.", autocompletion=completer("N"))
]
_Due: TypeAlias = Annotated[str, typer.Option("--due", metavar="DAY", help="Wished by then.")]
_Donor: TypeAlias = Annotated[
    str, typer.Option("--donor", metavar="CODE", help="Only of this donor's boards.")
]
_DropOff: TypeAlias = Annotated[
    str, typer.Option("--dropoff", metavar="CODE", help="Only of this drop-off's boards.")
]
_Reason: TypeAlias = Annotated[
    str, typer.Option(metavar="TEXT", help="Why, without the name: it stays on the record.")
]


def tell_order(session: Session, view: OrderView, line: str, next_step: str) -> None:
    """
    Tell what a change did to an order.

    Args:
        session: The run.
        view: The order then.
        line: As people read it.
        next_step: Words after ``salvage``.
    """
    show_change(
        session,
        order_record(view),
        lines=[line],
        codes=[view.order.code],
        next_step=next_step,
    )


def _source(shop: Workshop, donor: str, drop_off: str) -> tuple[str, str]:
    from salvage.work.wishes import TypedFilter, parse_filter

    found = parse_filter(shop, TypedFilter(donor=donor, drop_off=drop_off))
    return found.donor, found.drop_off


@commands.command(
    "take",
    example='salvage order take tern:2 circle@40:1 --customer "R. Example" --due 2026-12-18',
    changes=True,
)
def take(
    context: typer.Context,
    lines: Annotated[
        list[str],
        typer.Argument(metavar="SHAPE:QUANTITY...", help="A width may be given: circle@40:6."),
    ],
    customer: Annotated[
        str, typer.Option(metavar="NAME", help="Whose order; sealed, never on paper or exports.")
    ] = "",
    contact: Annotated[
        str, typer.Option(metavar="TEXT", help="Address or telephone; sealed as well.")
    ] = "",
    due: _Due = "",
    donor: _Donor = "",
    dropoff: _DropOff = "",
    notes: Annotated[
        str, typer.Option(metavar="TEXT", help="For the workshop, without the name.")
    ] = "",
) -> None:
    """
    Record what a customer asks for.

    An outline of the customer's own is put into the library first: salvage shape add FILE.
    """
    from salvage.cli.gather import Gatherer
    from salvage.work.orders import NewOrder, take_order
    from salvage.work.plans import parse_day
    from salvage.work.wishes import parse_demand

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        demands = [
            gather.take(lambda text=text: parse_demand(shop, text), None)  # type: ignore[misc]
            for text in lines
        ]
        day = gather.take(lambda: parse_day(due, field="--due") if due else None, None)
        source = gather.take(lambda: _source(shop, donor, dropoff), ("", ""))
        gather.finish()
        wanted = [demand for demand in demands if demand]
        new = NewOrder(customer, wanted, contact, day, *source, notes)
        view = take_order(shop, new=new, dry_run=session.dry_run)
    code = view.order.code
    line = f"{code}  {view.wanted} wanted, by: {due_words(view)}"
    tell_order(session, view, line, f"order quote {code}")


@commands.command("list", example="salvage order list")
def list_(
    context: typer.Context,
    every: Annotated[
        bool, typer.Option("--all", help="Handed over, declined and cancelled ones, too.")
    ] = False,
) -> None:
    """List the orders that are going on, the first due first; names are private."""
    from salvage.work.order_view import list_orders

    session = session_of(context)
    with session.open() as shop:
        views = list_orders(shop, every=every)
    records = [
        order_record(view)
        | {
            "due": due_words(view),
            "asked": ", ".join(f"{s.line.quantity} x {s.line.name}" for s in view.lines),
        }
        for view in views
    ]
    columns = (
        Column("order", "code"),
        Column("for (private)", "name"),
        Column("asked", "asked"),
        Column("due", "due"),
        Column("how far", "phase"),
        Column("made", "made"),
        Column("of", "wanted"),
    )
    show_list(session, records, columns, empty="no order is going on")
    late = sum(view.is_late for view in views)
    if late and not session.form:
        note(session, f"! {late} late")


@commands.command("show", example="salvage order show NC0001U")
def show(context: typer.Context, code: OrderCode) -> None:
    """Show an order: what is held, cut, ready and handed over; names are private."""
    from salvage.work.order_view import view_order
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = view_order(shop, order=read_code(shop, text=code, kinds="N"))
    plain = ["code", "phase", "due_on", "wanted", "made", "ready", "handed"]
    show_record(session, order_record(view), lines=order_lines(view), plain=plain)


@commands.command(
    "correct",
    example='salvage order correct NC0001U --due 2026-12-20 --reason "later"',
    changes=True,
)
def correct(
    context: typer.Context,
    code: OrderCode,
    lines: Annotated[
        list[str] | None,
        typer.Option("--line", metavar="SHAPE:N", help="What is asked for now; may come again."),
    ] = None,
    customer: Annotated[str | None, typer.Option(metavar="NAME", help="Whose order.")] = None,
    contact: Annotated[str | None, typer.Option(metavar="TEXT", help="How to reach them.")] = None,
    due: Annotated[
        str | None, typer.Option("--due", metavar="DAY", help="Wished by then; none for no day.")
    ] = None,
    donor: Annotated[
        str | None, typer.Option(metavar="CODE", help="Whose boards; none for any.")
    ] = None,
    dropoff: Annotated[
        str | None, typer.Option(metavar="CODE", help="Which drop-off; none for any.")
    ] = None,
    notes: Annotated[str | None, typer.Option(metavar="TEXT", help="For the workshop.")] = None,
    why: Annotated[
        str, typer.Option("--reason", metavar="TEXT", help="Why, without the name.")
    ] = "",
) -> None:
    """Mend an order, or change what is asked for; old and new stay on record."""
    from salvage.work.orders import OrderCorrection, correct_order
    from salvage.work.plans import parse_day
    from salvage.work.reading import read_code
    from salvage.work.wishes import parse_demand

    session = session_of(context)
    with session.open() as shop:
        new = OrderCorrection(
            customer,
            contact,
            _unless_none(due, lambda text: parse_day(text, field="--due").isoformat()),
            _unless_none(donor, lambda text: _source(shop, text, "")[0]),
            _unless_none(dropoff, lambda text: _source(shop, "", text)[1]),
            notes,
            [parse_demand(shop, text) for text in lines] if lines else None,
        )
        order = read_code(shop, text=code, kinds="N")
        view = correct_order(shop, order=order, new=new, why=why, dry_run=session.dry_run)
    tell_order(session, view, f"{order}  corrected", f"order show {order}")


def _unless_none(text: str | None, read: Callable[[str], str]) -> str | None:
    """What was typed; empty for the word none, and None where nothing was."""
    if text is None:
        return None
    return "" if text.strip().lower() in ("", "none") else read(text)


@commands.command("quote", example="salvage order quote NC0001U --each tern=24", changes=True)
def quote(
    context: typer.Context,
    code: OrderCode,
    each: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=AMOUNT",
            help="Price of one; by your own rule if left out; may come again.",
        ),
    ] = None,
    valid: Annotated[
        str, typer.Option("--valid", metavar="DAY", help="Last day to accept; in 14 days.")
    ] = "",
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the quote.")] = "",
) -> None:
    """Offer an order at a price; the suggested price where you give none."""
    from datetime import timedelta

    from salvage.units import parse_money
    from salvage.work.orders import quote_order
    from salvage.work.plans import parse_day
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        pairs = (text.rpartition("=") for text in each or ())
        prices = {
            name: parse_money(price, currency=shop.settings.currency, field="--each")
            for name, _, price in pairs
        }
        until = parse_day(valid, field="--valid") if valid else shop.today + timedelta(days=14)
        view = quote_order(
            shop, order=order, each=prices, valid_until=until, notes=notes, dry_run=session.dry_run
        )
    newest = view.quotes[-1]
    total = format_money(newest.total_minor, newest.currency)
    line = f"{order}  quoted at {total}, valid until {newest.valid_until}"
    tell_order(session, view, line, f"order accept {order}")


@commands.command("accept", example="salvage order accept NC0001U", changes=True)
def accept(context: typer.Context, code: OrderCode, reason: _Reason = "") -> None:
    """Record that the customer accepts the newest quote."""
    _answer(session_of(context), code, accepted=True, reason=reason)


@commands.command("decline", example='salvage order decline NC0001U --reason "dear"', changes=True)
def decline(context: typer.Context, code: OrderCode, reason: _Reason = "") -> None:
    """Record that the customer declines; boards that were held are let go."""
    _answer(session_of(context), code, accepted=False, reason=reason)


def _answer(session: Session, code: str, *, accepted: bool, reason: str) -> None:
    from salvage.work.orders import answer_quote
    from salvage.work.reading import read_code

    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        view = answer_quote(
            shop, order=order, accepted=accepted, reason=reason, dry_run=session.dry_run
        )
    step = f"order plan {order}" if accepted else "order list"
    tell_order(session, view, f"{order}  {view.order.state}", step)


@commands.command(
    "cancel", example='salvage order cancel NC0001U --reason "moved away"', changes=True
)
def cancel(context: typer.Context, code: OrderCode, reason: _Reason = "") -> None:
    """Cancel an order: its boards and pieces are free again."""
    from salvage.work.orders import cancel_order
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        view = cancel_order(shop, order=order, reason=reason, dry_run=session.dry_run)
    tell_order(session, view, f"{order}  cancelled; its boards and pieces are free", "order list")


@commands.command(
    "forget", example='salvage order forget NC0001U --reason "asked by letter"', changes=True
)
def forget(context: typer.Context, code: OrderCode, reason: _Reason = "") -> None:
    """
    Erase a customer's name and contact for good.

    The order, its pieces and its sale stay. Other devices erase theirs when they merge.
    """
    from dataclasses import asdict

    from salvage.cli.ask import confirm
    from salvage.work.forget_customer import forget_customer
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        if not session.dry_run:
            confirm(session, f"Erase name and contact of the customer of {order} for good?")
        done = forget_customer(shop, order=order, reason=reason, dry_run=session.dry_run)
    lines = [f"{order}  sealed texts erased: {done.erased}"]
    if not done.is_flushed:
        lines.append("another window reads the database: close it, and say the same again")
    lines += [
        f"{one.code} {one.field} holds a word of it: “{one.text}”"
        + (f"; put it right: {one.mend}" if one.mend else "")
        for one in done.mentions
    ]
    if done.copies:
        lines.append(f"still in older copies, to be deleted by you: {', '.join(done.copies)}")
    lines.append("copies elsewhere (backups, bundles, letters) keep it until you delete them")
    show_change(session, asdict(done), lines=lines, codes=[order])
