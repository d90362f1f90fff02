"""
Photo and shape files, kept under their SHA-256: ``files/ab/abcdef…``.

A file is written to a temporary name, flushed, renamed and its folder flushed before the journal
mentions it; killed in between, it leaves an orphan that ``check`` names, never a record that points
to nothing. Files are never changed.
"""

from __future__ import annotations

import errno
import os
import re
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.canonical import sha256_hex
from salvage.errors import BadFile, StoreTrouble
from salvage.store.durable import drop_part, flush_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_BYTES = 2_000_000_000
"""Larger files are none of ours: nothing larger is ever kept."""

_HEX = re.compile(r"[0-9a-f]{64}")


class FileStore:
    """
    The folder of files of one workshop.

    Args:
        folder: Made on the first save.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """
        Where the file with this hash lies, or would lie.

        Raises:
            BadFile: If the text is no SHA-256, so that no path can be smuggled in.
        """
        if not _HEX.fullmatch(sha256):
            raise BadFile(f"'{sha256[:80]}' is not a file's SHA-256")
        return self.folder / sha256[:2] / sha256

    def save(self, data: bytes) -> str:
        """
        Keep *data* and give its SHA-256; durable when it returns.

        Raises:
            StoreTrouble: If the disk is full or the folder cannot be written.
        """
        sha256 = sha256_hex(data)
        target = self.path(sha256)
        with plain_os_errors(target):
            if not (target.is_file() and target.read_bytes() == data):
                _write(target, data)
            # Even where the file stands: whoever wrote it may have been killed before this.
            for folder in (target.parent, self.folder, self.folder.parent):
                flush_folder(folder)
        return sha256

    def load(self, sha256: str) -> bytes:
        """
        The bytes of a file, checked against its name.

        Raises:
            StoreTrouble: If the file is missing or its bytes have changed.
        """
        path = self.path(sha256)
        try:
            if not path.is_file():  # nor a device or a pipe, which would never end
                raise FileNotFoundError
            data = path.read_bytes() if path.stat().st_size <= MOST_BYTES else b""
        except OSError as error:
            raise StoreTrouble(
                f"the file {sha256[:12]}… is not in {self.folder}",
                hint="restore it from a backup; 'salvage check' lists all that are missing",
            ) from error
        if sha256_hex(data) != sha256:
            raise StoreTrouble(
                f"the file {path} has changed since it was recorded",
                hint="restore it from a backup",
            )
        return data

    def kept(self) -> Iterator[str]:
        """SHA-256 names of all files that lie here."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            if _HEX.fullmatch(path.name):
                yield path.name


def _write(target: Path, data: bytes) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    import tempfile

    handle, part = tempfile.mkstemp(prefix=".part-", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    except BaseException:
        drop_part(Path(part))
        raise


@contextmanager
def plain_os_errors(path: Path) -> Iterator[None]:
    """Turn the system's trouble with writing the file at *path* into one clear line."""
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        what = "the disk is full" if full else "the folder cannot be written"
        mend = "free some space and try again" if full else "check the folder's permissions"
        raise StoreTrouble(f"{path.parent}: {what}", hint=mend) from error
