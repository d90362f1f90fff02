"""The part of the self-check that looks at the folder itself: one computer alone writes there."""

from __future__ import annotations

from collections.abc import Iterator

from salvage.store.keeper import rival_faults
from salvage.work.workshop import Workshop


def check_folder(shop: Workshop) -> tuple[Iterator[str], str]:
    """Second databases that went another way, and an older state that somebody brought back."""
    keeper = shop.keeper
    found = keeper.standing(shop.conn) if keeper else tuple(rival_faults(shop.folder, shop.conn))
    share = keeper.share if keeper else ""
    note = f"on a network share, {share}" if share else ""
    return (f"{fault.words}; {fault.mend}" for fault in found), note
