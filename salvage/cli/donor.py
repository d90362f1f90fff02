"""``salvage donor``: who gave, and how they wish to appear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import completer
    from salvage.work.donors import DonorView
    from salvage.work.forget import Forgotten

commands = CommandSet(
    "donor", "Donors and how they wish to be named.", "salvage donor naming GC0003U anonymous"
)


def donor_record(view: DonorView) -> dict[str, Any]:
    """A donor with the private name and contact, which only the owner sees."""
    return record_of(
        view.donor,
        name=view.name,
        contact=view.contact,
        public=view.public,
        forgotten_at=view.forgotten_at,
    )


_COLUMNS = (
    Column("code", "code"),
    Column("name (private)", "name"),
    Column("kind", "source_kind"),
    Column("wish", "naming"),
    Column("on cards", "public"),
)


@commands.command("list", example="salvage donor list")
def list_(context: typer.Context) -> None:
    """List all donors; names are private to the workshop."""
    from salvage.work.donors import list_donors

    session = session_of(context)
    with session.open() as shop:
        records = [donor_record(view) for view in list_donors(shop)]
    show_list(session, records, _COLUMNS, empty="no donors yet; next: salvage dropoff add")


@commands.command(
    "naming",
    example='salvage donor naming GC0003U described --described-as "a planetarium"'
    ' --how "by letter"',
    changes=True,
)
def naming(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="DONOR", help="The donor.", autocompletion=completer("G"))
    ],
    wish: Annotated[
        str,
        typer.Argument(metavar="WISH", help="How cards may put it: named, described, anonymous."),
    ],
    how: Annotated[str, typer.Option(metavar="TEXT", help="How the wish was given.")] = "",
    described_as: Annotated[
        str, typer.Option(metavar="TEXT", help="Words for the card; the old ones if left out.")
    ] = "",
) -> None:
    """Record how a donor wishes to appear from now on."""
    from salvage.records.choices import NAMINGS, parse_choice
    from salvage.work.donors import set_naming
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        view = set_naming(
            shop,
            donor=read_code(shop, text=code, kinds="G"),
            naming=parse_choice(wish, NAMINGS, field="WISH"),
            naming_how=how,
            described_as=described_as,
            dry_run=session.dry_run,
        )
    show_change(
        session,
        donor_record(view),
        lines=[f"{view.donor.code}  wishes to be {view.donor.naming}; cards say: {view.public}"],
        codes=[view.donor.code],
        next_step=f"trace {view.donor.code}",
    )


@commands.command(
    "forget", example='salvage donor forget GC0003U --reason "asked by letter"', changes=True
)
def forget(
    context: typer.Context,
    code: Annotated[
        str, typer.Argument(metavar="DONOR", help="The donor.", autocompletion=completer("G"))
    ],
    reason: Annotated[
        str, typer.Option(metavar="TEXT", help="Why, without the name: it stays on the record.")
    ] = "",
) -> None:
    """
    Erase a donor's name and contact for good.

    Boards, pieces and cards stay traceable without the name, and the journal still verifies. Other
    devices erase theirs when they merge. Texts that you typed with the name in them are listed.
    """
    from salvage.cli.ask import confirm
    from salvage.work.forget import forget_donor
    from salvage.work.reading import read_code

    session = session_of(context)
    with session.open() as shop:
        donor = read_code(shop, text=code, kinds="G")
        if not session.dry_run:
            confirm(session, f"Erase name and contact of {donor} for good?")
        done = forget_donor(shop, donor=donor, reason=reason, dry_run=session.dry_run)
    show_change(
        session,
        record_of(done),
        lines=_forgotten_lines(done),
        codes=[donor],
        next_step="check",
    )


def _forgotten_lines(done: Forgotten) -> list[str]:
    told = f"{done.donor}  sealed texts erased: {done.erased}; cards say: {done.public}"
    lines = [told if done.erased else f"{done.donor}  nothing was left to erase"]
    if not done.is_flushed:
        lines.append("another window reads the database: close it, and say the same again")
    for mention in done.mentions:
        mend = f"; put it right: {mention.mend}" if mention.mend else "; no longer shown on cards"
        lines.append(f"{mention.code} {mention.field} holds a word of it: “{mention.text}”{mend}")
    if done.mentions:
        lines.append("the journal keeps what was typed there; only what is shown can be put right")
    if done.copies:
        lines.append(f"still in older copies, to be deleted by you: {', '.join(done.copies)}")
    lines.append("copies elsewhere (backups, bundles, receipts) keep it until you delete them")
    return lines
