"""``salvage hazards`` and ``formats``: what the program knows, each with its source."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.hazard_words import hazard_lines
from salvage.cli.records import source_words
from salvage.cli.session import session_of
from salvage.cli.show import Column, paint, say, say_wrapped, show_list, warn
from salvage.knowledge.hazards import Hazard
from salvage.units import format_mm

if TYPE_CHECKING:
    import typer

dangers = CommandSet()
sizes = CommandSet()


@dangers.command("hazards", example="salvage hazards power-supply")
def hazards(
    context: typer.Context,
    board_type: Annotated[
        str,
        typer.Argument(
            metavar="[TYPE]", help="A board type; all hazards if left out.", show_default=False
        ),
    ] = "",
) -> None:
    """List the hazards to look for, with how to spot them, where they go, and the source."""
    from salvage.knowledge.board_types import parse_board_type
    from salvage.knowledge.cautions import closing_line
    from salvage.knowledge.hazards import all_hazards
    from salvage.work.own_facts import own_hazards

    session = session_of(context)
    slug = parse_board_type(board_type, field="TYPE") if board_type else ""
    with session.open_if_there() as shop:
        every = (*all_hazards(), *(own_hazards(shop.conn) if shop else ()))
    found = [hazard for hazard in every if not slug or hazard.concerns(slug)]
    if session.form:
        show_list(session, [_hazard_record(hazard) for hazard in found], _HAZARD_COLUMNS, empty="")
        return
    for hazard in found:
        holds = "holds the board" if hazard.blocks_cutting else "notice"
        say(session, paint(session, f"{hazard.slug}: {hazard.name} ({holds})", "strong"))
        for line in hazard_lines(hazard):
            say_wrapped(session, line, indent=13, always=True)
        say(session)
    warn(session, closing_line().text)


def _hazard_record(hazard: Hazard) -> dict[str, Any]:
    return asdict(hazard) | {
        "source": source_words(hazard.source),
        "practice": source_words(hazard.practice),
        "board_types": list(hazard.board_types),
        "holds": hazard.blocks_cutting,
        "source_is_weak": hazard.weakest_source.is_weak,
        "is_own": hazard.source.is_own,
    }


_HAZARD_COLUMNS = (
    Column("hazard", "slug"),
    Column("holds", "holds"),
    Column("look for", "how_to_spot"),
    Column("goes to", "goes_to"),
    Column("source", "source"),
)


@sizes.command("formats", example="salvage formats --json")
def formats(context: typer.Context) -> None:
    """List sizes of common boards, cards and modules; your own measurement always wins."""
    from salvage.knowledge.form_factors import form_factors

    session = session_of(context)
    forms = form_factors()
    sources = list(dict.fromkeys(source_words(form.source) for form in forms))
    records: list[dict[str, Any]] = [
        asdict(form)
        | {
            "source": source_words(form.source),
            "source_number": sources.index(source_words(form.source)) + 1,
            "holes_source": source_words(form.holes_source) if form.holes_source else None,
            "hole_count": len(form.holes),
            "holes": [asdict(hole) for hole in form.holes],
            "aliases": list(form.aliases),
        }
        for form in forms
    ]
    last = Column("source", "source") if session.form else Column("source", "source_number")
    show_list(session, records, (*_SIZE_COLUMNS, last), empty="")
    if not session.form:
        say(session)
        for number, text in enumerate(sources, 1):
            say_wrapped(session, f"{number}  {text}", indent=3, always=True)


_SIZE_COLUMNS = (
    Column("name", "slug"),
    Column("what", "name"),
    Column("width", "width_mm", format_mm),
    Column("height", "height_mm", format_mm),
    Column("holes", "hole_count", lambda count: str(count or "")),
)
