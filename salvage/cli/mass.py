"""``salvage consign`` and ``mass``: what left for a recycler, and where the weight went."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record
from salvage.units import format_mass

sending = CommandSet()
weighing = CommandSet()

_COLUMNS = (
    Column("code", "code"),
    Column("sent", "sent_on"),
    Column("to", "receiver"),
    Column("contents", "contents"),
    Column("weight", "weight_g", format_mass),
    Column("document", "document"),
    Column("from", "drop_off"),
)


@sending.command(
    "consign",
    example='salvage consign --receiver "Quay Street recycling yard" --contents "coin cells, taped"'
    " --weight 84g",
    changes=True,
)
def consign(
    context: typer.Context,
    receiver: Annotated[str, typer.Option(metavar="TEXT", help="Who took it.")] = "",
    contents: Annotated[str, typer.Option(metavar="TEXT", help="What went.")] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="Such as 3.4kg.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
    document: Annotated[str, typer.Option(metavar="TEXT", help="Receipt or waybill.")] = "",
    dropoff: Annotated[
        str,
        typer.Option(
            metavar="DROPOFF", help="If it is all from one.", autocompletion=completer("D")
        ),
    ] = "",
) -> None:
    """Record what left for a recycler; without options, list what did."""
    from salvage.cli.failures import Misuse
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.mass import NewConsignment, send_consignment
    from salvage.work.reading import read_code

    session, gather = session_of(context), Gatherer()
    if not any(context.params.values()):
        _list(session)
        return
    if not weight:
        raise Misuse("give --weight")
    grams = gather.take(lambda: parse_mass_g(weight, field="--weight"), 1.0)
    with session.open() as shop:
        day = gather.take(
            lambda: parse_date(date, today=shop.today, field="--date") if date else None, None
        )
        gather.finish()
        new = NewConsignment(
            receiver=receiver,
            contents=contents,
            weight_g=grams,
            sent_on=day,
            document=document,
            drop_off=(
                read_code(shop, text=dropoff, kinds="D", field="--dropoff") if dropoff else None
            ),
        )
        sent = send_consignment(shop, new=new, dry_run=session.dry_run)
    line = f"{sent.code}  {sent.contents}, {format_mass(grams)}, to {sent.receiver}, {sent.sent_on}"
    show_change(session, record_of(sent), lines=[line], codes=[sent.code], next_step="mass")


def _list(session: Session) -> None:
    from salvage.work.mass import list_consignments

    with session.open() as shop:
        records = [record_of(sent) for sent in list_consignments(shop)]
    show_list(session, records, _COLUMNS, empty="nothing was sent yet")


@weighing.command("mass", example="salvage mass")
def mass(context: typer.Context) -> None:
    """Show what came in by weight, and what it became; the rest is shown, not hidden."""
    from salvage.work.mass import account_mass

    session = session_of(context)
    with session.open() as shop:
        account = account_mass(shop)
    record = asdict(account) | {"unexplained_g": account.unexplained_g}
    told = {
        "received (weighed)": account.received_g,
        "sent to recyclers": account.sent_g,
        "pieces (weighed or estimated)": account.pieces_g,
        "boards left (weighed or estimated)": account.boards_g,
        "dust (estimated)": account.dust_g,
        "unexplained: housings, screws, mistakes": account.unexplained_g,
    }
    lines = [f"{_signed(grams):>12}  {words}" for words, grams in told.items()]
    if account.unweighed:
        noun = "drop-off" if account.unweighed == 1 else "drop-offs"
        lines.append(f"{account.unweighed:>12}  {noun} without a weight, not in the above")
    show_record(session, record, lines=lines, plain=list(record))


def _signed(grams: float) -> str:
    return f"-{format_mass(-grams)}" if grams < -0.05 else format_mass(abs(grams))
