"""``salvage export``: the record in open forms, for other people's programs."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.files import write_file
from salvage.cli.options import Force, Out
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change
from salvage.errors import Refused

if TYPE_CHECKING:
    from salvage.ids import Code
    from salvage.work.export_line import Export
    from salvage.work.workshop import Workshop

commands = CommandSet(
    "export", "The record in open forms, the ledger, pages for buyers.", "salvage export csv tables"
)

_Thing = Annotated[str, typer.Argument(metavar="[CODE]", help="A piece, board, drop-off or donor.")]
_All = Annotated[bool, typer.Option("--all", help="Everything in the workshop.")]


def _write(
    session: Session,
    code: str,
    everything: bool,
    out: str,
    force: bool,
    make: Callable[[Workshop, Code | None], Export],
) -> None:
    from salvage.work.reading import read_code

    if bool(code) == everything:
        raise Refused("say what to export", hint="one code, or --all for everything")
    made: list[Export] = []
    with session.open() as shop:
        about = read_code(shop, text=code, kinds="PBDG") if code else None

        def data() -> bytes:
            made.append(make(shop, about))
            return made[0].data

        path = write_file(session, out, data, force=force)
    (done,) = made
    record = {"file": str(path), "events": done.events, "left_out": done.left_out}
    verb = "would go to" if session.dry_run else "written:"
    lines = [f"{verb} {path}", f"events told: {done.events}; no name of a donor or worker"]
    if done.left_out:
        lines.append(f"kinds without a word in this form: {len(done.left_out)} (--json lists them)")
    show_change(session, record, lines=lines, codes=[str(path)])


@commands.command("prov", example="salvage export prov PC0001D --out prov.json")
def prov(
    context: typer.Context,
    code: _Thing = "",
    everything: _All = False,
    form: Annotated[str, typer.Option("--form", metavar="FORM", help="json or n.")] = "json",
    out: Out = "",
    force: Force = False,
) -> None:
    """Write where things came from in the words of W3C PROV, as PROV-JSON or PROV-N."""
    from salvage.work.export_prov import export_prov

    name = out or ("prov.provn" if form == "n" else "prov.json")
    _write(
        session_of(context),
        code,
        everything,
        name,
        force,
        lambda shop, about: export_prov(shop, about=about, form=form),
    )


@commands.command("epcis", example="salvage export epcis --all --out epcis.json")
def epcis(
    context: typer.Context,
    code: _Thing = "",
    everything: _All = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """Write what happened as a GS1 EPCIS 2.0 document (JSON-LD)."""
    from salvage.work.export_epcis import export_epcis

    _write(
        session_of(context),
        code,
        everything,
        out or "epcis.json",
        force,
        lambda shop, about: export_epcis(shop, about=about),
    )


@commands.command("csv", example="salvage export csv tables")
def tables(
    context: typer.Context,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Made if it is not there.")],
    with_names: Annotated[
        bool, typer.Option("--with-names", help="Personal fields too; keep the files to yourself.")
    ] = False,
    force: Force = False,
) -> None:
    """Write every table as a CSV file, without personal fields."""
    from functools import partial

    from salvage.cli.files import check_target
    from salvage.work.export_csv import export_csv

    session = session_of(context)
    with session.open() as shop:
        made = export_csv(shop, with_names=with_names)
    target = session.place(folder)
    if target.exists() and not target.is_dir():
        raise Refused(f"{folder} is no folder", hint="name another")
    if not session.dry_run:
        if not target.parent.is_dir():
            raise Refused(f"the folder {target.parent} is not there", hint="make it first")
        target.mkdir(exist_ok=True)
        for name in made:
            check_target(session, str(target / name), force=force)
        for name, data in made.items():
            write_file(session, str(target / name), partial(bytes, data), force=force)
    verb = "would go" if session.dry_run else "written"
    told = "with personal fields: keep it to yourself" if with_names else "no personal fields"
    record = {"folder": str(target), "files": list(made), "with_names": with_names}
    lines = [f"{len(made)} tables {verb} to {target}", told]
    show_change(session, record, lines=lines, codes=[str(target)])
