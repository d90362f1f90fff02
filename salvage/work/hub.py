"""
Several workshops in one PostgreSQL database: sending a journal there, and seeing what is there.

A workshop never needs the hub, and sending changes nothing in it. What goes: the events of all
chains that this device knows, their heads signed with the device's key, and the rows that the hub's
answers are read from. What stays: photos, drawings, and donors' names unless they are asked for.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from salvage.errors import Refused, StoreTrouble
from salvage.store.hub_link import open_link, place_of
from salvage.store.hub_schema import check_hub, grant, hub_files, migrate_hub
from salvage.store.journal import verify_chain
from salvage.store.signing import KEY_NAME, Signer, load_signer
from salvage.work.checkpoints import kept_faults
from salvage.work.hub_sending import BATCH, Progress, Sending, Sent, Wish, be_silent
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Prepared:
    """
    What was prepared.

    Args:
        place: The hub's database and host.
        applied: Schema files that were missing.
        sender: Role that may send now; empty for none.
        reader: Role that may read now; empty for none.
    """

    place: str
    applied: int
    sender: str
    reader: str


def prepare_hub(
    *, address: str, sender: str = "", reader: str = "", dry_run: bool = False
) -> Prepared:
    """
    Make the hub's tables and answers in an empty database, or bring them up to date.

    Args:
        address: Where the hub is; needs the right to make a schema.
        sender: Role of the server that workshops send as; it may add, and change nothing.
        reader: Role of the server that may read the answers.
        dry_run: Tell what is missing, and change nothing.

    Raises:
        StoreTrouble: If the hub cannot be reached, is newer, or rights are missing.
    """
    with open_link(address) as link:
        if dry_run:
            number = check_hub(link)
            missing = sum(file.number > number for file in hub_files())
            return Prepared(place_of(link), missing, sender, reader)
        applied = migrate_hub(link)
        grant(link, sender=sender, reader=reader)
        return Prepared(place_of(link), applied, sender, reader)


def send_to_hub(
    shop: Workshop,
    *,
    address: str,
    names: bool | None = None,
    dry_run: bool = False,
    batch: int = BATCH,
    progress: Progress = be_silent,
) -> Sent:
    """
    Send what the hub lacks of all chains that this device knows.

    Said again it sends nothing; broken off half way, it goes on where it was. Chains, signed
    checkpoints and the device's key are verified first, and the hub verifies each hash and link
    once more.

    Args:
        shop: The open workshop.
        address: Where the hub is.
        names: True sends donors' names and other sealed texts too, False takes them back; None
            leaves what is there. The forgotten are erased there in any case.
        dry_run: Count what would go, and change nothing.
        batch: Events in one transaction.
        progress: Told what is being done.

    Raises:
        Refused: If this device has no key, or a chain is another history than the hub's.
        StoreTrouble: If the journal does not verify, or the hub cannot take it.
    """
    signer = _own_key(shop)
    with _one_moment(shop.conn):
        progress("verifying the journal")
        verify_chain(shop.conn)
        _check_kept(shop)
        with open_link(address) as link:
            sending = Sending(shop, link, Wish(names, batch, progress))
            return sending.count() if dry_run else sending.send(signer)


@contextmanager
def _one_moment(conn: sqlite3.Connection) -> Iterator[None]:
    """All that is read inside is of one moment, while other programs go on writing."""
    conn.execute("BEGIN")
    try:
        yield
    finally:
        conn.execute("ROLLBACK")


def _own_key(shop: Workshop) -> Signer:
    """
    The key that this device signs with, which its journal names.

    Raises:
        Refused: If there is none, or the journal does not know it.
    """
    signer = load_signer(shop.folder / KEY_NAME)
    letter = shop.settings.device
    if signer is None:
        raise Refused(
            "this device has no key to sign with yet", hint="make it once: salvage proof sign"
        )
    known = shop.conn.execute(
        "SELECT 1 FROM device_key WHERE letter = ? AND public_key = ?", (letter, signer.public_key)
    ).fetchone()
    if not known:
        raise Refused(
            f"the journal does not know the key in {KEY_NAME} as one of device {letter}",
            hint="enter it with: salvage proof sign",
        )
    return signer


def _check_kept(shop: Workshop) -> None:
    """Raise if a checkpoint that was signed here does not hold any more."""
    found, _ = kept_faults(shop)
    for name, faults in found.items():
        if faults:
            raise StoreTrouble(
                f"the checkpoint {name} does not hold: {faults[0]}",
                hint="nothing was sent; run 'salvage check' and compare with the last backup",
            )
