"""``salvage facts add`` and its kin: rows of the workshop's own, each with its own source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from salvage.cli.facts import commands, source_fields
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, note, paint, show_change, show_list

if TYPE_CHECKING:
    from salvage.work.own_facts import OwnFact

Kind = Annotated[str, typer.Argument(metavar="KIND", help="hazard, limit or material.")]


@commands.command(
    "add",
    example='salvage facts add material alumina name="alumina board" value=3.8 unit=g/cm3'
    ' source="own scales"',
    changes=True,
)
def add(
    context: typer.Context,
    kind: Kind,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Such as thermal-link.")],
    typed: Annotated[
        list[str],
        typer.Argument(metavar="FIELD=VALUE...", help="What is known; source= is needed."),
    ],
) -> None:
    """
    Add a row of your own, or write it anew.

    A hazard has name, where, how_to_spot, how_removed, goes_to, protection and source, and may have
    board_types (with commas) and blocks_cutting=no. A limit has topic, jurisdiction, subject,
    operator, value, unit and source, and may have scope, effective and until. A material has name,
    value, unit and source. Each may have confidence, read_on and note.
    """
    from salvage.cli.failures import Misuse
    from salvage.records.choices import parse_choice
    from salvage.work.own_facts import add_own_facts
    from salvage.work.own_rows import KINDS

    session = session_of(context)
    pairs = [text.partition("=") for text in typed]
    if wrong := [field for field, equals, _ in pairs if not equals]:
        raise Misuse(f"'{wrong[0]}' is no field; write field=value")
    columns = {field: value for field, _, value in pairs}
    chosen = parse_choice(kind, KINDS, field="KIND")
    with session.open(create=True) as shop:
        added = add_own_facts(shop, kind=chosen, rows=[(name, columns)], dry_run=session.dry_run)
    _tell(session, added, "added")


@commands.command("import", example="salvage facts import hazard our-hazards.csv", changes=True)
def import_(
    context: typer.Context,
    kind: Kind,
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="A table with the columns slug and the fields.")
    ],
) -> None:
    """Add the rows of a CSV table, all of them or none; lines that start with # are left out."""
    from pathlib import Path

    from salvage.cli.files import naming, read_file
    from salvage.records.choices import parse_choice
    from salvage.work.own_facts import add_own_facts
    from salvage.work.own_rows import KINDS, read_rows

    session = session_of(context)
    chosen = parse_choice(kind, KINDS, field="KIND")
    with naming(file):
        rows = read_rows(read_file(session, file), name=Path(file).name)
    with session.open(create=True) as shop:
        added = add_own_facts(shop, kind=chosen, rows=rows, dry_run=session.dry_run)
    _tell(session, added, "added")


@commands.command(
    "withdraw",
    example='salvage facts withdraw own-thermal-link --reason "they hold no mercury"',
    changes=True,
)
def withdraw(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The row.")],
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why it no longer counts.")] = "",
) -> None:
    """Let a row of your own count no longer; checks that were recorded stay."""
    from salvage.work.own_facts import withdraw_own_fact

    session = session_of(context)
    with session.open() as shop:
        fact = withdraw_own_fact(shop, slug=name, reason=reason, dry_run=session.dry_run)
    _tell(session, [fact], "withdrawn")


def _tell(session: Session, facts: Sequence[OwnFact], done: str) -> None:
    show_change(
        session,
        [_record(fact) for fact in facts],
        lines=[f"{fact.slug}  {fact.kind} {done}; {fact.source.marked_words}" for fact in facts],
        codes=[fact.slug for fact in facts],
        next_step="facts own",
    )
    holds = [f for f in facts if f.kind == "hazard" and f.columns["blocks_cutting"] == "yes"]
    if done == "added" and holds and not session.form:
        words = "boards recorded from now on expect it; to hold those on the shelf: salvage alert"
        note(session, paint(session, f"{words} raise {holds[0].slug} …", "quiet"))


def _record(fact: OwnFact) -> dict[str, Any]:
    return {
        "kind": fact.kind,
        "slug": fact.slug,
        "fields": fact.columns,
        "withdrawn": fact.withdrawn,
        "by": fact.by,
        "at": fact.at,
        **source_fields(fact.source),
    }


@commands.command("own", example="salvage facts own")
def own(context: typer.Context) -> None:
    """List the rows of the workshop's own, withdrawn ones too."""
    from salvage.work.own_facts import list_own_facts

    session = session_of(context)
    with session.open() as shop:
        records = [_record(fact) for fact in list_own_facts(shop)]
    show_list(session, records, _COLUMNS, empty="the workshop has added no rows of its own")


_COLUMNS = (
    Column("row", "slug"),
    Column("kind", "kind"),
    Column("by", "by"),
    Column("at", "at"),
    Column("withdrawn", "withdrawn"),
    Column("source", "source"),
)
