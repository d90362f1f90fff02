"""The parts of the self-check that look at sealed names and at signed checkpoints."""

from __future__ import annotations

from collections.abc import Iterator

from salvage.store.change import seal_of
from salvage.store.forget import forgotten_seals, seals_of_donor
from salvage.work.checkpoints import kept_faults
from salvage.work.workshop import Workshop


def check_seals(shop: Workshop) -> tuple[Iterator[str], str]:
    """Names and contacts against the salted hashes that the journal holds of them."""
    rows = shop.conn.execute("SELECT seal, salt, value FROM private_field").fetchall()
    kept = {seal for seal, _, _ in rows}
    erased = forgotten_seals(shop.conn)
    donors = shop.conn.execute("SELECT DISTINCT code FROM event_item WHERE code GLOB '[GN]*'")
    sealed = {seal for (code,) in donors for seal in seals_of_donor(shop.conn, code)}

    def faults() -> Iterator[str]:
        for seal, salt, value in rows:
            if seal_of(bytes.fromhex(salt), value) != seal:
                yield f"the words behind the seal {seal[:12]}… are not those that were sealed"
        for seal in sorted(kept & erased):
            yield f"the words behind the seal {seal[:12]}… are of somebody who is forgotten"
        for seal in sorted(sealed - kept - erased):
            yield f"the words behind the seal {seal[:12]}… are gone, and nobody asked for it"

    gone = f", {len(erased - kept)} erased on request" if erased else ""
    return faults(), f"{len(rows)} kept{gone}"


def check_checkpoints(shop: Workshop) -> tuple[Iterator[str], str]:
    """What was signed earlier against the journal as it is: a cut-off tail has whole hashes."""
    kept, covered = kept_faults(shop)
    note = f"{len(kept)} signed, the newest over {covered} events" if kept else "none signed"
    return (f"{name}: {fault}" for name in kept for fault in kept[name]), note
