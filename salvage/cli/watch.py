"""``salvage watch`` and ``inbox``: photos that the phone drops, and those that wait."""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import completer
from salvage.cli.records import record_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import (
    Column,
    clean,
    note,
    say_wrapped,
    show_change,
    show_json,
    show_list,
    show_plain,
)

if TYPE_CHECKING:
    from salvage.work.drop_folder import State
    from salvage.work.inbox import Filing
    from salvage.work.workshop import Workshop

watching = CommandSet()


def _list_alone(args: list[str], _names: Collection[str]) -> list[str]:
    """Read the inbox's words; without a command's name they are those of the list."""
    if not args or (args[0].startswith("-") and not {"-h", "--help"} & set(args)):
        return ["list", *args]
    return args


inbox = CommandSet(
    "inbox",
    "Photos that wait until somebody says what they show.",
    "salvage inbox",
    alone=_list_alone,
)


@watching.command("watch", example="salvage watch ~/phone --once", changes=True)
def watch(
    context: typer.Context,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Where the phone drops photos.")],
    once: Annotated[bool, typer.Option("--once", help="Look once, then stop.")] = False,
    leave: Annotated[bool, typer.Option("--leave", help="Leave the files where they are.")] = False,
    every: Annotated[
        float,
        typer.Option(min=0, metavar="SECONDS", help="A file that grew meanwhile is waited for."),
    ] = 2.0,
) -> None:
    """
    File the photos of a folder to the boards and pieces whose labels they show.

    A photo is kept in the workshop first; only then its file goes into FOLDER/filed, or into
    FOLDER/waiting if nobody but you can say what it shows: 'salvage inbox' lists those. A side
    card of the action sheet in the picture, or the words front, back and other in the file's name,
    say the side; the first photo of a board is its front. What is no picture stays where it is.
    """
    from salvage.work.drop_folder import read_states

    session = session_of(context)
    path = session.place(folder)
    read_states(path)  # told at once where there is no such folder
    with session.open() as shop:
        if not once:
            note(session, f"watching {clean(str(path))}; end with Ctrl-C")
        count = _watch(session, shop, path, once=once, leave=leave, every_s=every)
    if once:
        _conclude(session, count)


def _watch(
    session: Session, shop: Workshop, path: Path, *, once: bool, leave: bool, every_s: float
) -> dict[str, int]:
    """Look again and again, or once; gives how often each outcome came."""
    from salvage.work.drop_folder import read_states, settled, take_folder

    count: dict[str, int] = {}
    done: dict[str, State] = {}
    before: Mapping[str, State] = read_states(path)
    while True:
        time.sleep(every_s)
        now = read_states(path)
        ready = settled(before, now, done=done)
        for filing in take_folder(shop, path, ready, leave=leave, dry_run=session.dry_run):
            count[filing.outcome] = count.get(filing.outcome, 0) + 1
            _tell(session, filing)
        session.world.stdout.flush()
        # What still lies there has been dealt with, as it is.
        done = {name: now[name] for name in (*done, *ready) if name in now}
        if once and all(before.get(name) == state for name, state in now.items()):
            return count
        before = now


def _tell(session: Session, filing: Filing) -> None:
    if session.form == "json":
        show_json(session, asdict(filing), one_line=True)
    elif session.form == "plain":
        show_plain(session, [(filing.outcome, filing.name, filing.code, filing.side)])
    else:
        where = f" {filing.code}, {filing.side}" if filing.code else ""
        dry = "dry run: " if session.dry_run else ""
        text = f"{dry}{filing.outcome}{where}: {clean(filing.name)}  ({clean(filing.reason)})"
        say_wrapped(session, text, indent=4)


def _conclude(session: Session, count: Mapping[str, int]) -> None:
    if session.dry_run:
        note(session, "nothing was recorded, and no file was moved (--dry-run)")
        return
    told = ", ".join(f"{number} {outcome}" for outcome, number in count.items())
    note(session, told or "no new photos")
    if count.get("waiting"):
        note(session, "next: salvage inbox")


_COLUMNS = (
    Column("name", "name"),
    Column("since", "at", lambda at: f"{at[:10]} {at[11:16]}"),
    Column("why", "reason"),
    Column("hash", "sha256", lambda sha256: str(sha256)[:12]),
)


@inbox.command("list", example="salvage inbox")
def list_(context: typer.Context) -> None:
    """List the photos that wait, oldest first, with the reason; times are UTC."""
    from salvage.work.inbox import list_inbox

    session = session_of(context)
    with session.open() as shop:
        records = [record_of(photo) for photo in list_inbox(shop)]
    show_list(session, records, _COLUMNS, empty="no photo waits")
    if records and not session.form:
        first = records[0]["name"]
        note(session, f"next: salvage inbox file '{clean(first)}' CODE --side front|back|other")


Name = Annotated[
    str, typer.Argument(metavar="NAME", help="Its name, or the beginning of its hash.")
]


@inbox.command("file", example="salvage inbox file IMG_2207.jpg BC0002J --side back", changes=True)
def file(
    context: typer.Context,
    name: Name,
    code: Annotated[
        str, typer.Argument(metavar="CODE", help="What it shows.", autocompletion=completer("BPD"))
    ],
    side: Annotated[str, typer.Option(metavar="SIDE", help="Front, back or other.")] = "front",
) -> None:
    """File a waiting photo to the board, piece or drop-off that it shows."""
    from salvage.records.choices import PHOTO_SIDES, parse_choice
    from salvage.work.inbox import file_waiting, find_waiting
    from salvage.work.reading import read_code

    session = session_of(context)
    chosen = parse_choice(side, PHOTO_SIDES, field="--side")
    with session.open() as shop:
        photo = find_waiting(shop, name)
        found = read_code(shop, text=code, kinds="BPD")
        kept = file_waiting(shop, photo=photo, code=found, side=chosen, dry_run=session.dry_run)
    show_change(
        session,
        record_of(kept),
        lines=[f"{found}  photo {kept.n} filed, {chosen}: {photo.name}"],
        codes=[found],
        next_step="inbox",
    )


@inbox.command("drop", example="salvage inbox drop IMG_2208.jpg --reason blurred", changes=True)
def drop(
    context: typer.Context,
    name: Name,
    reason: Annotated[str, typer.Option(metavar="TEXT", help="Why.")] = "",
) -> None:
    """Put a photo out of the inbox; 'salvage undo' brings it back."""
    from salvage.cli.ask import confirm
    from salvage.work.inbox import drop_waiting, find_waiting

    session = session_of(context)
    with session.open() as shop:
        photo = find_waiting(shop, name)
        if not session.dry_run:
            confirm(session, f"Put {clean(photo.name)} out of the inbox?")
        drop_waiting(shop, photo=photo, reason=reason, dry_run=session.dry_run)
    show_change(
        session,
        record_of(photo),
        lines=[f"out of the inbox: {photo.name}"],
        codes=[photo.sha256],
        next_step="inbox",
    )
