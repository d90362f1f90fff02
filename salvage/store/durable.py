"""
Files and folders that are there after a power cut, once the call that made them has returned.

A file's bytes are flushed before it gets its name, and the folder after it: a folder that was not
flushed may forget a name, and with it all that lies below.
"""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path

# What a disk says that cannot flush a folder, or does not let us open it to do so.
_CANNOT = (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM)


def flush_folder(folder: Path) -> None:
    """
    Flush the names in a folder; nothing where the system or the disk knows no such thing.

    Raises:
        OSError: If the disk reports an error.
    """
    if os.name != "posix":  # other systems cannot open a folder to flush it
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        if error.errno not in _CANNOT:
            raise


def make_folder(folder: Path) -> None:
    """
    Make a folder, and those above it that are missing; durable when it returns.

    Raises:
        OSError: If it cannot be made, or a file is in its place.
    """
    missing = []
    above = folder
    while not above.exists() and above != above.parent:
        missing.append(above)
        above = above.parent
    folder.mkdir(parents=True, exist_ok=True)
    for made in reversed(missing):
        flush_folder(made.parent)


def drop_part(part: Path) -> None:
    """
    Remove a file that was not finished, if it can be removed.

    A disk that failed may refuse this too; what is told is why the file was not finished.
    """
    with suppress(OSError):
        part.unlink()


def put_file(path: Path, data: bytes, *, mode: int = 0o666) -> None:
    """
    Write a file whole or not at all, in the place of one that may be there; durable on return.

    Args:
        path: The file; its folder is there.
        data: All of it.
        mode: Rights, of which the system takes the user's mask away.

    Raises:
        OSError: If it cannot be written; what was there before is there still.
    """
    part = path.with_name(f".part-{os.getpid()}-{path.name}")
    part.unlink(missing_ok=True)  # of a process of this number that was killed
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        drop_part(part)
        raise
    flush_folder(path.parent)
