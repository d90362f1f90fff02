"""``salvage custody sanitise``: one attempt, with the fields of a certificate."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date as Day
from typing import Annotated, Any

import typer

from salvage.cli.custody import (
    Evidence,
    PartNumber,
    commands,
    evidence_photo,
    medium_lines,
    medium_record,
)
from salvage.cli.options import DropOffCode
from salvage.cli.session import Session, session_of
from salvage.cli.show import note as told_beside
from salvage.cli.show import show_change, warn
from salvage.work.sanitising import NewSanitising

Method = Annotated[str, typer.Option(metavar="METHOD", help="Clear, purge or destroy.")]
TechniqueName = Annotated[
    str, typer.Option(metavar="NAME", help="Such as overwrite, crypto-erase, shred, cut.")
]
Tool = Annotated[str, typer.Option(metavar="TEXT", help="Tool and version.")]
Verify = Annotated[
    str, typer.Option(metavar="HOW", help="Full, sampled, status only or looked at.")
]
VerifiedBy = Annotated[str, typer.Option(metavar="NAME", help="Who verified it.")]
Title = Annotated[str, typer.Option(metavar="TEXT", help="Their position.")]
Contact = Annotated[
    str, typer.Option(metavar="TEXT", help="To reach them; the workshop's if left out.")
]
Place = Annotated[str, typer.Option(metavar="TEXT", help="Where it was done.")]
Die = Annotated[
    str, typer.Option(metavar="STATE", help="The memory die: destroyed, intact, cannot tell …")
]
Standard = Annotated[
    str, typer.Option(metavar="TEXT", help="What it follows, such as 'IEEE 2883'.")
]
DoneBy = Annotated[str, typer.Option(metavar="NAME", help="Who did it; you.")]
DoneOn = Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")]
VerifiedOn = Annotated[str, typer.Option(metavar="DAY", help="The same day.")]
Decision = Annotated[str, typer.Option(metavar="WORD", help="Accept, repeat or escalate.")]
Destination = Annotated[str, typer.Option(metavar="TEXT", help="Where it goes next.")]
Remark = Annotated[str, typer.Option(metavar="TEXT", help="Anything else.")]


@commands.command(
    "sanitise",
    example="salvage custody sanitise DC0005X 1 --method purge --technique crypto-erase"
    ' --tool "wiping disc 2.1" --verify sampled --verified-by Ilva --title "bench lead"'
    " --place workshop",
    changes=True,
)
def sanitise(
    context: typer.Context,
    code: DropOffCode,
    n: PartNumber,
    method: Method,
    technique: TechniqueName,
    tool: Tool = "",
    verify: Verify = "",
    verified_by: VerifiedBy = "",
    title: Title = "",
    contact: Contact = "",
    place: Place = "",
    die: Die = "not checked",
    standard: Standard = "",
    done_by: DoneBy = "",
    date: DoneOn = "",
    verified_on: VerifiedOn = "",
    result: Decision = "accept",
    destination: Destination = "",
    note: Remark = "",
    photo: Evidence = "",
) -> None:
    """Record that a medium's data was made unreadable, and who verified it."""
    from salvage.knowledge.sanitising import DIE_RULE, find_technique
    from salvage.work.reading import read_code
    from salvage.work.sanitising import sanitise_medium

    session = session_of(context)
    with session.open() as shop:
        new = _parse(session, context.params, today=shop.today)
        drop_off = read_code(shop, text=code, kinds="D")
        view = sanitise_medium(shop, drop_off=drop_off, n=n, new=new, dry_run=session.dry_run)
    show_change(
        session,
        medium_record(view),
        lines=medium_lines(view),
        codes=[view.number],
        next_step=f"custody certificate {drop_off}",
    )
    if new.method == "destroy" and not session.form:
        way = find_technique(technique)
        warn(session, f"{DIE_RULE} {way.caution}".strip())
        told_beside(session, f"source: {way.source}")


def _parse(session: Session, typed: Mapping[str, Any], *, today: Day) -> NewSanitising:
    """The attempt as typed; the parser's own values are Any, all of them text."""
    from salvage.cli.gather import Gatherer
    from salvage.knowledge.sanitising import find_technique
    from salvage.records.choices import parse_choice
    from salvage.records.custody import DIE_STATES, METHODS, VALIDATIONS, VERIFICATIONS
    from salvage.units import parse_date

    gather = Gatherer()

    def choice(name: str, choices: tuple[str, ...]) -> str:
        return gather.take(lambda: parse_choice(typed[name], choices, field=f"--{name}"), "")

    def day(name: str, field: str) -> Day | None:
        text = typed[name]
        return gather.take(lambda: parse_date(text, today=today, field=field), None)

    technique = gather.take(
        lambda: find_technique(typed["technique"], field="--technique").slug, ""
    )
    new = NewSanitising(
        method=choice("method", METHODS),
        technique=technique,
        tool=typed["tool"],
        verification=choice("verify", VERIFICATIONS),
        verified_by=typed["verified_by"],
        verified_title=typed["title"],
        place=typed["place"],
        standard=typed["standard"],
        die=choice("die", DIE_STATES),
        done_by=typed["done_by"],
        done_on=day("date", "--date") if typed["date"] else None,
        verified_on=day("verified_on", "--verified-on") if typed["verified_on"] else None,
        contact=typed["contact"],
        validation=choice("result", VALIDATIONS),
        destination=typed["destination"],
        note=typed["note"],
        photo=evidence_photo(session, typed["photo"]),
    )
    gather.finish()
    return new
