"""The journal: a chain in which nothing can be changed, dropped or moved unseen."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable
from typing import Any

import pytest

from salvage.canonical import canonical_bytes
from salvage.errors import StoreTrouble
from salvage.store.journal import (
    FIRST_PREV,
    Head,
    append_event,
    check_form,
    event_by_id,
    link,
    read_events,
    read_events_about,
    read_events_newest,
    read_events_of,
    read_head,
    read_operation,
    read_tip,
    verify_chain,
)
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


def _forge(shop: Workshop, change: Callable[[dict[str, Any]], object]) -> None:
    """Change the last event and make its hash and its columns fit, by whatever text is given."""
    _drop_guards(shop)
    seq, body, prev = shop.conn.execute(
        "SELECT seq, body, prev FROM event ORDER BY seq DESC LIMIT 1"
    ).fetchone()
    fields = json.loads(body)
    text = change(fields)
    text = text if isinstance(text, str) else canonical_bytes(fields).decode()
    shop.conn.execute(
        "UPDATE event SET body = ?, hash = ?, n = ?, clock = ? WHERE seq = ?",
        (text, link(prev, text.encode()), fields["n"], fields["clock"], seq),
    )


def test_a_clock_that_was_turned_back_is_named(empty_shop: Workshop) -> None:
    """Even where every hash was made to fit again."""
    add_drop_off(empty_shop)
    empty_shop.conn.execute("PRAGMA ignore_check_constraints = ON")
    _forge(empty_shop, lambda fields: fields.update(clock=0))

    with pytest.raises(StoreTrouble, match="its clock does not go on"):
        verify_chain(empty_shop.conn)


@pytest.mark.parametrize("name", ["id", "device", "kind", "operation", "at", "clock", "n"])
def test_a_column_that_differs_from_the_text_is_named(empty_shop: Workshop, name: str) -> None:
    """The columns are only the text's own words, kept so that they can be asked for."""
    add_drop_off(empty_shop)
    _drop_guards(empty_shop)
    other = "clock + 5" if name == "clock" else "n + 1" if name == "n" else f"{name} || 'x'"
    if name == "device":
        other = "'X'"
    empty_shop.conn.execute("PRAGMA ignore_check_constraints = ON")
    empty_shop.conn.execute("PRAGMA foreign_keys = OFF")
    empty_shop.conn.execute(f"UPDATE event SET {name} = {other} WHERE seq = 3")

    with pytest.raises(StoreTrouble, match=r"event 3 .*(columns|follow).*do not print cards"):
        verify_chain(empty_shop.conn)


def test_a_text_that_is_not_canonical_is_named(empty_shop: Workshop) -> None:
    """The same words with a blank more are another text; both checks say so where they can see."""
    add_drop_off(empty_shop)
    check_form(empty_shop.conn)
    _forge(empty_shop, lambda fields: json.dumps(fields, sort_keys=True))

    with pytest.raises(StoreTrouble, match=r"event 3 .*its text is not canonical"):
        verify_chain(empty_shop.conn)
    with pytest.raises(StoreTrouble, match=r"event 3 .*its text is not canonical"):
        check_form(empty_shop.conn)


def test_a_text_that_is_no_object_is_named(empty_shop: Workshop) -> None:
    """A list under a fitting hash is no event."""
    add_drop_off(empty_shop)
    _forge(empty_shop, lambda fields: "[1]")

    with pytest.raises(StoreTrouble, match="its columns differ from its text"):
        verify_chain(empty_shop.conn)


def test_an_event_in_a_later_form_is_still_in_the_chain(empty_shop: Workshop) -> None:
    """A chain that a newer version wrote verifies; what it means is not asked here."""
    add_drop_off(empty_shop)
    _forge(empty_shop, lambda fields: fields.update(version=2))
    (head,) = verify_chain(empty_shop.conn)

    assert head == read_head(empty_shop.conn, empty_shop.settings.device)


def test_an_event_is_the_same_written_and_read(empty_shop: Workshop) -> None:
    """Whatever its fields hold: tuples come back as the lists that JSON has."""
    conn, device = empty_shop.conn, empty_shop.settings.device
    written = []
    tip = read_tip(conn, device)
    for number, data in enumerate(
        (
            {"a": ("x", {"b": (1, 2)}), "c": [True, None], "d": 7},
            {"e": [["f"], {"g": "h"}], "i": -1},
            {"j": [{"k": ("l",)}]},
        )
    ):
        envelope: dict[str, Any] = {
            "about": ["BC0002J"],
            "act": "set",
            "at": "2026-05-04T09:00:00.000Z",
            "by": "Ilva",
            "data": data,
            "device": device,
            "id": f"id-{number}",
            "kind": "workshop.set",
            "made": [],
            "operation": "id-0",
            "version": 1,
        }
        event, tip = append_event(conn, envelope, tip)
        written.append(event)

    assert written == list(read_events(conn))[-3:]
    assert written[0].data == {"a": ["x", {"b": [1, 2]}], "c": [True, None], "d": 7}
    assert written[1] == event_by_id(conn, "id-1")
    assert list(read_operation(conn, "id-0")) == written
    assert tip == read_tip(conn, device)


def test_events_are_read_from_either_end(empty_shop: Workshop) -> None:
    """All, the newest few, those after one, those of some kinds, and those of one thing."""
    first, second = add_cleared_board(empty_shop), add_cleared_board(empty_shop)
    conn = empty_shop.conn
    events = list(read_events(conn))
    recorded = list(read_events_of(conn, ["board.recorded"]))
    of_first = list(read_events_of(conn, ["board.recorded", "donor.added"], code=first.code))
    also = list(read_events_of(conn, ["hazard.checked"], code=second.code, also=["donor.added"]))

    assert [event.seq for event in events] == list(range(1, len(events) + 1))
    assert list(read_events_newest(conn)) == events[::-1]
    assert list(read_events_newest(conn, most=2)) == events[:-3:-1]
    assert list(read_events(conn, after=events[4])) == events[5:]
    assert [event.made for event in recorded] == [(first.code,), (second.code,)]
    assert of_first == recorded[:1]
    assert [event.kind for event in also if event.kind == "donor.added"] == ["donor.added"] * 2
    assert {event.about[0] for event in also if event.kind == "hazard.checked"} == {second.code}


def test_an_empty_chain_has_a_head_too(empty_shop: Workshop) -> None:
    """A device that has written nothing stands at nought; heads are printed short."""
    tip = read_tip(empty_shop.conn, "X" if empty_shop.settings.device != "X" else "V")

    assert tip.head == Head(tip.head.device, 0, FIRST_PREV)
    assert (tip.seq, tip.clock) == (1, 1)
    assert Head("C", 12, "0123456789abcdef").short == "C12-01234567"
