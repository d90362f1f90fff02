"""``salvage alert``: new knowledge that holds every board of a kind in one step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.records import board_record, record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, paint, show_change, show_list, show_record

if TYPE_CHECKING:
    from salvage.work.alerts import AlertView, BoardUnder
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "alert",
    "New knowledge: hold every board of a kind in one step.",
    'salvage alert raise clock-battery --maker Orrery --model X2 --reason "leaks" --source …',
)

AlertId = Annotated[
    str, typer.Argument(metavar="ALERT", help="The end of its id, such as 1d861cd0.")
]


@commands.command(
    "raise",
    example="salvage alert raise clock-battery --type motherboard --maker Orrery --to 9552"
    ' --reason "soldered battery under the slot" --source "found on BC0002J"',
    changes=True,
)
def raise_(
    context: typer.Context,
    hazard: Annotated[str, typer.Argument(metavar="HAZARD", help="What is to be looked for.")],
    type_: Annotated[str, typer.Option("--type", metavar="TYPE", help="Board type.")] = "",
    maker: Annotated[str, typer.Option(metavar="TEXT", help="As printed.")] = "",
    model: Annotated[str, typer.Option(metavar="TEXT", help="As printed.")] = "",
    dropoff: Annotated[str, typer.Option(metavar="DROPOFF", help="All that came with it.")] = "",
    made_from: Annotated[
        str, typer.Option("--from", metavar="CODE", help="Date codes from: 9001, a year or day.")
    ] = "",
    made_to: Annotated[
        str, typer.Option("--to", metavar="CODE", help="Date codes to, the same way.")
    ] = "",
    reason: Annotated[str, typer.Option(metavar="TEXT", help="What was learned.")] = "",
    source: Annotated[str, typer.Option(metavar="TEXT", help="Where it was learned.")] = "",
) -> None:
    """
    Hold every board of a kind until it is looked over, those on the shelf and those to come.

    A check that said "absent" is asked for anew; what was removed stays removed. A board whose
    maker, model or date code is not known counts as one of them. Boards that were cut already are
    listed with their pieces, so that a recall can follow.
    """
    from salvage.knowledge.board_types import parse_board_type
    from salvage.work.alerts import NewAlert, parse_made, raise_alert

    session = session_of(context)
    with session.open() as shop:
        new = NewAlert(
            hazard=hazard,
            reason=reason,
            source=source,
            type=parse_board_type(type_, field="--type") if type_ else "",
            maker=maker,
            model=model,
            drop_off=_drop_off(shop, dropoff),
            made_from=parse_made(made_from, field="--from") if made_from else None,
            made_to=parse_made(made_to, field="--to", last=True) if made_to else None,
        )
        view = raise_alert(shop, new=new, dry_run=session.dry_run)
    _tell(session, view)


def _drop_off(shop: Workshop, typed: str) -> Any:
    from salvage.work.reading import read_code

    return read_code(shop, text=typed, kinds="D", field="--dropoff") if typed else None


@commands.command(
    "lift", example='salvage alert lift 1d861cd0 --reason "bulletin withdrawn"', changes=True
)
def lift(
    context: typer.Context,
    alert: AlertId,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why it no longer counts.")] = "",
) -> None:
    """Let an alert count no longer for boards to come; held ones stay held until looked over."""
    from salvage.work.alerts import lift_alert

    session = session_of(context)
    with session.open() as shop:
        view = lift_alert(shop, alert=alert, reason=reason, dry_run=session.dry_run)
    _tell(session, view)


@commands.command("show", example="salvage alert show 1d861cd0")
def show(context: typer.Context, alert: AlertId) -> None:
    """Show an alert with its boards as they stand now, and the pieces cut from them."""
    from salvage.work.alerts import view_alert

    session = session_of(context)
    with session.open() as shop:
        view = view_alert(shop.conn, alert)
    plain = [column.key for column in _COLUMNS]
    show_record(session, _record(view), lines=_lines(view), plain=plain)


@commands.command("list", example="salvage alert list")
def list_(context: typer.Context) -> None:
    """List all alerts, lifted ones too, the newest first."""
    from salvage.work.alerts import list_alerts

    session = session_of(context)
    with session.open() as shop:
        records = [_record(view) for view in list_alerts(shop)]
    show_list(session, records, _COLUMNS, empty="no alert was ever raised")


def _record(view: AlertView) -> dict[str, Any]:
    from salvage.work.alerts import short_alert

    return record_of(
        view.alert,
        alert=short_alert(view.alert),
        about=_about(view),
        held_count=len(view.held),
        cut_count=len(view.cut),
        boards=[_under_record(under) for under in view.boards],
    )


def _under_record(under: BoardUnder) -> dict[str, Any]:
    return board_record(
        under.board,
        check=record_of(under.check, is_settled=under.check.is_settled),
        pieces=[{"code": code, "where_at": where} for code, where in under.pieces],
    )


_COLUMNS = (
    Column("alert", "alert"),
    Column("hazard", "hazard"),
    Column("about", "about"),
    Column("held", "held_count"),
    Column("cut", "cut_count"),
    Column("reason", "reason"),
    Column("source", "source"),
    Column("lifted", "lifted"),
)


def _about(view: AlertView) -> str:
    """Which boards are meant, in words."""
    alert = view.alert
    days = [alert.made_from, alert.made_to]
    told = [" ".join(filter(None, (alert.maker, alert.model))), alert.type.replace("-", " ")]
    told += [f"of {alert.drop_off}" if alert.drop_off else ""]
    told += [f"date codes {days[0] or 'any'} to {days[1] or 'any'}" if any(days) else ""]
    return ", ".join(filter(None, told))


def _lines(view: AlertView) -> list[str]:
    from salvage.work.alerts import short_alert

    alert = view.alert
    head = f"{short_alert(alert)}  {alert.hazard} on {_about(view)}: {alert.reason}"
    lines = [head, f"  source: {alert.source}; raised by {alert.by}, {alert.at[:10]}"]
    lines += [f"  lifted: {alert.lifted}"] if alert.lifted else []
    held = count_of(len(view.held), "board")
    lines.append(f"  {held} of {len(view.boards)} held until looked over")
    for under in view.boards:
        found = ", ".join(filter(None, (under.check.finding, under.check.outcome)))
        lines.append(f"  {under.board.code}  {under.board.title}: {found}{_came_of(under)}")
    return lines


def _came_of(under: BoardUnder) -> str:
    if not under.board.cut_count:
        return ""
    pieces = "; ".join(f"{code} {where}" for code, where in under.pieces) or "no piece of it"
    return f"; CUT ALREADY, {pieces}"


def _tell(session: Session, view: AlertView) -> None:
    from salvage.work.alerts import short_alert

    held = [under.board.code for under in view.held]
    show_change(
        session,
        _record(view),
        lines=_lines(view),
        codes=[short_alert(view.alert)],
        next_step=f"board clear {held[0]}" if held else "alert list",
    )
    if view.cut and not session.form:
        codes = ", ".join(under.board.code for under in view.cut)
        words = f"cut already: {codes}; to call their pieces back: salvage recall open"
        note(session, paint(session, f"{words} {view.cut[0].board.code} --reason …", "strong"))
