"""Sending journals to the hub: once and for all, whole, verified, and told apart."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from threading import Thread

import psycopg
import pytest

from salvage.errors import Refused, StoreTrouble
from salvage.store.connection import DATABASE_NAME
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.donors import list_donors
from salvage.work.forget import forget_donor
from salvage.work.history import undo
from salvage.work.hub import prepare_hub, send_to_hub
from salvage.work.hub_sending import Sent
from salvage.work.hub_view import check_at_hub, view_hub
from salvage.work.pieces import sell
from salvage.work.workshop import Workshop
from tests.bench import make_shop
from tests.postgres import Server
from tests.work.fleet import Fleet
from tests.work.hubs import (
    ask,
    at_hub,
    events_of,
    first_of,
    make_piece,
    open_hub_shop,
)
from tests.work.stock import last_operation


@pytest.fixture
def address(postgres: Server) -> str:
    """An empty database, by its address."""
    return postgres.empty_hub()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Workshop]:
    """A workshop with one piece and a key."""
    with open_hub_shop(tmp_path / "shop", seed=3) as found:
        make_piece(found)
        sign_checkpoint(found)
        yield found


def test_what_is_sent_is_there_and_nothing_here_changes(shop: Workshop, address: str) -> None:
    """The hub holds the journal byte for byte; the workshop is as it was."""
    before = shop.path.read_bytes()
    planned = send_to_hub(shop, address=address, dry_run=True)
    sent = send_to_hub(shop, address=address)

    assert planned.workshop is None
    assert planned.events == sent.events == len(events_of(shop))
    assert at_hub(address, first_of(shop))["event"] == events_of(shop)
    assert shop.path.read_bytes() == before
    assert not shop.conn.in_transaction


def test_sending_twice_is_sending_once(shop: Workshop, address: str) -> None:
    """The second time nothing goes, not even a signature; what is new goes alone."""
    send_to_hub(shop, address=address)
    before = at_hub(address, first_of(shop)), ask(address, "SELECT * FROM salvage.signed_head")
    again = send_to_hub(shop, address=address)
    after = at_hub(address, first_of(shop)), ask(address, "SELECT * FROM salvage.signed_head")
    make_piece(shop)
    planned = send_to_hub(shop, address=address, dry_run=True)
    more = send_to_hub(shop, address=address)

    assert (again.events, again.rows) == (0, 0)
    assert after == before
    assert planned.events == more.events == len(events_of(shop)) - len(before[0]["event"])
    assert at_hub(address, first_of(shop))["event"] == events_of(shop)


def test_a_day_later_the_rows_are_those_of_a_fresh_hub(
    shop: Workshop, address: str, postgres: Server
) -> None:
    """Cut, sold, taken back, undone: what was sent bit by bit is what goes in one step."""
    piece = make_piece(shop)
    send_to_hub(shop, address=address)
    sell(shop, piece=piece, price_minor=1800)
    send_to_hub(shop, address=address)
    undo(shop, operation=last_operation(shop))
    make_piece(shop)
    sent = send_to_hub(shop, address=address)
    fresh = postgres.empty_hub("whole")
    send_to_hub(shop, address=fresh)

    assert sent.rows > sent.events
    assert at_hub(address, first_of(shop)) == at_hub(fresh, first_of(shop))
    assert check_at_hub(shop, address=address)[0].faults == ()


def test_small_batches_give_the_same(shop: Workshop, postgres: Server) -> None:
    """However the events are cut into transactions, the hub holds the same in the end."""
    whole, small = postgres.empty_hub("whole"), postgres.empty_hub("small")
    send_to_hub(shop, address=whole)
    told: list[str] = []
    sent = send_to_hub(shop, address=small, batch=4, progress=told.append)

    assert sent.events == len(events_of(shop))
    assert len([words for words in told if "events sent" in words]) == sent.events // 4
    assert at_hub(small, first_of(shop)) == at_hub(whole, first_of(shop))


def test_workshops_with_the_same_codes_stay_apart(
    shop: Workshop, address: str, tmp_path: Path
) -> None:
    """Two workshops gave the same letter and the same codes; each finds only its own."""
    with open_hub_shop(tmp_path / "other", seed=4) as other:
        make_piece(other)
        make_piece(other)
        sign_checkpoint(other)
        for one in (shop, other, shop):
            send_to_hub(one, address=address)
        view = view_hub(other, address=address)
        verdicts = check_at_hub(other, address=address, everyone=True)

        assert [one.waiting for one in view.workshops] == [None, 0]
        assert at_hub(address, first_of(other))["event"] == events_of(other)
    pieces = ask(address, "SELECT ws, code FROM salvage.piece ORDER BY 2, 1")
    assert at_hub(address, first_of(shop))["event"] == events_of(shop)
    assert [ws for ws, _ in pieces] == [1, 2, 2]
    assert pieces[0][1] == pieces[1][1]
    assert [one.faults for one in verdicts] == [(), ()]


def test_what_waits_is_told(shop: Workshop, address: str) -> None:
    """Before anything is sent all waits; afterwards only what is new."""
    with pytest.raises(StoreTrouble, match="holds nothing of ours yet; its owner says: salvage"):
        view_hub(shop, address=address)
    prepare_hub(address=address)
    nothing = view_hub(shop, address=address)
    send_to_hub(shop, address=address)
    make_piece(shop)
    later = view_hub(shop, address=address)
    (mine,) = later.workshops

    assert (nothing.workshops, nothing.waiting) == ((), len(events_of(shop)) - later.waiting)
    assert later.waiting == mine.waiting
    assert (mine.is_whole, mine.names) == (True, 0)
    assert mine.heads.startswith(f"C{mine.events}-")


def test_two_senders_at_once_send_each_event_once(shop: Workshop, address: str) -> None:
    """Two windows of one computer send at the same time; both end well."""
    prepare_hub(address=address)
    sent: list[Sent] = []
    ways = [
        Workshop(
            shop.folder,
            sqlite3.connect(shop.path, isolation_level=None, check_same_thread=False),
            clock=shop.clock,
        )
        for _ in range(2)
    ]

    def work(way: Workshop) -> None:
        sent.append(send_to_hub(way, address=address, batch=3))

    threads = [Thread(target=work, args=(way,)) for way in ways]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    for way in ways:
        way.close()

    assert sum(one.events for one in sent) == len(events_of(shop))
    assert at_hub(address, first_of(shop))["event"] == events_of(shop)
    assert check_at_hub(shop, address=address)[0].faults == ()


def tamper(shop: Workshop, *statements: str) -> None:
    """Change the database behind the program's back."""
    with closing(sqlite3.connect(shop.path)) as conn:
        conn.execute("DROP TRIGGER IF EXISTS event_no_update")
        conn.execute("DROP TRIGGER IF EXISTS event_no_delete")
        for statement in statements:
            conn.execute(statement)
        conn.commit()


