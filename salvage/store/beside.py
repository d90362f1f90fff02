"""A new folder that is filled beside its place, and put there only when it is whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from salvage.errors import Refused
from salvage.store.durable import flush_folder, make_folder
from salvage.store.files import plain_os_errors


def check_free(target: Path, *, hint: str) -> None:
    """
    Raise unless a folder may be put in a place: nothing is there, or an empty folder.

    Args:
        target: The place.
        hint: What to do where something is.

    Raises:
        Refused: If something is there.
    """
    if target.is_symlink() and not target.exists():
        raise Refused(f"{target} leads nowhere", hint=hint)
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise Refused(f"{target} is not empty", hint=hint)


@contextmanager
def folder_beside(target: Path, *, prefix: str) -> Iterator[Path]:
    """
    A folder on the same disk that goes away unless it was moved.

    Args:
        target: Where it is to go; the folders above it are made.
        prefix: How its name begins.
    """
    with plain_os_errors(target):
        make_folder(target.parent)
        place = Path(tempfile.mkdtemp(prefix=prefix, dir=target.parent))
        place.chmod(0o755)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def put_in_place(place: Path, target: Path) -> None:
    """
    Move a folder that is whole to where it belongs; durable when it returns.

    An empty folder there makes room.

    Args:
        place: Of :func:`folder_beside`.
        target: As there.
    """
    with plain_os_errors(target):
        if target.is_dir():
            target.rmdir()
        for folder, _, _ in os.walk(place):
            flush_folder(Path(folder))
        os.replace(place, target)
        flush_folder(target.parent)
