"""Harm done to the workshop's folder: a second computer wrote there."""

from __future__ import annotations

from collections.abc import Callable

from salvage.store.backup import copy_database
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop, open_workshop


def _second_database(shop: Workshop) -> None:
    there = shop.folder.parent / "there"
    there.mkdir()
    copy_database(shop.conn, there / "workshop.db")
    with open_workshop(there) as other:
        change_settings(other, typed={"name": "Written over there"})
        copy_database(other.conn, shop.folder / "workshop (2).db")


FOLDER_HARMS: dict[str, tuple[Callable[[Workshop], None], str, str]] = {
    "a second database that went on": (
        _second_database,
        "one computer alone writes in the folder",
        "workshop (2).db beside the database holds an event of device",
    ),
}
"""Harms, the line of the check that turns red, and what it says."""
