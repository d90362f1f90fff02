"""``salvage donor``: who gave, and how they wish to appear."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list
from salvage.work.donors import DonorView

commands = CommandSet(
    "donor", "Donors and how they wish to be named.", "salvage donor naming GC0003U anonymous"
)


def donor_record(view: DonorView) -> dict[str, Any]:
    """A donor with the private name and contact, which only the owner sees."""
    return record_of(view.donor, name=view.name, contact=view.contact, public=view.public)


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
