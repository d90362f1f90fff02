"""``salvage outing``: the day itself, from the float to the count."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.count import count_of
from salvage.cli.outing import OutingName, OutingOption, Pieces, commands, read_pieces, tell_outing
from salvage.cli.outing_view import sold_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, note, say, show_change, show_json, show_plain
from salvage.units import format_money

if TYPE_CHECKING:
    from salvage.work.till import Till, TillAnswer
    from salvage.work.workshop import Workshop


_Things: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[THING]...",
        help="Codes or keys; BK=12.50 sets a price, BK=gift gives it away, ?kite=12 is one"
        " without a label.",
        show_default=False,
    ),
]
_Paid: TypeAlias = Annotated[
    str, typer.Option("--paid", metavar="HOW", help="cash, card, transfer or other.")
]
_Card: TypeAlias = Annotated[bool, typer.Option("--card", help="Paid by card.")]
_Discount: TypeAlias = Annotated[
    str, typer.Option(metavar="AMOUNT", help="Off the whole: 2.50 or 10%.")
]
_Back: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--back", metavar="PIECE", help="This comes back; may come again."),
]
_Reason: TypeAlias = Annotated[str, typer.Option(metavar="TEXT", help="Why it comes back; a note.")]
_Given: TypeAlias = Annotated[
    str, typer.Option(metavar="AMOUNT", help="What the buyer lays down; tells the change.")
]


@commands.command("open", example="salvage outing open UC0004K --float 60", changes=True)
def open_(
    context: typer.Context,
    outing: OutingName = "",
    float_: Annotated[
        str, typer.Option("--float", metavar="AMOUNT", help="Cash in the box to begin with.")
    ] = "0",
) -> None:
    """Open the stall on this device: what is sold here from now on belongs to the outing."""
    from salvage.units import parse_money
    from salvage.work.outing_day import open_outing
    from salvage.work.outings import find_outing

    session = session_of(context)
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="planned")
        minor = parse_money(float_, currency=shop.settings.currency, field="--float")
        view = open_outing(shop, outing=code, float_minor=minor, dry_run=session.dry_run)
    line = f"{code}  {view.outing.name} is open, {count_of(len(view.in_state('packed')), 'piece')}"
    tell_outing(session, view, f"{line} on the stall", "outing till")


@commands.command("sell", example="salvage outing sell BK DJ --card --discount 10%", changes=True)
def sell(
    context: typer.Context,
    things: _Things = None,
    paid: _Paid = "",
    card: _Card = False,
    discount: _Discount = "",
    back: _Back = None,
    reason: _Reason = "",
    given: _Given = "",
    outing: OutingOption = "",
) -> None:
    """
    Sell pieces on one slip, exchange or give away; at the open outing if none is named.

    At an outing two letters of its packing list stand for a piece. Cash is meant there if nothing
    else is said.
    """
    from salvage.cli.failures import Misuse
    from salvage.work.selling import Terms, sell_pieces
    from salvage.work.till import describe_sold
    from salvage.work.till_words import read_sale

    session = session_of(context)
    if card and paid:
        raise Misuse("give --card or --paid, not both")
    words = [*(things or ()), *(f"back:{code}" for code in back or ())]
    words += [f"-{discount}"] if discount else []
    words += [f"given:{given}"] if given else []
    with session.open() as shop:
        code = _outing_meant(shop, outing)
        said = read_sale(shop, words=words, outing=code)
        paid_by = "card" if card else paid or said.paid_by
        sold = sell_pieces(
            shop,
            items=said.items,
            terms=Terms(shop.today, paid_by, outing=code if outing else "", notes=reason),
            back=said.back,
            discount=said.discount,
            given_minor=said.given_minor,
            dry_run=session.dry_run,
        )
    slips = [slip.slip.number for slip in (*([sold.sale] if sold.sale else ()), *sold.refunds)]
    show_change(
        session,
        sold_record(sold),
        lines=[describe_sold(sold)],
        codes=slips,
        next_step=f"sales show {slips[0]}",
    )


def _outing_meant(shop: Workshop, typed: str) -> str:
    """The outing that was named, or the one that is open here; empty for none."""
    from salvage.work.outings import find_outing
    from salvage.work.slips import outing_here

    if typed:
        return find_outing(shop, typed=typed)
    here = outing_here(shop.conn, shop.settings.device)
    return here.code if here else ""


@commands.command("till", example="salvage outing till", changes=True)
def till(context: typer.Context, outing: OutingOption = "") -> None:
    """
    Sell line by line: scan pieces or type their keys, then c for cash or k for card.

    Cards of the action sheet serve too: Yes is cash, Cancel empties the basket, Taken back takes
    the next piece back, Undo takes the last sale back, Done closes the till. Each sale is in the
    record at once, so the window may be closed at any time.
    """
    from salvage.work.till import Till

    session = session_of(context)
    with session.open() as shop:
        sitting = Till(shop, outing=_outing_meant(shop, outing), dry_run=session.dry_run)
        if session.may_ask and not session.form:
            _help(session)
        raise typer.Exit(_play(session, sitting))


def _play(session: Session, sitting: Till) -> int:
    code = 0
    for line in iter(session.world.stdin.readline, ""):
        for answer in sitting.play(line):
            _tell_till(session, answer)
            code = 1 if answer.kind == "refused" else code
        session.world.stdout.flush()
        if sitting.is_over:
            break
    if session.dry_run:
        note(session, "nothing was recorded (--dry-run)")
    return code


def _help(session: Session) -> None:
    from salvage.work.till import HELP

    for line in HELP:
        note(session, f"  {line}")


def _tell_till(session: Session, answer: TillAnswer) -> None:
    if session.form == "json":
        sold = sold_record(answer.sold) if answer.sold else None
        value = {"kind": answer.kind, "words": answer.words, "sold": sold}
        show_json(session, value, one_line=True)
    elif session.form == "plain":
        slip = answer.sold and (answer.sold.sale or answer.sold.refunds[0])
        show_plain(session, [(slip.slip.number if slip else "", answer.kind, answer.words)])
    elif answer.words == "help":
        _help(session)
    else:
        before = "REFUSED: " if answer.kind == "refused" else ""
        say(session, f"{before}{clean(answer.words)}")


@commands.command("cash", example='salvage outing cash out 35 --reason "stall fee"', changes=True)
def cash(
    context: typer.Context,
    way: Annotated[str, typer.Argument(metavar="WAY", help="in or out.")],
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="How much.")],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="What for.")] = "",
    outing: OutingOption = "",
) -> None:
    """Note cash that goes into the box, or out of it, without a sale."""
    from salvage.records.choices import parse_choice
    from salvage.units import parse_money
    from salvage.work.outing_day import move_cash
    from salvage.work.outings import find_outing

    session = session_of(context)
    sign = 1 if parse_choice(way, ("in", "out"), field="WAY") == "in" else -1
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="open")
        minor = sign * parse_money(amount, currency=shop.settings.currency, field="AMOUNT")
        view = move_cash(
            shop, outing=code, amount_minor=minor, reason=reason, dry_run=session.dry_run
        )
    due = format_money(view.expected_minor, view.outing.currency)
    tell_outing(session, view, f"{code}  {due} should be in the box", f"outing show {code}")


@commands.command("home", example="salvage outing home UC0004K PC0001D", changes=True)
def home(context: typer.Context, outing: OutingName = "", pieces: Pieces = None) -> None:
    """Note what came home, by code or by scanning it piece after piece."""
    from salvage.work.outing_day import bring_home
    from salvage.work.outings import find_outing

    session = session_of(context)
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="open")
        chosen = read_pieces(session, shop, pieces, code)
        view = bring_home(shop, outing=code, pieces=chosen, dry_run=session.dry_run)
    left = len(view.in_state("packed", "back"))
    line = f"{code}  {len(view.in_state('home'))} home, {left} neither home nor sold"
    tell_outing(session, view, line, f"outing close {code} --cash …")


@commands.command("close", example="salvage outing close UC0004K --cash 312.50", changes=True)
def close(
    context: typer.Context,
    outing: OutingName = "",
    cash: Annotated[str, typer.Option(metavar="AMOUNT", help="Cash counted in the box.")] = "",
    missing: Annotated[
        list[str] | None,
        typer.Option(metavar="PIECE", help="This is missing; may come again."),
    ] = None,
    all_missing: Annotated[
        bool, typer.Option("--all-missing", help="All that is neither home nor sold is missing.")
    ] = False,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="What explains differences.")] = "",
) -> None:
    """
    Close an outing with its count.

    Pieces that are neither sold nor home must be named as missing; they go on the list of lost
    things, from which 'salvage stocktake found' takes them again.
    """
    from salvage.cli.failures import Misuse
    from salvage.units import parse_money
    from salvage.work.outing_day import Count, close_outing
    from salvage.work.outings import find_outing

    session = session_of(context)
    if not cash:
        raise Misuse("say how much cash was counted: --cash AMOUNT")
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="open")
        count = Count(
            parse_money(cash, currency=shop.settings.currency, field="--cash"),
            tuple(read_pieces(session, shop, missing, code)) if missing else (),
            all_missing,
            reason,
        )
        view = close_outing(shop, outing=code, count=count, dry_run=session.dry_run)
    taken = format_money(view.taken_minor, view.outing.currency)
    line = f"{code}  {view.outing.name} is closed: {taken} taken"
    tell_outing(session, view, line, "device export")