def test_a_tampered_journal_is_refused(shop: Workshop, address: str) -> None:
    """A changed word in the journal is found before a byte goes."""
    tamper(shop, "UPDATE event SET body = replace(body, 'Orrery', 'Sextant') WHERE n = 4")

    with pytest.raises(StoreTrouble, match="event 4 of the journal is not as it was written"):
        send_to_hub(shop, address=address)
    assert ask(address, "SELECT to_regclass('salvage.event')") == [(None,)]


def rewrite(shop: Workshop, word: str, other: str) -> None:
    """Forge the whole chain anew with another word in it, so that every hash fits."""
    from salvage.store.journal import FIRST_PREV, link

    prev, forged = FIRST_PREV, []
    for n, body in shop.conn.execute("SELECT n, body FROM event ORDER BY n").fetchall():
        text = body.replace(word, other)
        digest = link(prev, text.encode())
        forged.append(
            f"UPDATE event SET body = '{text.replace(chr(39), chr(39) * 2)}', prev = '{prev}',"
            f" hash = '{digest}' WHERE n = {n}"
        )
        prev = digest
    tamper(shop, *forged)


def test_a_forged_chain_is_refused_by_the_kept_checkpoint(shop: Workshop, address: str) -> None:
    """All hashes were worked out anew, but a checkpoint was signed before."""
    rewrite(shop, "Orrery", "Sextant")

    with pytest.raises(StoreTrouble, match=r"does not hold: event .* history was rewritten"):
        send_to_hub(shop, address=address)


def test_a_forged_chain_is_refused_by_what_the_hub_has(shop: Workshop, address: str) -> None:
    """Whoever takes the checkpoints away as well is caught by what was sent before."""
    send_to_hub(shop, address=address)
    rewrite(shop, "Orrery", "Sextant")
    for path in (shop.folder / "checkpoints").iterdir():
        path.unlink()
    before = at_hub(address, first_of(shop))

    with pytest.raises(Refused, match="device C wrote two histories: its event"):
        send_to_hub(shop, address=address)
    with pytest.raises(Refused, match="device C wrote two histories"):
        send_to_hub(shop, address=address, dry_run=True)
    assert at_hub(address, first_of(shop)) == before


def copy_of(shop: Workshop, folder: Path) -> Workshop:
    """A second computer that works with a copy of the workshop, under the same letter."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as conn:
        shop.conn.backup(conn)
        conn.execute("PRAGMA journal_mode = WAL")
    (folder / "proof-key.pem").write_bytes((shop.folder / "proof-key.pem").read_bytes())
    return make_shop(folder, seed=99)


def test_a_forked_chain_is_refused(shop: Workshop, address: str, tmp_path: Path) -> None:
    """Two computers went on with one copy: the second one's history is not taken."""
    with copy_of(shop, tmp_path / "copy") as copy:
        make_piece(shop)
        make_piece(copy)
        send_to_hub(shop, address=address)
        before = at_hub(address, first_of(shop))

        with pytest.raises(Refused, match="device C wrote two histories"):
            send_to_hub(copy, address=address)
        assert at_hub(address, first_of(shop)) == before


