"""``salvage wording``: the words of documents, to read, copy and write oneself."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import Force, Out
from salvage.cli.session import session_of
from salvage.cli.show import Column, show_change, show_list, show_record

commands = CommandSet(
    "wording",
    "The words of documents: copy ours, write your own, in any language.",
    "salvage wording copy receipt --out receipt.toml",
)

Document = Annotated[
    str,
    typer.Argument(
        metavar="DOCUMENT", help="receipt, impact (donor's report), hazards, consignment or year."
    ),
]

_COLUMNS = (
    Column("document", "document"),
    Column("language", "language"),
    Column("own words", "own", lambda own: str(len(own))),
    Column("set", "set_at", lambda at: str(at)[:10]),
    Column("printed so", "printed"),
    Column("version", "sha256", lambda digest: str(digest)[:8]),
)


@commands.command("list", example="salvage wording list")
def list_(context: typer.Context) -> None:
    """List documents with their wording: whose words, in which language, how often printed."""
    from salvage.work.wordings import list_wordings

    session = session_of(context)
    with session.open() as shop:
        records = [asdict(view) for view in list_wordings(shop)]
    if session.form == "plain":
        records = [record | {"own": len(record["own"])} for record in records]
    show_list(session, records, _COLUMNS, empty="")


@commands.command("copy", example="salvage wording copy receipt --out receipt.toml")
def copy(
    context: typer.Context,
    document: Document,
    standard: Annotated[
        bool, typer.Option("--standard", help="Ours, though you have your own.")
    ] = False,
    out: Out = "",
    force: Force = False,
) -> None:
    """Write the wording of a document into a text file, to edit and set."""
    from salvage.cli.files import write_file
    from salvage.work.wordings import copy_wording

    session = session_of(context)
    with session.open() as shop:
        text = copy_wording(shop, document=document, standard=standard)
    name = out or f"{document}.toml"
    path = write_file(session, name, lambda: text.encode("utf-8"), force=force)
    show_record(
        session,
        {"document": document, "file": str(path)},
        lines=[f"{document}  wording written: {path}"],
        plain=("file",),
    )


@commands.command("set", example="salvage wording set receipt receipt.toml", changes=True)
def set_(
    context: typer.Context,
    document: Document,
    file: Annotated[str, typer.Argument(metavar="[FILE]", help="The wording.")] = "",
    standard: Annotated[bool, typer.Option("--standard", help="Ours again.")] = False,
) -> None:
    """
    Put your own words in the place of ours; the record keeps every version.

    Words that you leave out stay ours. The statement of what a paper is not may be put in other
    words, but not left empty.
    """
    from salvage.cli.failures import Misuse
    from salvage.cli.files import naming, read_file
    from salvage.work.wordings import set_wording

    session = session_of(context)
    if bool(file) == standard:
        raise Misuse("give a file, or --standard")
    data = read_file(session, file) if file else b""
    with session.open() as shop, naming(file or "the wording"):
        view = set_wording(shop, document=document, data=data, dry_run=session.dry_run)
    what = count_of(len(view.own), "word") if view.own else "ours again"
    show_change(
        session,
        asdict(view),
        lines=[f"{document}  {what}, language {view.language}, version {view.sha256[:8]}"],
        codes=[document],
        next_step="wording list",
    )
