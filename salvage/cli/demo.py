"""``salvage demo``: a sample workshop, and the job shown on it."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.options import Force
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, paint, say, show_record
from salvage.errors import Refused
from salvage.store.connection import APPLICATION_ID
from salvage.work.workshop import DATABASE_NAME

commands = CommandSet()

# What we ourselves lay into a sample workshop, and the mark that tells it from a real one; a folder
# without the mark, or with anything else in it, is never deleted.
_MARK = "sample-workshop.txt"
_MARK_TEXT = (
    "Everything in this folder is invented; 'salvage demo --force' deletes and rebuilds it.\n"
)
_DATABASES = ("workshop.db", "cache.db", "page.db")
_OURS = frozenset(
    {f"{name}{tail}" for name in _DATABASES for tail in ("", "-wal", "-shm")}
    | {"files", "backups", "made", _MARK}
)


@commands.command("demo", example="salvage demo")
def demo(
    context: typer.Context,
    folder: Annotated[
        str, typer.Argument(metavar="FOLDER", help="Where it is built.")
    ] = "salvage-demo",
    force: Force = False,
) -> None:
    """
    Build a sample workshop in a folder of its own, and walk through the job on it.

    Everything in it is invented. With --force an earlier sample workshop there is built anew; a
    folder that holds anything else is left alone.
    """
    session = session_of(context)
    place = session.place(folder)
    _clear_place(place, force=force)
    build_workshop, tour = _load_builder()
    place.mkdir(parents=True, exist_ok=True)
    (place / _MARK).write_text(_MARK_TEXT, encoding="utf-8")
    build_workshop(place, progress=lambda words: note(session, paint(session, words, "quiet")))
    worst = 0 if session.form else _walk(session, place, tour)
    record = {"folder": str(place), "made": str(place / "made"), "tour": list(tour)}
    lines = ["", f"Sample workshop: {place}", f'try: salvage --shop "{place}" board list']
    show_record(session, record, lines=lines, plain=("folder",))
    raise typer.Exit(worst)


def _clear_place(place: Path, *, force: bool) -> None:
    import shutil

    if not place.exists():
        return
    if not force:
        raise Refused(
            f"{place} is there already", hint="name another folder, or rebuild it with --force"
        )
    if not _is_ours(place):
        raise Refused(
            f"{place} holds something that is not a sample workshop", hint="name another folder"
        )
    shutil.rmtree(place)


def _is_ours(place: Path) -> bool:
    """Whether a folder is empty, or bears our mark and holds nothing that we did not make."""
    if place.is_symlink() or not place.is_dir():
        return False
    found = {entry.name for entry in place.iterdir()}
    if not found:
        return True
    database = place / DATABASE_NAME
    if found - _OURS or _MARK not in found:
        return False
    if not database.exists():  # building it was interrupted
        return True
    with database.open("rb") as file:
        header = file.read(100)
    # SQLite's file format, section 1.3: the application id is big-endian at offset 68.
    return int.from_bytes(header[68:72], "big") == APPLICATION_ID


def _load_builder() -> tuple[Callable[..., Any], tuple[str, ...]]:
    """The builder of the sample workshop; it is no part of the layers, hence Any."""
    try:
        from salvage.demo_db import build  # in a wheel
    except ModuleNotFoundError:
        from demo_db import build  # in a source tree
    return build.build_workshop, tuple(build.TOUR)


def _walk(session: Session, place: Path, tour: tuple[str, ...]) -> int:
    """Run the tour's command lines one after the other; a no-go on the way is no fault."""
    worst = 0
    made = place / "made"
    made.mkdir(exist_ok=True)
    for line in tour:
        say(session)
        say(session, paint(session, f"$ salvage {line}", "strong"))
        code = session.again(["--shop", str(place), "--no-input", *shlex.split(line)], made)
        worst = max(worst, code if code > 1 else 0)
    return worst
