"""``salvage custody sanitise``: one attempt, with the fields of a certificate."""

from __future__ import annotations

from datetime import date as Day
from typing import Annotated

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
from salvage.cli.session import session_of
from salvage.cli.show import show_change, warn


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
    method: Annotated[str, typer.Option(metavar="METHOD", help="Clear, purge or destroy.")],
    technique: Annotated[
        str, typer.Option(metavar="NAME", help="Such as overwrite, crypto-erase, shred, cut.")
    ],
    tool: Annotated[str, typer.Option(metavar="TEXT", help="Tool and version.")] = "",
    verify: Annotated[
        str, typer.Option(metavar="HOW", help="Full, sampled, status only or looked at.")
    ] = "",
    verified_by: Annotated[str, typer.Option(metavar="NAME", help="Who verified it.")] = "",
    title: Annotated[str, typer.Option(metavar="TEXT", help="Their position.")] = "",
    contact: Annotated[
        str, typer.Option(metavar="TEXT", help="To reach them; the workshop's if left out.")
    ] = "",
    place: Annotated[str, typer.Option(metavar="TEXT", help="Where it was done.")] = "",
    die: Annotated[
        str,
        typer.Option(metavar="STATE", help="The memory die: destroyed, intact, cannot tell …"),
    ] = "",
    standard: Annotated[
        str, typer.Option(metavar="TEXT", help="What it follows, such as 'IEEE 2883'.")
    ] = "",
    done_by: Annotated[str, typer.Option(metavar="NAME", help="Who did it; you.")] = "",
    date: Annotated[str, typer.Option(metavar="DAY", help="Day; today if left out.")] = "",
    verified_on: Annotated[str, typer.Option(metavar="DAY", help="The same day.")] = "",
    result: Annotated[
        str, typer.Option(metavar="DECISION", help="Accept, repeat or escalate.")
    ] = "accept",
    destination: Annotated[str, typer.Option(metavar="TEXT", help="Where it goes next.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything else.")] = "",
    photo: Evidence = "",
) -> None:
    """Record that a medium's data was made unreadable, and who verified it."""
    from salvage.cli.gather import Gatherer
    from salvage.knowledge.sanitising import DIE_RULE, find_technique
    from salvage.records.choices import parse_choice
    from salvage.records.custody import DIE_STATES, METHODS, VALIDATIONS, VERIFICATIONS
    from salvage.units import parse_date
    from salvage.work.reading import read_code
    from salvage.work.sanitising import NewSanitising, sanitise_medium

    session, gather = session_of(context), Gatherer()

    def choice(text: str, choices: tuple[str, ...], field: str) -> str:
        return gather.take(lambda: parse_choice(text, choices, field=field), "")

    picture = evidence_photo(session, photo)
    with session.open() as shop:

        def day(text: str, field: str) -> Day | None:
            return gather.take(lambda: parse_date(text, today=shop.today, field=field), None)

        new = NewSanitising(
            method=choice(method, METHODS, "--method"),
            technique=gather.take(lambda: find_technique(technique, field="--technique").slug, ""),
            tool=tool,
            verification=choice(verify, VERIFICATIONS, "--verify"),
            verified_by=verified_by,
            verified_title=title,
            place=place,
            standard=standard,
            die=choice(die or "not checked", DIE_STATES, "--die"),
            done_by=done_by,
            done_on=day(date, "--date") if date else None,
            verified_on=day(verified_on, "--verified-on") if verified_on else None,
            contact=contact,
            validation=choice(result, VALIDATIONS, "--result"),
            destination=destination,
            note=note,
            photo=picture,
        )
        gather.finish()
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
        warn(session, f"{DIE_RULE} {find_technique(technique).caution}".strip())
