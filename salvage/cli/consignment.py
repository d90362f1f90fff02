"""``salvage consign``: what left for a recycler."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list
from salvage.units import format_mass

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.consigning import ConsignmentView, Handed
    from salvage.work.workshop import Workshop

commands = CommandSet()

_COLUMNS = (
    Column("code", "code"),
    Column("sent", "sent_on"),
    Column("to", "receiver"),
    Column("contents", "contents"),
    Column("weight", "weight_g", format_mass),
    Column("document", "document"),
    Column("from", "drop_off"),
    Column("confirmed", "confirmed_on"),
)


def consignment_record(view: ConsignmentView) -> dict[str, Any]:
    """A consignment with its items and its receipt, as JSON."""
    detail = view.detail
    confirmed_mg = detail.confirmed_mg if detail else None
    return record_of(
        view.consignment,
        permit=detail.permit if detail else "",
        confirmed_on=detail.confirmed_on if detail else "",
        confirmed_mg=confirmed_mg,
        confirmed_g=None if confirmed_mg is None else confirmed_mg / 1000,
        confirmation=detail.confirmation if detail else "",
        items=[record_of(item) for item in view.items],
    )


@commands.command(
    "consign",
    example='salvage consign --receiver "Quay Street recycling yard" --container EC0001E'
    ' --permit W-77 --document Q-88 --item "steel frames:3.4kg"',
    changes=True,
)
def consign(
    context: typer.Context,
    receiver: Annotated[str, typer.Option(metavar="TEXT", help="Who took it.")] = "",
    container: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CODE[:MASS]", help="Waste container that went.", autocompletion=completer("E")
        ),
    ] = None,
    board: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CODE[:MASS]", help="Whole board that went.", autocompletion=completer("B")
        ),
    ] = None,
    item: Annotated[
        list[str] | None, typer.Option(metavar="TEXT:MASS", help="Something loose.")
    ] = None,
    permit: Annotated[
        str, typer.Option(metavar="TEXT", help="The receiver's permit or registration.")
    ] = "",
    contents: Annotated[str, typer.Option(metavar="TEXT", help="What went, as one.")] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="Of that, such as 3.4kg.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
    document: Annotated[str, typer.Option(metavar="TEXT", help="Receipt or waybill.")] = "",
    dropoff: Annotated[
        str,
        typer.Option(
            metavar="DROPOFF", help="If it is all from one.", autocompletion=completer("D")
        ),
    ] = "",
) -> None:
    """
    Record what left for a recycler; without options, list what did.

    Say it thing by thing with --container, --board and --item, or as one with --contents and
    --weight. Confirm what arrived with 'salvage waste confirm'.
    """
    session = session_of(context)
    if not any(context.params.values()):
        _list(session)
    elif container or board or item or permit:
        _hand_over(session, context.params)
    else:
        _send(session, context.params)


def _hand_over(session: Session, given: dict[str, Any]) -> None:
    from salvage.cli.failures import Misuse
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date
    from salvage.work.consigning import NewHandOver, hand_over
    from salvage.work.reading import read_code

    if given["contents"] or given["weight"]:
        raise Misuse("use --item TEXT:MASS beside --container and --board, not --contents")
    gather, typed_day, source = Gatherer(), given["date"], given["dropoff"]
    with session.open() as shop:
        day = gather.take(
            lambda: parse_date(typed_day, today=shop.today, field="--date") if typed_day else None,
            None,
        )
        drop_off = read_code(shop, text=source, kinds="D", field="--dropoff") if source else None
        items = _items(shop, gather, given, drop_off)
        gather.finish()
        new = NewHandOver(given["receiver"], tuple(items), given["permit"], given["document"], day)
        view = hand_over(shop, new=new, dry_run=session.dry_run)
    sent = view.consignment
    told = f"{format_mass(sent.weight_mg / 1000)}, to {sent.receiver}, {sent.sent_on}"
    lines = [f"{sent.code}  {told}"]
    for one in view.items:
        guess = "" if one.weighed else " (estimated)"
        lines.append(f"  {one.n}  {one.words}, {format_mass(one.weight_mg / 1000)}{guess}")
    show_change(
        session,
        consignment_record(view),
        lines=lines,
        codes=[sent.code],
        next_step=f"waste confirm {sent.code} --paper …",
    )


def _items(
    shop: Workshop, gather: Any, given: dict[str, Any], drop_off: Code | None
) -> list[Handed]:
    """Containers, boards and loose things as typed; gathers what cannot be read."""
    from salvage.work.consigning import Handed
    from salvage.work.reading import read_code

    found: list[Handed] = []
    for name, kind in (("container", "E"), ("board", "B")):
        for text in given[name] or ():
            word, grams = _split(gather, text, field=f"--{name}")
            code = read_code(shop, text=word, kinds=kind, field=f"--{name}")
            found.append(Handed(code, "", grams))
    for text in given["item"] or ():
        words, grams = _split(gather, text, field="--item")
        found.append(Handed(None, words, grams, drop_off))
    return found


def _split(gather: Any, text: str, *, field: str) -> tuple[str, float | None]:
    """Words and weight of ``words:weight``; no weight where there is no colon."""
    from salvage.units import parse_mass_g

    words, colon, mass = text.rpartition(":")
    if not colon:
        return text, None
    return words, gather.take(lambda: parse_mass_g(mass, field=field), None)


def _send(session: Session, given: dict[str, Any]) -> None:
    """A consignment told as one, as it was recorded from the first version on."""
    from salvage.cli.failures import Misuse
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.mass import NewConsignment, send_consignment
    from salvage.work.reading import read_code

    gather, weight, typed_day, source = (
        Gatherer(),
        given["weight"],
        given["date"],
        given["dropoff"],
    )
    if not weight:
        raise Misuse("give --weight, or what went with --container, --board or --item")
    grams = gather.take(lambda: parse_mass_g(weight, field="--weight"), 1.0)
    with session.open() as shop:
        day = gather.take(
            lambda: parse_date(typed_day, today=shop.today, field="--date") if typed_day else None,
            None,
        )
        gather.finish()
        new = NewConsignment(
            receiver=given["receiver"],
            contents=given["contents"],
            weight_g=grams,
            sent_on=day,
            document=given["document"],
            drop_off=read_code(shop, text=source, kinds="D", field="--dropoff") if source else None,
        )
        sent = send_consignment(shop, new=new, dry_run=session.dry_run)
    line = f"{sent.code}  {sent.contents}, {format_mass(grams)}, to {sent.receiver}, {sent.sent_on}"
    show_change(session, record_of(sent), lines=[line], codes=[sent.code], next_step="mass")


def _list(session: Session) -> None:
    from salvage.work.consigning import view_consignment
    from salvage.work.mass import list_consignments

    with session.open() as shop:
        views = [view_consignment(shop.conn, sent.code) for sent in list_consignments(shop)]
    records = [consignment_record(view) for view in views]
    show_list(session, records, _COLUMNS, empty="nothing was sent yet")
