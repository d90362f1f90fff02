"""``salvage backup`` and ``restore``: the workshop on another disk, and back again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.options import Force
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, paint, show_change, show_record

if TYPE_CHECKING:
    import sqlite3

    from salvage.work.workshop import Workshop

copying = CommandSet()
restoring = CommandSet()

_MOST_KEPT = 1000

_Target: TypeAlias = Annotated[
    str,
    typer.Argument(
        metavar="[FOLDER]",
        help="Where the copy goes; or FILE.db, a database. Else the setting backup-folder.",
        show_default=False,
    ),
]


def _progress(session: Session) -> Callable[[str], None]:
    """Says each step where somebody watches."""

    def tell(words: str) -> None:
        if session.world.stderr_is_terminal and not session.form:
            note(session, paint(session, f"… {words}", "quiet"))

    return tell


@copying.command("backup", example="salvage backup /media/stick/workshop", changes=True)
def backup(
    context: typer.Context,
    target: _Target = "",
    keep: Annotated[
        int, typer.Option(min=0, max=_MOST_KEPT, help="Older databases kept beside the newest.")
    ] = 5,
    force: Force = False,
) -> None:
    """
    Copy the whole workshop while it is in use; only what is new is written.

    The database, its journal and each new photo are checked before the copy gets its name. A
    target that ends in .db takes the database alone, without photos. Keep the copy on another
    disk; it holds donors' names.
    """
    from salvage.work.copies import back_up

    session = session_of(context)
    if Path(target).suffix.lower() == ".db":
        _copy_alone(session, target, force=force)
        return
    with session.open() as shop:
        folder = _folder(session, target or shop.settings.backup_folder)
        head = back_up(
            shop,
            folder=folder,
            keep=keep,
            dry_run=session.dry_run,
            progress=_progress(session),
        )
    counts = f"{count_of(head.events, 'event')}, {count_of(head.files, 'file')}; checked"
    lines = [f"copy {_would(session)} {folder}", *([] if session.dry_run else [counts])]
    if head.missing:
        lost = ", ".join(name[:12] for name in head.missing[:5])
        lines.append(f"{count_of(len(head.missing), 'file')} missing in the workshop: {lost}")
    record = {
        "folder": str(folder),
        "made_at": head.made_at,
        "events": head.events,
        "heads": list(head.heads),
        "files": head.files,
        "missing": list(head.missing),
    }
    show_change(session, record, lines=lines, codes=[str(folder)])
    if head.missing:
        raise typer.Exit(1)


def _folder(session: Session, name: str) -> Path:
    """Where the copy goes; Misuse where nobody said."""
    from salvage.cli.failures import Misuse

    if not name:
        raise Misuse("name a FOLDER, or keep one: salvage setup backup-folder=FOLDER")
    return session.place(name)


def _would(session: Session) -> str:
    return "would go to" if session.dry_run else "written:"


def _copy_alone(session: Session, name: str, *, force: bool) -> None:
    """The database alone, in one file."""
    from salvage.cli.files import check_target
    from salvage.errors import Refused
    from salvage.store.backup import copy_database

    target = check_target(session, name, force=force)
    with session.open() as shop:
        if target.resolve() == shop.path.resolve():
            raise Refused(f"{name} is the database itself", hint="name another file")
        if not session.dry_run:
            copy_database(shop.conn, target)
        files = shop.files.folder
    record = {"file": str(target), "files_folder": str(files)}
    show_record(session, record, lines=[f"copy {_would(session)} {target}"], plain=("file",))
    note(session, f"copy the photos and shapes as well: {files}")


@restoring.command("restore", example="salvage restore /media/stick/workshop --shop ~/workshop")
def restore(
    context: typer.Context,
    source: Annotated[
        str, typer.Argument(metavar="FOLDER", help="Made by 'backup' or 'export all'.")
    ],
    older: Annotated[
        str, typer.Option(metavar="STAMP", help="An older copy, by its date such as 20260504.")
    ] = "",
    incomplete: Annotated[
        bool, typer.Option("--incomplete", help="Go on where photos or names are missing in it.")
    ] = False,
) -> None:
    """
    Begin the workshop's folder from a copy; it is checked whole before it is put there.

    FOLDER is a copy of 'backup', or what 'export all' wrote. Nothing is restored over a workshop:
    name a new folder with --shop. Who was forgotten since an older copy is forgotten again. Where
    the old computer still works, go on with one of the two only.
    """
    from salvage.work.copies import restore as restore_copy
    from salvage.work.import_all import holds_export
    from salvage.work.workshop import open_workshop

    session = session_of(context)
    folder, world = session.place(source), session.world
    if holds_export(folder):
        _restore_export(session, folder, older=older, incomplete=incomplete)
        return

    def open_shop(folder: Path) -> Workshop:
        return open_workshop(
            folder, clock=world.clock, entropy=world.entropy, by=session.by, create=False
        )

    done = restore_copy(
        folder,
        target=session.folder,
        open_shop=open_shop,
        stamp=older,
        incomplete=incomplete,
        progress=_progress(session),
    )
    lines = [
        f"restored into {done.folder}, as of {done.made_at[:16].replace('T', ' ')} UTC",
        f"{count_of(done.events, 'event')}, {count_of(done.files, 'file')}; every check passed",
    ]
    if done.missing:
        lines.append(f"{count_of(len(done.missing), 'file')} missing in the copy")
    lines += [f"{donor} is forgotten again" for donor in done.forgotten]
    show_record(session, asdict(done), lines=lines, plain=("folder", "events", "files"))


def _restore_export(session: Session, source: Path, *, older: str, incomplete: bool) -> None:
    """Begin the workshop's folder from what ``export all`` wrote."""
    from salvage.errors import Refused
    from salvage.work.import_all import begin_from_export
    from salvage.work.workshop import Workshop

    if older:
        raise Refused("an export is one moment; --older chooses among copies of 'backup'")
    world, by = session.world, session.by

    def open_shop(folder: Path, conn: sqlite3.Connection) -> Workshop:
        return Workshop(folder, conn, clock=world.clock, entropy=world.entropy, by=by)

    done = begin_from_export(
        source,
        target=session.folder,
        open_shop=open_shop,
        incomplete=incomplete,
        progress=_progress(session),
    )
    lines = [
        f"restored into {done.folder}, as of {done.made_at[:16].replace('T', ' ')} UTC",
        f"{count_of(done.events, 'event')}, {count_of(done.files, 'file')}; every table as it was",
    ]
    if done.missing:
        lines.append(f"{count_of(len(done.missing), 'file')} missing in the export")
    show_record(session, asdict(done), lines=lines, plain=("folder", "events", "files"))
