"""
The folder into which a phone drops photos: whole files only, and nothing moved before it is kept.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from salvage.errors import BadFile, StoreTrouble
from salvage.store.files import plain_os_errors
from salvage.work.inbox import Filing, take_in_photo
from salvage.work.workshop import Workshop

FILED, WAITING = "filed", "waiting"
"""Folders inside the watched one, for photos that are filed or known, and for those that wait."""

MOST_BYTES = 200_000_000
"""Larger files are no photos and are not read."""

# Names that programs give to files that they are still writing.
_UNFINISHED = (".part", ".partial", ".tmp", ".temp", ".crdownload", ".download", ".icloud")

State = tuple[int, int]
"""Size in bytes, and time of the last change in nanoseconds."""


def read_states(folder: Path) -> dict[str, State]:
    """
    Size and last change of every file in a folder that may be a photo, by name.

    Raises:
        BadFile: If the folder is not there or cannot be read.
    """
    found: dict[str, State] = {}
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                hidden = entry.name.startswith((".", "~"))
                if hidden or entry.name.lower().endswith(_UNFINISHED):
                    continue
                if not entry.is_file(follow_symlinks=False):
                    continue
                state = entry.stat(follow_symlinks=False)
                found[entry.name] = (state.st_size, state.st_mtime_ns)
    except OSError as error:
        raise BadFile(
            f"the folder {folder} cannot be read: {error.strerror}", hint="name another folder"
        ) from error
    return dict(sorted(found.items()))


def settled(
    before: Mapping[str, State], now: Mapping[str, State], *, done: Mapping[str, State]
) -> list[str]:
    """
    Names of files that have stopped growing and were not dealt with as they are.

    Args:
        before: States a moment ago.
        now: States now.
        done: States of files that were left where they are.
    """
    return [
        name
        for name, state in now.items()
        if state[0] > 0 and before.get(name) == state and done.get(name) != state
    ]


def take_folder(
    shop: Workshop,
    folder: Path,
    names: Collection[str],
    *,
    leave: bool = False,
    dry_run: bool = False,
) -> Iterator[Filing]:
    """
    Take in photos one by one; each is moved only after it is kept and journalled.

    A program that is stopped between the two finds the photo known the next time and moves it then.

    Args:
        shop: The open workshop.
        folder: The watched folder.
        names: Of files in it that are whole.
        leave: Move nothing.
        dry_run: Do everything, then roll back; move nothing.
    """
    for name in names:
        path = folder / name
        data = _read_whole(path)
        if data is None:
            continue  # it went away or is still growing; the next look will tell
        filing = take_in_photo(shop, data=data, name=name, dry_run=dry_run)
        if filing.is_kept and not leave and not dry_run:
            _move(path, folder / (WAITING if filing.outcome == "waiting" else FILED))
        yield filing


def _read_whole(path: Path) -> bytes | None:
    """The bytes of a file that did not change while it was read."""
    try:
        before = path.stat()
        if before.st_size > MOST_BYTES:
            return b""
        data = path.read_bytes()
        after = path.stat()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreTrouble(
            f"{path} cannot be read: {error.strerror}", hint="check the file's permissions"
        ) from error
    same = (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns)
    return data if same and len(data) == after.st_size else None


def _move(path: Path, folder: Path) -> None:
    """Move a file into a folder, beside another of its name if one is there."""
    with plain_os_errors(folder / path.name):
        folder.mkdir(exist_ok=True)
        target, count = folder / path.name, 1
        while target.exists():
            count += 1
            target = folder / f"{path.stem}-{count}{path.suffix}"
        os.rename(path, target)
