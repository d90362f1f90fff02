"""Files in and out of a command: read whole, written whole or not at all."""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import BadFile, Refused
from salvage.store.durable import drop_part, flush_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from salvage.cli.session import Session

MOST_BYTES = 200_000_000
"""Largest file that is read at all; the crafts set their own, lower limits."""


def read_file(session: Session, name: str) -> bytes:
    """
    The bytes of a file.

    Raises:
        BadFile: If it is not there, is no file, or is far too large.
    """
    path = session.place(name)
    if not path.is_file():
        what = "is no file" if path.exists() else "is not there"
        raise BadFile(f"{name} {what}", hint=f"looked in {path.parent}")
    if path.stat().st_size > MOST_BYTES:
        raise BadFile(f"{name} is larger than {MOST_BYTES // 1_000_000} MB")
    return path.read_bytes()


@contextmanager
def naming(name: str) -> Iterator[None]:
    """
    Name the file in what is said against it.

    Args:
        name: As typed.

    Raises:
        BadFile: What was raised within, with the name.
    """
    try:
        yield
    except BadFile as error:
        if Path(name).name in error.message:
            raise
        raise BadFile(f"{name}: {error.message}", hint=error.hint, field=error.field) from error


def check_target(session: Session, name: str, *, force: bool) -> Path:
    """
    Where a file goes, if it may go there.

    Args:
        session: The run.
        name: Relative to the current folder.
        force: Replace a file that is there.

    Raises:
        Refused: If the name is a folder's or a dash, its folder is not there, or a file of that
            name is there and *force* is false.
    """
    if name == "-":
        raise Refused("'-' would be a file of that name", hint="name a file, or ./- if you mean it")
    path = session.place(name)
    if path.is_dir():
        raise Refused(f"{name} is a folder", hint="name a file in it")
    if not path.parent.is_dir():
        folder = Path(name).parent
        raise Refused(f"the folder {folder} is not there", hint="make it first, or name another")
    if path.exists() and not force:
        raise Refused(f"{name} is there already", hint="replace it with --force, or name another")
    return path


def write_file(
    session: Session, name: str, make: Callable[[], bytes], *, force: bool = False
) -> Path:
    """
    Write a file in one step, and give where it lies.

    The part file is opened before the bytes are made, so that a folder that cannot be written is
    told before anything is journalled.

    Args:
        session: The run; a dry run makes the bytes and writes nothing.
        name: Relative to the current folder.
        make: Gives the bytes.
        force: Replace a file that is there.

    Raises:
        Refused: As :func:`check_target` does.
        OSError: If the folder cannot be written.
    """
    path = check_target(session, name, force=force)
    if session.dry_run:
        make()
        return path
    import tempfile

    handle, part = tempfile.mkstemp(prefix=".part-", suffix=path.suffix, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(make())
            file.flush()
            os.fsync(file.fileno())
        os.chmod(part, 0o666 & ~_umask())
        os.replace(part, path)
    except BaseException:
        drop_part(Path(part))
        raise
    flush_folder(path.parent)
    return path


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
