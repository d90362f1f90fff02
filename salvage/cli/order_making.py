"""``salvage order``: boards held, pieces set aside, and the hand-over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.options import PieceCodes, completer
from salvage.cli.order import OrderCode, commands, tell_order
from salvage.cli.order_view import order_record
from salvage.cli.outing_view import slip_record
from salvage.cli.plan import read_last_day, typed_filter
from salvage.cli.plan_options import (
    Angles,
    AnyAngle,
    Anyway,
    Cleared,
    Days,
    EitherFace,
    KeepOff,
    Only,
    Seconds,
    Tool,
    Until,
)
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_change
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.work.order_making import OrderPlanned

_Pieces: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[PIECE]...",
        help="Only these; all that are ready if left out.",
        show_default=False,
        autocompletion=completer("P"),
    ),
]
_Paid: TypeAlias = Annotated[
    str, typer.Option("--paid", metavar="HOW", help="cash, card, transfer or other.")
]
_Card: TypeAlias = Annotated[bool, typer.Option("--card", help="Paid by card.")]
_Discount: TypeAlias = Annotated[
    str, typer.Option(metavar="AMOUNT", help="Off the whole: 2.50 or 10%.")
]
_Date: TypeAlias = Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")]


@commands.command("plan", example="salvage order plan NC0001U --cleared", changes=True)
def plan(
    context: typer.Context,
    code: OrderCode,
    until: Until = "",
    days: Days = "",
    seconds: Seconds = 5.0,
    tool: Tool = "router",
    anyway: Anyway = False,
    any_angle: AnyAngle = False,
    angles: Angles = "",
    either_face: EitherFace = False,
    only: Only = None,
    keep_off: KeepOff = None,
    cleared: Cleared = False,
) -> None:
    """
    Hold places on real boards for what an order still lacks.

    Only boards of the donor or drop-off that the customer wished are taken. The plan is cut, shown
    and extended like any other; see 'salvage plan'.
    """
    from salvage.cli.plan_search import search_of, searching
    from salvage.work import order_making, order_view, wishes
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        view = order_view.view_order(shop, order=order)
        wanted = sum(line.open for line in view.lines)
        with searching(session, wanted) as watch:
            done = order_making.plan_for_order(
                shop,
                order=order,
                search=search_of(watch, context.params),
                filters=wishes.parse_filter(shop, typed_filter(context.params)),
                until=read_last_day(shop, until, days),
                dry_run=session.dry_run,
            )
    if watch.stopped and not session.form:
        note(session, "stopped: this is the best plan so far")
    _tell_planned(session, done)


def _tell_planned(session: Session, done: OrderPlanned) -> None:
    from salvage.cli.plan_view import planned_lines, planned_record

    made = done.planned.plan
    show_change(
        session,
        {"order": order_record(done.view), "planned": planned_record(done.planned)},
        lines=planned_lines(done.planned),
        codes=[made.code] if made else [],
        next_step=f"plan cut {made.code}" if made else "",
    )
    if not made:
        raise typer.Exit(1)


@commands.command("aside", example="salvage order aside NC0001U PC0001D", changes=True)
def aside(
    context: typer.Context,
    code: OrderCode,
    pieces: PieceCodes,
    line: Annotated[
        str, typer.Option(metavar="NAME", help="Line they stand for; by their shape if left out.")
    ] = "",
) -> None:
    """Set pieces from the shelf aside for an order; nobody else is sold them."""
    from salvage.work.order_making import set_aside
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        chosen = [read_code(shop, text=piece, kinds="P") for piece in pieces]
        view = set_aside(shop, order=order, pieces=chosen, line=line, dry_run=session.dry_run)
    tell_order(session, view, f"{order}  {view.made} of {view.wanted} there", f"order show {order}")


@commands.command("free", example="salvage order free PC0001D", changes=True)
def free(
    context: typer.Context,
    pieces: PieceCodes,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Put pieces back on the shelf that were set aside for an order."""
    from salvage.work.order_making import free_pieces
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        chosen = [read_code(shop, text=piece, kinds="P") for piece in pieces]
        freed = free_pieces(shop, pieces=chosen, reason=reason, dry_run=session.dry_run)
    show_change(
        session,
        [{"code": one} for one in freed],
        lines=[f"{one}  is free again" for one in freed],
        codes=freed,
        next_step="piece list --state ready",
    )


@commands.command("handover", example="salvage order handover NC0001U --card", changes=True)
def handover(
    context: typer.Context,
    code: OrderCode,
    pieces: _Pieces = None,
    paid: _Paid = "",
    card: _Card = False,
    discount: _Discount = "",
    date: _Date = "",
) -> None:
    """Hand an order's ready pieces over, which sells them at the quoted prices."""
    from salvage.cli.failures import Misuse
    from salvage.records.choices import parse_choice
    from salvage.records.season import PAYMENTS
    from salvage.units import parse_date
    from salvage.work.order_making import hand_over
    from salvage.work.reading import read_code
    from salvage.work.slips import NO_DISCOUNT, Terms
    from salvage.work.till_words import parse_discount

    session = session_of(context)
    if card and paid:
        raise Misuse("give --card or --paid, not both")
    paid_by = "card" if card else parse_choice(paid, PAYMENTS, field="--paid") if paid else ""
    with session.open() as shop:
        order = read_code(shop, text=code, kinds="N")
        day = parse_date(date, today=shop.today, field="--date") if date else shop.today
        off = NO_DISCOUNT
        if discount:
            off = parse_discount(discount, currency=shop.settings.currency)
        done = hand_over(
            shop,
            order=order,
            terms=Terms(day, paid_by),
            pieces=[read_code(shop, text=piece, kinds="P") for piece in pieces or ()],
            discount=off,
            dry_run=session.dry_run,
        )
    view, slip = done.view, done.slip
    total = format_money(slip.total_minor, slip.slip.currency)
    show_change(
        session,
        {"order": order_record(view), "sale": slip_record(slip)},
        lines=[
            f"{order}  {view.handed} of {view.wanted} handed over, slip {slip.slip.number}: {total}"
        ],
        codes=[slip.slip.number],
        next_step=f"sales show {slip.slip.number}",
    )
