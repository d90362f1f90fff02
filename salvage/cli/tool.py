"""``salvage tool``: bits, filters and masks, and when they are to be changed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, warn

if TYPE_CHECKING:
    from salvage.work.tools import ToolView

commands = CommandSet(
    "tool",
    "Bits, filters and masks: how far they have gone, by their makers' limits.",
    'salvage tool add "2 mm spiral" --kind bit --diameter 2 --metres 200 --limit-from sheet',
)

ToolName = Annotated[str, typer.Argument(metavar="NAME", help="The tool.")]


def tool_record(view: ToolView) -> dict[str, Any]:
    """A tool with its life, as JSON."""
    limit = view.tool.limit_minutes
    return record_of(
        view.tool,
        cut_um=view.cut_um,
        cut_m=view.cut_um / 1e6,
        limit_m=view.tool.limit_um / 1e6 if view.tool.limit_um else None,
        minutes=view.minutes,
        hours=round(view.minutes / 60, 2),
        limit_hours=limit / 60 if limit else None,
        cuts=view.cuts,
        share=None if view.share is None else round(view.share, 3),
        warning=view.warning,
    )


def _line(view: ToolView) -> str:
    tool, told = view.tool, []
    if view.cut_um or tool.limit_um:
        limit = f" of {tool.limit_um / 1e6:g}" if tool.limit_um else ""
        told.append(f"{view.cut_um / 1e6:.1f}{limit} m cut")
    if view.minutes or tool.limit_minutes:
        limit = f" of {tool.limit_minutes / 60:g}" if tool.limit_minutes else ""
        told.append(f"{view.minutes / 60:.1f}{limit} h")
    state = f", retired: {tool.retired}" if tool.retired else ""
    life = ", ".join(told) or "no life counted yet"
    return f"{tool.name}  {tool.kind}, {life} since {tool.fresh_on}{state}"


def _tell(session: Session, views: list[ToolView], *, next_step: str = "") -> None:
    records = [tool_record(view) for view in views]
    show_change(
        session,
        records[0] if len(records) == 1 else records,
        lines=[_line(view) for view in views],
        codes=[view.tool.name for view in views],
        next_step=next_step,
    )
    for view in views:
        if view.warning:
            warn(session, view.warning)


@commands.command(
    "add",
    example='salvage tool add "2 mm spiral" --kind bit --diameter 2 --metres 200'
    ' --limit-from "maker\'s sheet"',
    changes=True,
)
def add(
    context: typer.Context,
    name: ToolName,
    kind: Annotated[str, typer.Option(metavar="KIND", help="bit, blade, filter or mask.")] = "bit",
    diameter: Annotated[str, typer.Option(metavar="MM", help="Of a bit.")] = "",
    metres: Annotated[str, typer.Option(metavar="N", help="Metres it may cut.")] = "",
    hours: Annotated[str, typer.Option(metavar="N", help="Hours it may run.")] = "",
    limit_from: Annotated[
        str, typer.Option(metavar="TEXT", help="Where the limit stands: its maker's sheet.")
    ] = "",
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the workshop.")] = "",
) -> None:
    """
    Take a tool on, or tell its limits anew.

    Give the limits of the tool's own maker; we know none.
    """
    from salvage.cli.gather import Gatherer
    from salvage.records.choices import parse_choice
    from salvage.records.tool import TOOL_KINDS
    from salvage.units import parse_length_mm
    from salvage.work.tools import NewTool, describe_tool

    session, gather = session_of(context), Gatherer()
    chosen = gather.take(lambda: parse_choice(kind, TOOL_KINDS, field="--kind"), "bit")
    width = gather.take(
        lambda: parse_length_mm(diameter, field="--diameter", most_mm=50) if diameter else None,
        None,
    )
    metre_limit = gather.take(lambda: _number(metres, "--metres"), None)
    hour_limit = gather.take(lambda: _number(hours, "--hours"), None)
    gather.finish()
    new = NewTool(name, chosen, width, metre_limit, hour_limit, limit_from, notes)
    with session.open(create=True) as shop:
        view = describe_tool(shop, new=new, dry_run=session.dry_run)
    step = f"setup bit={view.tool.name!r}" if chosen == "bit" else "tool list"
    _tell(session, [view], next_step=step)


def _number(text: str, field: str) -> float | None:
    from salvage.errors import BadValue

    tidy = text.strip().replace(",", ".")
    if not tidy:
        return None
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,2})?", tidy) or not 0.05 <= float(tidy) <= 100_000:
        raise BadValue(f"'{text}' is no limit", hint="a number above 0", field=field)
    return float(tidy)


_COLUMNS = (
    Column("name", "name"),
    Column("kind", "kind"),
    Column("cut m", "cut_m", lambda m: f"{m:.1f}"),
    Column("of", "limit_m", lambda m: f"{m:g}"),
    Column("hours", "hours", lambda h: f"{h:.1f}"),
    Column("of h", "limit_hours", lambda h: f"{h:g}"),
    Column("since", "fresh_on"),
    Column("to do", "warning"),
)


@commands.command("list", example="salvage tool list")
def list_(
    context: typer.Context,
    all_: Annotated[bool, typer.Option("--all", help="Those that are retired too.")] = False,
) -> None:
    """List tools with their life, those furthest gone first."""
    from salvage.work.tools import list_tools

    session = session_of(context)
    with session.open() as shop:
        records = [tool_record(view) for view in list_tools(shop, all_=all_)]
    show_list(session, records, _COLUMNS, empty="no tools; next: salvage tool add")


@commands.command("ran", example="salvage tool ran 90min", changes=True)
def ran(
    context: typer.Context,
    time: Annotated[str, typer.Argument(metavar="TIME", help="Such as 90min or 1.5h.")],
    names: Annotated[
        list[str] | None,
        typer.Argument(metavar="[NAME]...", help="Which; all filters and masks if left out."),
    ] = None,
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
) -> None:
    """Log for how long filters and masks ran or were worn."""
    from salvage.units import parse_date
    from salvage.work.tools import log_hours

    session = session_of(context)
    minutes = _minutes(time)
    with session.open() as shop:
        day = parse_date(date, today=shop.today, field="--date") if date else None
        views = log_hours(
            shop, minutes=minutes, names=names or (), ran_on=day, dry_run=session.dry_run
        )
    _tell(session, list(views), next_step="tool list")


def _minutes(text: str) -> int:
    from salvage.errors import BadValue

    match = re.fullmatch(r"([0-9]{1,4}(?:[.,][0-9]{1,2})?)\s*(min|h)", text.strip().lower())
    if not match:
        raise BadValue(f"'{text}' is no time", hint="write 90min or 1.5h", field="TIME")
    factor = 60 if match[2] == "h" else 1
    return round(float(match[1].replace(",", ".")) * factor)


@commands.command("change", example='salvage tool change "2 mm spiral"', changes=True)
def change(
    context: typer.Context,
    name: ToolName,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why, if not worn.")] = "",
) -> None:
    """Record that a fresh one was put in; its life counts from nothing again."""
    from salvage.work.tools import change_tool

    session = session_of(context)
    with session.open() as shop:
        view = change_tool(shop, name=name, reason=reason, dry_run=session.dry_run)
    _tell(session, [view], next_step="tool list")


@commands.command(
    "retire", example='salvage tool retire "2 mm spiral" --reason broke', changes=True
)
def retire(
    context: typer.Context,
    name: ToolName,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Record that a tool is used no more."""
    from salvage.work.tools import retire_tool

    session = session_of(context)
    with session.open() as shop:
        view = retire_tool(shop, name=name, reason=reason, dry_run=session.dry_run)
    _tell(session, [view], next_step="tool list")