def test_an_older_copy_is_told_so(shop: Workshop, address: str, tmp_path: Path) -> None:
    """A workshop that was restored from an old backup learns it before it works on."""
    with copy_of(shop, tmp_path / "copy") as copy:
        make_piece(shop)
        send_to_hub(shop, address=address)

        with pytest.raises(Refused, match=r"the hub has .* events of this device, and here are on"):
            send_to_hub(copy, address=address)


def test_without_a_key_nothing_goes(tmp_path: Path, address: str) -> None:
    """What is sent is signed; the key is made by a command that says so."""
    with make_shop(tmp_path / "shop") as shop:
        with pytest.raises(Refused, match="has no key to sign with yet; make it once: salvage pro"):
            send_to_hub(shop, address=address)
        sign_checkpoint(shop)
        (shop.folder / "proof-key.pem").unlink()
        with make_shop(tmp_path / "other", seed=2) as other:
            sign_checkpoint(other)
            (other.folder / "proof-key.pem").rename(shop.folder / "proof-key.pem")
        with pytest.raises(Refused, match="the journal does not know the key"):
            send_to_hub(shop, address=address)


def test_devices_of_one_workshop_send_side_by_side(tmp_path: Path, address: str) -> None:
    """Each device sends what it knows; the hub's rows are those of both together."""
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        first, tablet = fleet.shops
        for shop in fleet.shops:
            sign_checkpoint(shop)
            make_piece(shop)
        sent = [send_to_hub(shop, address=address) for shop in (first, tablet)]
        lonely = check_at_hub(tablet, address=address)
        counts = ask(address, "SELECT count(*) FROM salvage.piece")
        # The first device knows nothing new, and lacks what the tablet sent: nothing changes.
        idle = send_to_hub(first, address=address)
        names = send_to_hub(first, address=address, names=True)
        fleet.exchange_all()
        send_to_hub(first, address=address)
        merged = check_at_hub(first, address=address)

        assert [one.events > 0 for one in sent] == [True, True]
        assert sent[1].known > len(events_of(first)) - 10
        assert counts == [(2,)]
        assert (idle.events, idle.rows) == (0, 0)
        assert names.names == 2
        assert [one.faults for one in (*lonely, *merged)] == [(), ()]
        assert at_hub(address, first_of(first))["event"] == events_of(first)


def sealed(address: str) -> list[str]:
    """Personal texts at the hub."""
    return [value for (value,) in ask(address, "SELECT value FROM salvage.sealed")]


def test_names_go_only_when_asked(shop: Workshop, address: str) -> None:
    """Without a word donors' names stay at home; they can be sent, and taken back."""
    send_to_hub(shop, address=address)
    without = sealed(address)
    given = send_to_hub(shop, address=address, names=True)
    with_names = sealed(address)
    kept = send_to_hub(shop, address=address)
    there = sealed(address)
    taken = send_to_hub(shop, address=address, names=False)

    assert without == []
    assert (given.names, with_names) == (1, ["Kelpie Point Planetarium"])
    assert (kept.names, there) == (0, with_names)
    assert (taken.erased, sealed(address)) == (1, [])


def test_nobody_reads_a_name_in_the_journals(shop: Workshop, address: str) -> None:
    """No text that is sent unasked holds a donor's name."""
    send_to_hub(shop, address=address)
    tables = ask(
        address,
        "SELECT relname FROM pg_class WHERE relnamespace = 'salvage'::regnamespace"
        " AND relkind = 'r'",
    )
    texts = [repr(ask(address, f"SELECT * FROM salvage.{table}")) for (table,) in tables]

    assert len(texts) > 30
    assert not any("Kelpie" in text for text in texts)


def test_the_forgotten_are_forgotten_at_the_hub(
    shop: Workshop, address: str, postgres: Server
) -> None:
    """Who asks to be forgotten leaves the hub with the next sending, to the last byte."""
    send_to_hub(shop, address=address, names=True)
    (donor,) = list_donors(shop)
    forget_donor(shop, donor=donor.donor.code, reason="asked by letter")
    sent = send_to_hub(shop, address=address, names=True)
    with psycopg.connect(address, autocommit=True) as conn:
        conn.execute("CHECKPOINT")
        found = conn.execute("SELECT pg_relation_filepath('salvage.sealed')").fetchone()
        row = conn.execute("SELECT oid FROM pg_database WHERE datname = current_database()")
        oid = row.fetchone()
    assert found is not None
    assert oid is not None
    files = (postgres.folder / "data" / "base" / str(oid[0])).iterdir()

    assert (sent.erased, sent.names, sent.is_cleaned) == (1, 0, True)
    assert sealed(address) == []
    assert not [path for path in files if b"Kelpie Point" in path.read_bytes()]
    assert check_at_hub(shop, address=address)[0].faults == ()
