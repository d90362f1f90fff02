"""One operation, one transaction: all of it or none of it, once."""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import BadValue, StoreTrouble
from salvage.ids import Code
from salvage.store.change import Authorship, Change, run_change, seal_of
from salvage.store.journal import count_events, read_events, verify_chain
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, START, add_drop_off, dump, make_shop, seeded_entropy


def test_a_failed_step_leaves_nothing_behind(empty_shop: Workshop) -> None:
    """An operation that stumbles half way has written nothing, the sealed name included."""
    before = dump(empty_shop)

    def steps(change: Change) -> None:
        change.seal("Kelpie Point Planetarium")
        change.append("workshop.set", (), {"settings": {"name": "Tidewrack"}})
        raise BadValue("stumbled")

    with pytest.raises(BadValue):
        empty_shop.commit("stumble", steps)

    assert dump(empty_shop) == before


def test_a_dry_run_answers_and_leaves_nothing_behind(empty_shop: Workshop) -> None:
    """A trial gives the code that it would give, and the workshop is as before."""
    before = dump(empty_shop)
    new = NewDropOff(START.date(), "a box")
    tried = log_drop_off(empty_shop, donor=PLANETARIUM, new=new, dry_run=True)
    after = dump(empty_shop)
    done = log_drop_off(empty_shop, donor=PLANETARIUM, new=new)

    assert after == before
    assert tried.drop_off.code == done.drop_off.code


def test_an_event_with_unknown_fields_is_refused(empty_shop: Workshop) -> None:
    """The journal takes exactly the fields that a kind of event promises."""

    def steps(change: Change) -> None:
        change.append("board.moved", (), {"place": "shelf 2", "mood": "good"})

    with pytest.raises(BadValue, match="mood"):
        empty_shop.commit("move", steps)


class _StubbornCommit:
    """A connection whose COMMIT reports trouble for the first times."""

    def __init__(self, conn: sqlite3.Connection, *, failures: int, after: bool) -> None:
        self._conn = conn
        self._failures = failures
        self._after = after

    def __getattr__(self, name: str) -> Any:
        return getattr(self._conn, name)

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        if sql == "COMMIT" and self._failures:
            self._failures -= 1
            if self._after:
                self._conn.execute("COMMIT")
            error = sqlite3.OperationalError("disk I/O error")
            error.sqlite_errorcode = sqlite3.SQLITE_IOERR
            raise error
        return self._conn.execute(sql, *args)


def _log_through(shop: Workshop, conn: _StubbornCommit) -> str:
    def steps(change: Change) -> str:
        change.append("workshop.set", (), {"settings": {"name": "Tidewrack"}})
        return change.operation

    author = Authorship("test", "Maren", "C", START)
    stubborn: Any = conn  # stands in for a connection
    return run_change(stubborn, author, steps, path=shop.path, draw=seeded_entropy(7))


@pytest.mark.parametrize("after", [False, True])
def test_a_late_answer_of_the_disk_does_not_do_it_twice(empty_shop: Workshop, after: bool) -> None:
    """COMMIT may report trouble although it was done, or before it was: one event either way."""
    before = list(read_events(empty_shop.conn))
    conn = _StubbornCommit(empty_shop.conn, failures=1, after=after)
    operation = _log_through(empty_shop, conn)
    newest = list(read_events(empty_shop.conn, after=before[-1]))

    assert [event.id for event in newest] == [operation]
    assert count_events(empty_shop.conn) == len(before) + 1


def test_a_disk_that_stays_broken_is_said(empty_shop: Workshop) -> None:
    """After a few tries it is told that nobody knows how it ended; nothing is half written."""
    before = verify_chain(empty_shop.conn)
    conn = _StubbornCommit(empty_shop.conn, failures=99, after=False)

    with pytest.raises(StoreTrouble, match="whether the change is on record is not known"):
        _log_through(empty_shop, conn)

    assert verify_chain(empty_shop.conn) == before


def test_a_database_in_use_is_said(tmp_path: Path) -> None:
    """While another program writes, the maker reads one line, not a hang for ever."""
    with make_shop(tmp_path / "shop") as first, make_shop(tmp_path / "shop", busy_ms=50) as second:
        first.conn.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreTrouble, match="another program is writing"):
            add_drop_off(second)
        first.conn.execute("ROLLBACK")
        add_drop_off(second)

        assert count_events(first.conn) == 3


def test_seals_are_salted(empty_shop: Workshop) -> None:
    """The same name sealed twice gives two commitments: neither betrays the other."""
    seals: list[str | None] = []

    def steps(change: Change) -> None:
        seals.extend([change.seal("Kelpie"), change.seal("Kelpie"), change.seal("")])
        change.append("workshop.set", (), {"settings": {}})

    empty_shop.commit("seal", steps)

    assert len({*seals}) == 3
    assert seals[2] is None


def test_a_value_that_the_tables_refuse_is_one_line(empty_shop: Workshop) -> None:
    """A number that no gate stopped ends in our own error, and the next change works."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="does not fit the record"):
        log_drop_off(
            empty_shop, donor=PLANETARIUM, new=NewDropOff(START.date(), "a box", weight_g=1e-6)
        )

    assert dump(empty_shop) == before
    assert not empty_shop.conn.in_transaction
    add_drop_off(empty_shop)


def test_a_link_to_nothing_is_found_at_commit(empty_shop: Workshop) -> None:
    """Where a row would point to nothing, the whole change is taken back and no lock stays."""
    before = dump(empty_shop)

    def steps(change: Change) -> None:
        change.conn.execute("PRAGMA defer_foreign_keys = ON")
        data = {"naming": "named", "naming_how": "", "described_as": ""}
        change.append("donor.naming_set", (Code("GC0002X"),), data)
        change.conn.execute("INSERT INTO data_part VALUES ('DX', 1, 'x', 1, 'open', '', '', '')")

    with pytest.raises(BadValue, match="FOREIGN KEY"):
        empty_shop.commit("dangle", steps)

    assert dump(empty_shop) == before
    assert not empty_shop.conn.in_transaction


def test_a_seal_can_be_checked_without_this_program(empty_shop: Workshop) -> None:
    """SHA-256 over a fixed line, the salt and the words is all there is to a seal."""
    add_drop_off(empty_shop)
    ((seal, salt, value),) = empty_shop.conn.execute("SELECT seal, salt, value FROM private_field")
    text = b"salvage private field 1\n" + bytes.fromhex(salt) + value.encode()

    assert hashlib.sha256(text).hexdigest() == seal == seal_of(bytes.fromhex(salt), value)
