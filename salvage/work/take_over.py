"""This computer becomes the one that writes in a workshop's folder."""

from __future__ import annotations

from dataclasses import dataclass

from salvage.errors import Refused, StoreTrouble
from salvage.store.connection import plain_errors
from salvage.store.journal import verify_chain
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class TakenOver:
    """
    A folder that was taken over.

    Args:
        was: What the computer is called that wrote before; empty where none was noted.
        events: Number of events in the database as it stands.
        heads: Newest point of each device's chain.
    """

    was: str
    events: int
    heads: tuple[str, ...]


def take_over(shop: Workshop, *, dry_run: bool = False) -> TakenOver:
    """
    Let this computer write in the folder, on the database as it stands.

    Nothing is journalled: who keeps the folder is no part of the record.

    Args:
        shop: The open workshop.
        dry_run: Look, and note nothing.

    Raises:
        Refused: If nobody keeps the folder, as where the state folder cannot be used.
        StoreTrouble: If the database is damaged, as by files that do not belong together.
    """
    if shop.keeper is None:
        raise Refused("no watch is kept over this folder", hint="go on as before")
    with plain_errors(shop.path):
        (verdict,) = shop.conn.execute("PRAGMA quick_check(1)").fetchone()
        if verdict != "ok":
            raise StoreTrouble(
                f"{shop.path} is damaged: {verdict}", hint="restore the last copy: salvage restore"
            )
        heads = verify_chain(shop.conn)
        before = shop.keeper.marker
        if not dry_run:
            shop.keeper.take_over(shop.conn)
    was = before.name if before else ""
    return TakenOver(was, sum(head.count for head in heads), tuple(head.short for head in heads))
