"""``salvage outing``: fairs and market days, planned, packed and seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import completer
from salvage.cli.outing_view import outing_lines, outing_record
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, show_change, show_list, show_record

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.outings import OutingView
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "outing",
    "Fairs and market days: pack, sell, count, come home.",
    'salvage outing plan "Lantern Fair" 2026-11-28 --fee 35',
)

OutingName: TypeAlias = Annotated[
    str,
    typer.Argument(
        metavar="[OUTING]",
        help="Code or name; the one that is meant if left out.",
        autocompletion=completer("U"),
    ),
]
OutingOption: TypeAlias = Annotated[
    str,
    typer.Option("--outing", metavar="OUTING", help="Code or name; the open one if left out."),
]
Pieces: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[PIECE]...",
        help="Codes; left out, they are read line by line from a scanner.",
        show_default=False,
        autocompletion=completer("P"),
    ),
]
_Place: TypeAlias = Annotated[str, typer.Option(metavar="TEXT", help="Where it is.")]
_Fee: TypeAlias = Annotated[str, typer.Option("--fee", metavar="AMOUNT", help="Stall fee.")]
_Notes: TypeAlias = Annotated[str, typer.Option(metavar="TEXT", help="For the workshop only.")]


def tell_outing(session: Session, view: OutingView, line: str, next_step: str) -> None:
    """
    Tell what a change did to an outing.

    Args:
        session: The run.
        view: The outing then.
        line: As people read it.
        next_step: Words after ``salvage``.
    """
    show_change(
        session,
        outing_record(view),
        lines=[line],
        codes=[view.outing.code],
        next_step=next_step,
    )


@commands.command(
    "plan", example='salvage outing plan "Lantern Fair" 2026-11-28 --fee 35', changes=True
)
def plan(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="What it is called.")],
    day: Annotated[str, typer.Argument(metavar="DAY", help="Its first day.")],
    until: Annotated[str, typer.Option(metavar="DAY", help="Its last day.")] = "",
    place: _Place = "",
    fee: _Fee = "",
    notes: _Notes = "",
) -> None:
    """Plan an outing."""
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_money
    from salvage.work.outings import NewOuting, plan_outing
    from salvage.work.plans import parse_day

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        currency, today = shop.settings.currency, shop.today
        begins = gather.take(lambda: parse_day(day, field="DAY"), today)
        ends = gather.take(lambda: parse_day(until, field="--until") if until else None, None)
        minor = gather.take(lambda: parse_money(fee or "0", currency=currency, field="--fee"), 0)
        gather.finish()
        new = NewOuting(name, begins, place, ends, minor, notes)
        view = plan_outing(shop, new=new, dry_run=session.dry_run)
    code = view.outing.code
    tell_outing(session, view, f"{code}  {view.outing.name} is planned", f"outing pack {code} …")


@commands.command("list", example="salvage outing list")
def list_(context: typer.Context) -> None:
    """List all outings, the latest first."""
    from salvage.work.outings import list_outings

    session = session_of(context)
    with session.open() as shop:
        records = [outing_record(view, pieces=False) for view in list_outings(shop)]
    columns = (
        Column("outing", "code"),
        Column("name", "name"),
        Column("from", "begins_on"),
        Column("state", "state"),
        Column("slips", "slips"),
        Column("taken", "taken"),
        Column("pieces", "counts", lambda counts: _say_counts(counts)),
    )
    show_list(session, records, columns, empty="no outing yet; next: salvage outing plan")


def _say_counts(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {state}" for state, count in counts.items() if count)


@commands.command("show", example="salvage outing show UC0004K")
def show(context: typer.Context, outing: OutingName = "") -> None:
    """Show an outing with its packing list, what was sold, and what should be in the box."""
    from salvage.work.outings import find_outing, view_outing

    session = session_of(context)
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="planned")
        view = view_outing(shop, outing=code)
    plain = ["code", "name", "begins_on", "state", "slips", "taken", "should_be_minor"]
    show_record(session, outing_record(view), lines=outing_lines(view), plain=plain)


@commands.command(
    "correct",
    example='salvage outing correct UC0004K --fee 40 --reason "the fee was raised"',
    changes=True,
)
def correct(
    context: typer.Context,
    outing: OutingName = "",
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Its name.")] = None,
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it is.")] = None,
    day: Annotated[str, typer.Option(metavar="DAY", help="Its first day.")] = "",
    until: Annotated[str, typer.Option(metavar="DAY", help="Its last day.")] = "",
    fee: _Fee = "",
    notes: Annotated[str | None, typer.Option(metavar="TEXT", help="For the workshop.")] = None,
    why: Annotated[str, typer.Option("--reason", metavar="TEXT", help="What was wrong.")] = "",
) -> None:
    """Mend what was typed wrong about an outing; old and new stay on record."""
    from salvage.cli.gather import Gatherer
    from salvage.units import parse_money
    from salvage.work.outings import OutingCorrection, correct_outing, find_outing
    from salvage.work.plans import parse_day

    session, gather = session_of(context), Gatherer()
    with session.open() as shop:
        code, currency = find_outing(shop, typed=outing, state="planned"), shop.settings.currency
        new = OutingCorrection(
            name=name,
            place=place,
            notes=notes,
            begins_on=gather.take(lambda: parse_day(day, field="--day") if day else None, None),
            ends_on=gather.take(lambda: parse_day(until, field="--until") if until else None, None),
            stall_fee_minor=gather.take(
                lambda: parse_money(fee, currency=currency, field="--fee") if fee else None, None
            ),
        )
        gather.finish()
        view = correct_outing(shop, outing=code, new=new, why=why, dry_run=session.dry_run)
    tell_outing(session, view, f"{code}  corrected", f"outing show {code}")


def read_pieces(
    session: Session, shop: Workshop, typed: list[str] | None, outing: Code
) -> list[Code]:
    """
    Pieces as typed, or read line by line from standard input; keys of the packing list count.

    Args:
        session: The run.
        shop: The open workshop.
        typed: Words of the command line.
        outing: Whose keys count.
    """
    from salvage.work.till_words import find_piece

    words = typed or [word for line in session.world.stdin for word in line.split()]
    return [find_piece(shop, text=word, outing=outing) for word in words]


@commands.command("pack", example="salvage outing pack UC0004K PC0001D PC0002B", changes=True)
def pack(
    context: typer.Context,
    outing: OutingName = "",
    pieces: Pieces = None,
    ready: Annotated[
        bool, typer.Option("--ready", help="All pieces that are ready, priced and not packed.")
    ] = False,
) -> None:
    """
    Pack pieces, by code or by scanning them one after the other.

    Each is given two letters that stand for it at this outing, so that it can be sold there with
    two keys.
    """
    from salvage.work.outings import find_outing
    from salvage.work.packing import pack, ready_pieces

    session = session_of(context)
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="planned")
        chosen = list(ready_pieces(shop)) if ready else []
        if pieces or not ready:
            chosen += read_pieces(session, shop, pieces, code)
        view = pack(shop, outing=code, pieces=chosen, dry_run=session.dry_run)
    count = count_of(len(view.in_state("packed")), "piece")
    tell_outing(session, view, f"{code}  {count} packed", f"outing show {code}")


@commands.command("unpack", example="salvage outing unpack UC0004K PC0001D", changes=True)
def unpack(
    context: typer.Context,
    outing: OutingName = "",
    pieces: Pieces = None,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Take pieces out of the box again."""
    from salvage.work.outings import find_outing
    from salvage.work.packing import unpack

    session = session_of(context)
    with session.open() as shop:
        code = find_outing(shop, typed=outing, state="planned")
        chosen = read_pieces(session, shop, pieces, code)
        view = unpack(shop, outing=code, pieces=chosen, reason=reason, dry_run=session.dry_run)
    count = count_of(len(view.in_state("packed")), "piece")
    tell_outing(session, view, f"{code}  {count} packed", f"outing show {code}")
