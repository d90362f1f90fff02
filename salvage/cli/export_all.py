"""``salvage export all``: the whole record in open forms, and a way back from them."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from salvage.cli.count import count_of
from salvage.cli.export import commands
from salvage.cli.session import session_of
from salvage.cli.show import note, paint, show_change


@commands.command("all", example="salvage export all record-2026")
def export_everything(
    context: typer.Context,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="A new one.")],
    with_names: Annotated[
        bool, typer.Option("--with-names", help="Names too; keep the folder to yourself.")
    ] = False,
) -> None:
    """
    Write journal, tables and photos as JSON, CSV and files, with what each is.

    'salvage restore' makes a workshop of it again, wholly only with --with-names.
    """
    from salvage.work.export_all import export_all

    session = session_of(context)

    def tell(words: str) -> None:
        if session.world.stderr_is_terminal and not session.form:
            note(session, paint(session, f"… {words}", "quiet"))

    with session.open() as shop:
        done = export_all(
            shop,
            folder=session.place(folder),
            with_names=with_names,
            progress=tell,
        )
    counts = (count_of(done.events, "event"), f"{done.tables} tables", count_of(done.files, "file"))
    told = (
        "with names: keep it as you keep the workshop's key"
        if done.with_names
        else "no names of donors and customers; who worked stands in the journal"
    )
    lines = [f"written: {done.folder}", ", ".join(counts), told]
    if done.typed:
        lines.append(f"a donor's words were typed into {count_of(done.typed, 'event')}: look first")
    if done.missing:
        lost = ", ".join(name[:12] for name in done.missing[:5])
        lines.append(f"{count_of(len(done.missing), 'file')} missing in the workshop: {lost}")
    show_change(session, asdict(done), lines=lines, codes=[done.folder])
    if done.missing:
        raise typer.Exit(1)
