"""Small folders beside the database that belong to a workshop: its checkpoints and its designs."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from salvage.store.durable import make_folder, put_file

OWN_FOLDERS = ("checkpoints", "designs")
"""Their names; only files that lie in them directly count."""


def bring_own_folders(
    source: Path, target: Path, *, known: Mapping[str, int] | None = None
) -> None:
    """
    Copy the files of a workshop's own folders, those that are new or changed.

    Args:
        source: The workshop, or a copy of it.
        target: A copy, or the workshop that is made from one.
        known: Number of events of each device in an older record: checkpoints that were signed
            later are left behind, as they tell of events that it lacks. None brings all.

    Raises:
        OSError: If something cannot be read or written.
    """
    for name in OWN_FOLDERS:
        for path in sorted(path for path in (source / name).glob("*") if path.is_file()):
            data = path.read_bytes()
            there = target / name / path.name
            if name == "checkpoints" and known is not None and not _is_of(data, known):
                continue
            if not (there.is_file() and there.read_bytes() == data):
                make_folder(there.parent)
                put_file(there, data)


def _is_of(checkpoint: bytes, known: Mapping[str, int]) -> bool:
    """Whether a record of so many events may hold what was signed; so too where that is unknown."""
    try:
        chains = json.loads(checkpoint)["signed"]["chains"]
        return all(int(chain["count"]) <= known.get(str(chain["device"]), 0) for chain in chains)
    except (ValueError, TypeError, LookupError, RecursionError):
        return True
