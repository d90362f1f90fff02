"""``salvage export dossier``: pages to put on any web host, where a card's code may lead."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.export import commands
from salvage.cli.files import write_file
from salvage.cli.session import Session, session_of
from salvage.cli.show import show_change
from salvage.errors import BadFile, Refused
from salvage.ids import Code

if TYPE_CHECKING:
    from salvage.work.dossier import Dossiers

_LIST = "dossiers.json"
_FORM = "salvage dossiers 1"
_PAGE = "index.html"


@commands.command("dossier", example="salvage export dossier site", changes=True)
def dossier(
    context: typer.Context,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Made if it is not there.")],
    codes: Annotated[
        list[str] | None,
        typer.Argument(metavar="[PIECE]...", help="Those with a printed card if left out."),
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Pieces without a card too.")] = False,
    with_workers: Annotated[
        bool,
        typer.Option("--with-workers", help="Whoever works here agreed to be named on the pages."),
    ] = False,
) -> None:
    """
    Write a page for each piece, whole in one file, and an index.

    Each page lies in a folder named by its code, so that a card's code leads to it once FOLDER is
    at the workshop's web address. Done again, only what has changed is written anew; a name that
    may not be told any more is gone then.
    """
    from salvage.work.dossier import write_dossiers
    from salvage.work.reading import read_code

    session = session_of(context)
    target = session.place(folder)
    known = _read_list(target, folder)
    with session.open() as shop:
        made = write_dossiers(
            shop,
            pieces=[read_code(shop, text=code, kinds="P") for code in codes or ()],
            every=every,
            known=known,
            with_workers=with_workers,
            dry_run=session.dry_run,
        )
    if not session.dry_run:
        _write_folder(session, target, made)
    show_change(
        session,
        _record(made, target) | {"with_workers": with_workers},
        lines=_tell(made, known, target, would="would be " if session.dry_run else ""),
        codes=[str(target)],
    )


def _record(made: Dossiers, target: Path) -> dict[str, object]:
    return {
        "folder": str(target),
        "written": list(made.written),
        "kept": list(made.kept),
        "gone": list(made.gone),
        "address": made.address,
        "sealed": made.sealed,
    }


def _tell(made: Dossiers, known: Mapping[Code, str], target: Path, *, would: str) -> Iterator[str]:
    for code in made.written:
        yield f"{code}  {would}written{' anew' if code in known else ''}"
    for code in made.gone:
        yield f"{code}  {would}taken away: the record does not hold it"
    yield f"{len(made.written)} pages {would}written, {len(made.kept)} kept, in {target}"
    if made.address:
        yield f"cards lead to {made.address}CODE: put the folder there, in capitals too"
    if made.sealed:
        yield (
            f"{made.sealed} proofs have no entry to read, since each names who worked:"
            " if all agree, add --with-workers"
        )


def _write_folder(session: Session, target: Path, made: Dossiers) -> None:
    """Pages first and the list last, so that a run that breaks off is begun again."""
    _write_all(session, target, {f"{code}/{_PAGE}": data for code, data in made.written.items()})
    for code in made.gone:
        (target / code / _PAGE).unlink(missing_ok=True)
    listed = json.dumps({"form": _FORM, "pages": dict(made.keys)}, indent=1) + "\n"
    _write_all(session, target, {_PAGE: made.index, _LIST: listed.encode()})


def _read_list(target: Path, typed: str) -> Mapping[Code, str]:
    """The pages that an earlier run wrote into a folder."""
    if target.exists() and not target.is_dir():
        raise Refused(f"{typed} is no folder", hint="name another")
    if not target.exists():
        if not target.parent.is_dir():
            raise Refused(f"the folder {target.parent} is not there", hint="make it first")
        return {}
    path = target / _LIST
    if not path.is_file():
        if any(target.iterdir()):
            hint = "name a new folder, or one that this command made"
            raise Refused(f"{typed} holds other files", hint=hint)
        return {}
    try:
        value = json.loads(path.read_text("utf-8"))
        pages = {Code(str(code)): str(key) for code, key in value["pages"].items()}
    except (ValueError, LookupError, AttributeError, TypeError, RecursionError) as error:
        raise BadFile(
            f"{path} is damaged", hint="delete it and the pages, and begin anew"
        ) from error
    from salvage.ids import parse_code

    return {parse_code(code, kind="P"): key for code, key in pages.items()}


def _write_all(session: Session, target: Path, files: Mapping[str, bytes]) -> None:
    for name, data in files.items():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_file(session, str(path), partial(bytes, data), force=True)
