"""``salvage report``: papers for donors, recyclers and the workshop itself, as PDF."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import Force, Out, completer
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change

commands = CommandSet(
    "report",
    "Papers: what became of a donor's equipment, hazards, a consignment, a year.",
    "salvage report donor DC0005X --out what-became.pdf",
)


def _write(
    session: Session, about: str, name: str, make: Callable[[], bytes], *, force: bool
) -> None:
    from salvage.cli.files import write_file

    path = write_file(session, name, make, force=force)
    told = "would go to" if session.dry_run else "written:"
    show_change(
        session,
        {"about": about, "file": str(path)},
        lines=[f"{about}  report {told} {path}"],
        codes=[str(path)],
    )


@commands.command("donor", example="salvage report donor DC0005X --with-name", changes=True)
def donor(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(
            metavar="CODE", help="A drop-off, or a donor.", autocompletion=completer("DG")
        ),
    ],
    with_name: Annotated[
        bool, typer.Option("--with-name", help="Print the donor's own name; for their copy.")
    ] = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """
    Print what became of a donor's equipment.

    It tells of this donor's drop-offs only: boards with their maps, pieces and where they are,
    masses with the rest, parts that held data.
    """
    from salvage.work.impact import print_impact
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="DG")
        _write(
            session,
            found,
            out or f"report-{found}.pdf",
            lambda: print_impact(shop, subject=found, with_name=with_name, dry_run=session.dry_run),
            force=force,
        )


@commands.command("hazards", example="salvage report hazards --since 2026-01-01", changes=True)
def hazards(
    context: typer.Context,
    since: Annotated[str, typer.Option(metavar="DAY", help="First day.")] = "",
    until: Annotated[str, typer.Option(metavar="DAY", help="Last day; today if left out.")] = "",
    board: Annotated[
        str, typer.Option(metavar="BOARD", help="Only this one.", autocompletion=completer("B"))
    ] = "",
    out: Out = "",
    force: Force = False,
) -> None:
    """Print the hazard log: what was looked for and found, by whom, and what is still open."""
    from salvage.units import parse_date
    from salvage.work.reading import read_code
    from salvage.work.reports import print_hazard_log

    session = session_of(context)
    with session.open() as shop:
        first = parse_date(since, today=shop.today, field="--since") if since else None
        last = parse_date(until, today=shop.today, field="--until") if until else None
        only = read_code(shop, text=board, kinds="B", field="--board") if board else None
        _write(
            session,
            only or "hazard log",
            out or "hazard-log.pdf",
            lambda: print_hazard_log(
                shop, since=first, until=last, board=only, dry_run=session.dry_run
            ),
            force=force,
        )


@commands.command("consignment", example="salvage report consignment CC0001V", changes=True)
def consignment(
    context: typer.Context,
    code: Annotated[
        str,
        typer.Argument(
            metavar="CONSIGNMENT", help="The consignment.", autocompletion=completer("C")
        ),
    ],
    out: Out = "",
    force: Force = False,
) -> None:
    """Print the note that goes with a consignment: items, weights, permit, lines to sign."""
    from salvage.work.reading import read_code
    from salvage.work.reports import print_consignment_note

    session = session_of(context)
    with session.open() as shop:
        found = read_code(shop, text=code, kinds="C")
        _write(
            session,
            found,
            out or f"consignment-{found}.pdf",
            lambda: print_consignment_note(shop, consignment=found, dry_run=session.dry_run),
            force=force,
        )


@commands.command("year", example="salvage report year 2026", changes=True)
def year(
    context: typer.Context,
    which: Annotated[str, typer.Argument(metavar="YEAR", help="Such as 2026.")],
    out: Out = "",
    force: Force = False,
) -> None:
    """Print the report of a year: where the weight went, how many, what left, what waits."""
    from salvage.work.year_mass import parse_year
    from salvage.work.year_report import print_year_report

    session = session_of(context)
    with session.open() as shop:
        found = parse_year(which, today=shop.today, field="YEAR")
        _write(
            session,
            str(found),
            out or f"year-{found}.pdf",
            lambda: print_year_report(shop, year=found, dry_run=session.dry_run),
            force=force,
        )
