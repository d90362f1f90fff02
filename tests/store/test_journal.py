"""The journal: a chain in which nothing can be changed, dropped or moved unseen."""

from __future__ import annotations

import hashlib
import json
import sqlite3

import pytest

from salvage.canonical import canonical_bytes
from salvage.errors import StoreTrouble
from salvage.store.journal import read_events, read_events_about, read_head, verify_chain
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, cut_circle


def _drop_guards(shop: Workshop) -> None:
    shop.conn.execute("DROP TRIGGER event_no_update")
    shop.conn.execute("DROP TRIGGER event_no_delete")


def test_every_change_lengthens_the_chain(empty_shop: Workshop) -> None:
    """What a maker does is an event more, and the chain verifies."""
    device = empty_shop.settings.device
    before = read_head(empty_shop.conn, device)
    add_drop_off(empty_shop)
    (after,) = verify_chain(empty_shop.conn)

    assert after.count == before.count + 2  # the donor and the drop-off
    assert after == read_head(empty_shop.conn, device)


def test_the_chain_can_be_checked_without_this_program(empty_shop: Workshop) -> None:
    """An inspector recomputes every hash with SHA-256 and the documented rule alone."""
    add_drop_off(empty_shop)
    prev = bytes(32)
    for body, digest in empty_shop.conn.execute("SELECT body, hash FROM event ORDER BY seq"):
        prev = hashlib.sha256(prev + body.encode("utf-8")).digest()

        assert prev.hex() == digest


def test_bodies_are_stored_as_canonical_json(empty_shop: Workshop) -> None:
    """The bytes that were hashed are the bytes that are kept."""
    add_cleared_board(empty_shop)
    bodies = [body for (body,) in empty_shop.conn.execute("SELECT body FROM event")]

    assert [canonical_bytes(json.loads(body)).decode() for body in bodies] == bodies


@pytest.mark.parametrize(
    "statement", ["UPDATE event SET at = 'x'", "DELETE FROM event", "REPLACE INTO event {row}"]
)
def test_the_journal_cannot_be_rewritten_by_sql(empty_shop: Workshop, statement: str) -> None:
    """A stray statement against the journal is refused by the database itself."""
    add_drop_off(empty_shop)
    row = "SELECT * FROM event WHERE seq = 2"

    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        empty_shop.conn.execute(statement.format(row=row))


@pytest.mark.parametrize(
    ("tampering", "says"),
    [
        ("UPDATE event SET body = replace(body, '14 boards', '15 boards') WHERE seq = 3", "hash"),
        ("UPDATE event SET at = '2020-01-01T00:00:00.000Z' WHERE seq = 3", "columns"),
        ("DELETE FROM event WHERE seq = 2", "missing"),
        ("UPDATE event SET prev = hash WHERE seq = 2", "follow"),
    ],
)
def test_tampering_is_named(empty_shop: Workshop, tampering: str, says: str) -> None:
    """The first event that is not as it was written is named with what is wrong about it."""
    add_drop_off(empty_shop)
    _drop_guards(empty_shop)
    empty_shop.conn.execute("PRAGMA foreign_keys = OFF")
    empty_shop.conn.execute(tampering)

    with pytest.raises(StoreTrouble, match=says):
        verify_chain(empty_shop.conn)


def test_a_rewritten_body_with_a_fitting_hash_breaks_the_next_link(empty_shop: Workshop) -> None:
    """Recomputing one hash is not enough: the event after it no longer follows."""
    add_drop_off(empty_shop)
    _drop_guards(empty_shop)
    body, prev = empty_shop.conn.execute("SELECT body, prev FROM event WHERE seq = 2").fetchone()
    forged = body.replace("public body", "college")
    digest = hashlib.sha256(bytes.fromhex(prev) + forged.encode()).hexdigest()
    empty_shop.conn.execute("UPDATE event SET body = ?, hash = ? WHERE seq = 2", (forged, digest))

    with pytest.raises(StoreTrouble, match="event 3"):
        verify_chain(empty_shop.conn)


def test_events_are_found_by_their_code(empty_shop: Workshop) -> None:
    """The history of a board names its making, its checks and its cuts, and nothing else."""
    board = add_cleared_board(empty_shop)
    other = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 40, 40)
    kinds = [event.kind for event in read_events_about(empty_shop.conn, board.code)]

    assert kinds[0] == "board.recorded"
    assert kinds[-1] == "cut.made"
    assert set(kinds[1:-1]) == {"hazard.checked"}
    assert all(
        other.code not in event.about for event in read_events_about(empty_shop.conn, board.code)
    )


def test_events_of_one_operation_share_its_id(empty_shop: Workshop) -> None:
    """A drop-off with a new donor is one operation of two events."""
    add_drop_off(empty_shop)
    donor, drop_off = list(read_events(empty_shop.conn))[-2:]

    assert (donor.kind, drop_off.kind) == ("donor.added", "dropoff.logged")
    assert donor.operation == drop_off.operation == donor.id
    assert donor.id != drop_off.id


def test_names_stay_out_of_the_journal(empty_shop: Workshop) -> None:
    """A donor's name is sealed: the chain holds only a salted hash of it."""
    add_drop_off(empty_shop)
    change_settings(empty_shop, typed={"name": "Tidewrack Workshop"})
    bodies = "".join(body for (body,) in empty_shop.conn.execute("SELECT body FROM event"))

    assert "Kelpie" not in bodies
    assert "a planetarium" in bodies
