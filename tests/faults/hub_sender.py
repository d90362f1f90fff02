"""What a child does that sends to the hub until it is killed."""

from __future__ import annotations

from multiprocessing.connection import Connection
from pathlib import Path

from salvage.work.hub import send_to_hub
from salvage.work.workshop import open_workshop

DONE = ("done", "")
"""What it tells at the end."""


def send_until_killed(folder: Path, batch: int, mouth: Connection, address: str) -> None:
    """
    Send in small transactions, telling each that is done.

    Args:
        folder: The workshop's folder.
        batch: Events in one transaction.
        mouth: Where it tells.
        address: Where the hub is.
    """
    with open_workshop(folder, create=False) as shop:
        mouth.send(("begun", ""))
        send_to_hub(
            shop,
            address=address,
            batch=batch,
            progress=lambda words: mouth.send((words, "")),
        )
        mouth.send(DONE)
