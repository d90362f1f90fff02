"""``salvage waste``: containers for what may not lie about, and what left in them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.records import record_of, source_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record, warn
from salvage.units import format_mass

if TYPE_CHECKING:
    from salvage.work.waste import ContainerView

commands = CommandSet(
    "waste",
    "Waste containers: open, fill, close, and when they must leave.",
    "salvage waste open lithium-batteries --place 'metal shelf'",
)

ContainerCode = Annotated[
    str, typer.Argument(metavar="CONTAINER", help="The container.", autocompletion=completer("E"))
]
Day = Annotated[str, typer.Option("--date", metavar="DAY", help="Day; today if left out.")]


def container_record(view: ContainerView) -> dict[str, Any]:
    """A container with what is in it, as JSON."""
    return record_of(
        view.container,
        state=view.state,
        items=[record_of(item) for item in view.items],
        weight_mg=view.weight_mg,
        weight_g=view.weight_mg / 1000,
        unweighed=view.unweighed,
        consignment=view.consignment,
        due_on=view.due_on,
        days_left=view.days_left,
        warning=view.warning,
    )


def _line(view: ContainerView) -> str:
    time = f"; {view.warning}" if view.warning else f"; leaves by {view.due_on}" * bool(view.due_on)
    left = f", with {view.consignment}" if view.consignment else ""
    what = f"{count_of(len(view.items), 'thing')}, {format_mass(view.weight_mg / 1000)}"
    unknown = f" and {view.unweighed} not weighed" if view.unweighed else ""
    return (
        f"{view.container.code}  {view.container.words}: {what}{unknown}, {view.state}{left}{time}"
    )


@commands.command("open", example="salvage waste open lithium-batteries", changes=True)
def open_(
    context: typer.Context,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="See 'salvage waste kinds'.")],
    words: Annotated[str, typer.Option(metavar="TEXT", help="What is written on it.")] = "",
    days: Annotated[
        str, typer.Option(metavar="N", help="How long it may stand; 0 for no limit.")
    ] = "",
    place: Annotated[str, typer.Option(metavar="TEXT", help="Where it stands.")] = "",
    notes: Annotated[str, typer.Option(metavar="TEXT", help="For the workshop.")] = "",
    date: Day = "",
) -> None:
    """
    Open a container for one kind of waste.

    Words and time are those of the rule that the kind names; where you stand other rules may hold.
    """
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date
    from salvage.work.waste import NewContainer, open_container

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        day = gather.take(
            lambda: parse_date(date, today=shop.today, field="--date") if date else None, None
        )
        limit = gather.take(lambda: _parse_days(days), None)
        gather.finish()
        new = NewContainer(kind, words, day, limit, place, notes)
        view = open_container(shop, new=new, dry_run=session.dry_run)
    code = view.container.code
    show_change(
        session,
        container_record(view),
        lines=[
            f"{code}  opened: write on it “{view.container.words}” and {view.container.opened_on}",
            *([f"  must leave by {view.due_on}"] if view.due_on else []),
            f"  rule: {view.container.rule}",
        ],
        codes=[code],
        next_step=f"waste put {code} …",
    )
    _care(session, view)


def _care(session: Session, view: ContainerView) -> None:
    from salvage.knowledge.cautions import closing_line
    from salvage.knowledge.waste_kinds import find_waste_kind

    kind = find_waste_kind(view.container.kind)
    warn(session, f"{kind.care} ({source_words(kind.care_source)})")
    warn(session, closing_line().text)


def _parse_days(text: str) -> int | None:
    from salvage.errors import BadValue

    if not text:
        return None
    if not re.fullmatch("[0-9]{1,9}", text) or int(text) > 3660:
        raise BadValue(f"'{text}' is no number of days", hint="0 to 3660", field="--days")
    return int(text)


@commands.command(
    "put",
    example="salvage waste put EC0001E 'coin cell, taped' --from BC0002J --weight 3g",
    changes=True,
)
def put(
    context: typer.Context,
    container: ContainerCode,
    what: Annotated[str, typer.Argument(metavar="[WHAT]", help="What goes in.")] = "",
    from_: Annotated[
        str,
        typer.Option(
            "--from",
            metavar="CODE",
            help="Board or drop-off it came from.",
            autocompletion=completer("BD"),
        ),
    ] = "",
    hazard: Annotated[str, typer.Option(metavar="NAME", help="Hazard that it was.")] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="Such as 3g.")] = "",
    guess: Annotated[bool, typer.Option("--guess", help="The weight is a guess.")] = False,
    whole: Annotated[
        bool, typer.Option("--whole", help="The board itself goes in, and is retired.")
    ] = False,
    date: Day = "",
) -> None:
    """Put something into a container: parts, offcuts, dust, a whole board."""
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.reading import read_code
    from salvage.work.waste import NewWaste, put_in

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        day = gather.take(
            lambda: parse_date(date, today=shop.today, field="--date") if date else None, None
        )
        grams = gather.take(
            lambda: parse_mass_g(weight, field="--weight") if weight else None, None
        )
        code = read_code(shop, text=container, kinds="E", field="CONTAINER")
        source = read_code(shop, text=from_, kinds="BD", field="--from") if from_ else None
        gather.finish()
        new = NewWaste(what, source, hazard, grams, guess, whole, day)
        view = put_in(shop, container=code, new=new, dry_run=session.dry_run)
    _tell_put(session, view, f"{source}  retired: into waste container {code}" if whole else "")


def _tell_put(session: Session, view: ContainerView, more: str) -> None:
    code, item = view.container.code, view.items[-1]
    weighs = f", {format_mass(item.weight_mg / 1000)}" if item.weight_mg else ", not weighed"
    lines = [f"{code}  in goes {item.what}{weighs}", _line(view)]
    show_change(
        session,
        container_record(view),
        lines=[*lines, more] if more else lines,
        codes=[code],
        next_step=f"waste show {code}",
    )


_COLUMNS = (
    Column("code", "code"),
    Column("kind", "kind"),
    Column("opened", "opened_on"),
    Column("leaves by", "due_on"),
    Column("state", "state"),
    Column("weight", "weight_g", format_mass),
    Column("place", "place"),
    Column("to do", "warning"),
)


@commands.command("list", example="salvage waste list --all")
def list_(
    context: typer.Context,
    all_: Annotated[bool, typer.Option("--all", help="Those that have left too.")] = False,
) -> None:
    """List containers, those whose time is up first."""
    from salvage.work.waste import list_containers

    session = session_of(context)
    with session.open() as shop:
        views = list_containers(shop, all_=all_)
    records = [container_record(view) for view in views]
    show_list(session, records, _COLUMNS, empty="no containers; next: salvage waste kinds")


@commands.command("show", example="salvage waste show EC0001E")
def show(context: typer.Context, container: ContainerCode) -> None:
    """Show a container: what it says, what is in it, when it must leave."""
    from salvage.work.reading import read_code
    from salvage.work.waste import view_container

    session = session_of(context)
    with session.open() as shop:
        code = read_code(shop, text=container, kinds="E", field="CONTAINER")
        view = view_container(shop, code)
    lines = [_line(view), f"  rule: {view.container.rule}"]
    for item in view.items:
        source = f" from {item.source}" if item.source else ""
        guess = "" if item.weighed or not item.weight_mg else " (estimated)"
        weighs = f"{format_mass(item.weight_mg / 1000)}{guess}" if item.weight_mg else "not weighed"
        lines.append(f"  {item.n}  {item.put_on}  {item.what}{source}, {weighs}")
    show_record(
        session,
        container_record(view),
        lines=lines,
        plain=("code", "kind", "opened_on", "due_on", "state", "weight_g"),
    )


@commands.command("close", example="salvage waste close EC0001E", changes=True)
def close(context: typer.Context, container: ContainerCode, date: Day = "") -> None:
    """Close a container, so that nothing more goes in."""
    from salvage.units import parse_date
    from salvage.work.reading import read_code
    from salvage.work.waste import close_container

    session = session_of(context)
    with session.open() as shop:
        code = read_code(shop, text=container, kinds="E", field="CONTAINER")
        day = parse_date(date, today=shop.today, field="--date") if date else None
        view = close_container(shop, container=code, closed_on=day, dry_run=session.dry_run)
    show_change(
        session,
        container_record(view),
        lines=[_line(view)],
        codes=[code],
        next_step=f"consign --receiver … --container {code}",
    )


_KIND_COLUMNS = (
    Column("kind", "kind"),
    Column("what goes in", "name"),
    Column("written on it", "words"),
    Column("days", "limit_days"),
    Column("source", "source"),
)


@commands.command("kinds", example="salvage waste kinds")
def kinds(context: typer.Context) -> None:
    """List kinds of containers: what goes in, what is written on them, how long they may stand."""
    from salvage.knowledge.waste_kinds import waste_kinds

    session = session_of(context)
    records = [
        {
            "kind": kind.slug,
            "name": kind.name,
            "matter": kind.matter,
            "hazards": list(kind.hazards),
            "words": kind.label_words,
            "limit_days": kind.limit_days,
            "source": source_words(kind.source),
            "care": kind.care,
            "care_source": source_words(kind.care_source),
        }
        for kind in waste_kinds()
    ]
    show_list(session, records, _KIND_COLUMNS, empty="")


@commands.command(
    "confirm",
    example="salvage waste confirm CC0001V --paper R-2291 --weight 410g",
    changes=True,
)
def confirm(
    context: typer.Context,
    consignment: Annotated[
        str,
        typer.Argument(
            metavar="CONSIGNMENT", help="The consignment.", autocompletion=completer("C")
        ),
    ],
    paper: Annotated[str, typer.Option(metavar="TEXT", help="Their paper's number.")] = "",
    weight: Annotated[str, typer.Option(metavar="MASS", help="What they weighed.")] = "",
    date: Day = "",
) -> None:
    """Record that the receiver confirmed a consignment."""
    from salvage.cli.consignment import consignment_record
    from salvage.units import parse_date, parse_mass_g
    from salvage.work.consigning import confirm_receipt, confirmed_words
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        code = read_code(shop, text=consignment, kinds="C", field="CONSIGNMENT")
        view = confirm_receipt(
            shop,
            consignment=code,
            confirmation=paper,
            confirmed_on=parse_date(date, today=shop.today, field="--date") if date else None,
            weight_g=parse_mass_g(weight, field="--weight") if weight else None,
            dry_run=session.dry_run,
        )
    show_change(
        session,
        consignment_record(view),
        lines=[f"{code}  {confirmed_words(view)}"],
        codes=[code],
        next_step="mass",
    )
