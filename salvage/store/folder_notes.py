"""What keeps a workshop's folder: two notes as small JSON files, and what else lies there."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from salvage.frozen import asdict, dataclass
from salvage.store.connection import DATABASE_NAME

Note = TypeVar("Note", "Marker", "Memory")


@dataclass(frozen=True, slots=True)
class Marker:
    """
    The note beside the database.

    Args:
        computer: Random id of the computer that writes.
        name: What people call it.
        since: When it began to.
        folder_id: Random id of this folder, so that one that was made anew is not mistaken for it.
    """

    computer: str
    name: str
    since: str
    folder_id: str

    @property
    def label(self) -> str:
        """The computer's name, for messages."""
        return self.name or "unnamed"


@dataclass(frozen=True, slots=True)
class Memory:
    """
    What this computer remembers of a workshop's folder.

    Args:
        folder: Where it lies.
        folder_id: As in the marker; empty while nothing was written here.
        seq: Number of the newest event that was acknowledged here; 0 for none.
        hash: Its hash.
        told: What was told once and need not be told again, such as a shared file system.
    """

    folder: str
    folder_id: str
    seq: int
    hash: str
    told: str


def read_note(path: Path, kind: type[Note]) -> Note | None:
    """The note in a file; None where none can be read."""
    try:
        found = kind(**json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError, RecursionError):
        return None
    right = all(isinstance(value, int if key == "seq" else str) for key, value in _items(found))
    return found if right else None


def _items(note: Marker | Memory) -> Iterable[tuple[str, object]]:
    return asdict(note).items()


def write_note(path: Path, value: Marker | Memory) -> bool:
    """Write a note in one step; false where that cannot be."""
    part = path.with_name(f".{path.name}-{os.getpid()}-{threading.get_ident()}")
    try:
        part.write_text(json.dumps(asdict(value)), encoding="utf-8")
        os.replace(part, path)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        return False
    return True


_STEM = DATABASE_NAME.partition(".")[0]
_OWN = frozenset(f"{DATABASE_NAME}{end}" for end in ("", "-wal", "-shm", "-journal", ".part"))


def names_beside(folder: Path) -> list[str]:
    """Files beside the database whose names begin as its own does, such as a second copy."""
    try:
        with os.scandir(folder) as entries:
            found = [entry.name for entry in entries if entry.name.startswith(_STEM)]
    except OSError:
        return []
    return sorted(
        name
        for name in found
        if name not in _OWN and ".db" in name and not name.endswith(("-wal", "-shm", "-journal"))
    )
