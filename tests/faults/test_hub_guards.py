"""What the hub lets happen to what was sent, and what a check there finds."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import psycopg
import pytest

from salvage.errors import BadValue, SalvageError, StoreTrouble
from salvage.store.hub_journals import put_events
from salvage.store.hub_link import open_link
from salvage.store.hub_schema import hub_files
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.hub import prepare_hub, send_to_hub
from salvage.work.hub_view import check_at_hub, view_hub
from salvage.work.workshop import Workshop
from tests.bench import cut_circle
from tests.postgres import Server
from tests.work.fleet import Fleet
from tests.work.hubs import ask, events_of, make_piece, open_hub_shop


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


GUARDED = {
    "UPDATE salvage.event SET kind = 'x'": "the journals are append-only",
    "DELETE FROM salvage.event WHERE n = 1": "the journals are append-only",
    "TRUNCATE salvage.event CASCADE": "the journals are append-only",
    "DELETE FROM salvage.signed_head": "the journals are append-only",
    "UPDATE salvage.signed_head SET at = ''": "the journals are append-only",
    "TRUNCATE salvage.signed_head": "the journals are append-only",
    "DELETE FROM salvage.workshop": "the journals are append-only",
    "UPDATE salvage.piece SET stage = 'sold'": "the journals are append-only",
    "INSERT INTO salvage.event SELECT ws, device, n + 100, clock + 100, id || 'x', kind, operation,"
    " at, body, prev, hash FROM salvage.event WHERE n = 3": "does not follow the one before",
    "INSERT INTO salvage.event SELECT ws, 'X', 1, clock + 100, id || 'x', kind, operation, at,"
    " body || ' ', repeat('0', 64), hash FROM salvage.event WHERE n = 1": "event_hash_fits",
}


@pytest.fixture(scope="module")
def guarded(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A hub that holds a workshop."""
    address = postgres.empty_hub("guarded")
    with open_hub_shop(tmp_path_factory.mktemp("guarded") / "shop", seed=3) as found:
        make_piece(found)
        sign_checkpoint(found)
        send_to_hub(found, address=address)
    return address


@pytest.mark.parametrize("statement", GUARDED)
def test_the_journals_there_only_grow(guarded: str, statement: str) -> None:
    """Not even the hub's owner changes an event by a slip of the hand."""
    before = ask(guarded, "SELECT count(*), max(hash) FROM salvage.event")

    with pytest.raises(psycopg.Error, match=GUARDED[statement]):
        ask(guarded, statement)
    assert ask(guarded, "SELECT count(*), max(hash) FROM salvage.event") == before


def test_roles_may_do_what_they_are_for(
    shop: Workshop, address: str, postgres: Server, tmp_path: Path
) -> None:
    """A sender adds for its own workshop alone; a reader sees answers, no journals, no names."""
    for role in ("tidewrack", "saltmarsh", "visitor"):
        postgres.new_role(role)
    ways = {
        role: address.replace("keeper@", f"{role}@")
        for role in ("tidewrack", "saltmarsh", "visitor")
    }
    with pytest.raises(StoreTrouble, match="the hub does not allow it: permission denied"):
        send_to_hub(shop, address=ways["tidewrack"])
    prepare_hub(address=address, sender="tidewrack", reader="visitor")
    made = prepare_hub(address=address, sender="saltmarsh")
    sent = send_to_hub(shop, address=ways["tidewrack"], names=True)
    forgotten = send_to_hub(shop, address=ways["tidewrack"], names=False)
    with open_hub_shop(tmp_path / "other", seed=4) as other:
        make_piece(other)
        sign_checkpoint(other)
        send_to_hub(other, address=ways["saltmarsh"])
        make_piece(shop)
        with pytest.raises(StoreTrouble, match="workshop 1 is sent by another role"):
            send_to_hub(shop, address=ways["saltmarsh"])
    answers = ask(ways["visitor"], "SELECT ws, donor_words FROM salvage.piece_from ORDER BY 1")

    assert (made.applied, sent.events > 0, sent.names) == (0, True, 1)
    assert (forgotten.erased, forgotten.is_cleaned) == (1, False)
    assert answers == [(1, "a planetarium"), (2, "a planetarium")]
    for role, query in {
        "visitor": "SELECT body FROM salvage.event",
        "visitor ": "SELECT value FROM salvage.sealed",
        "tidewrack": "ALTER TABLE salvage.event DISABLE TRIGGER ALL",
        "saltmarsh": "DELETE FROM salvage.piece WHERE ws = 1",
        "saltmarsh ": "UPDATE salvage.workshop SET name = 'ours' WHERE ws = 1",
    }.items():
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            ask(ways[role.strip()], query)


def spoil(address: str, *statements: str) -> None:
    """Change the hub as only its owner can, by taking the guards away."""
    with psycopg.connect(address) as conn:
        conn.execute("SET session_replication_role = replica")
        for statement in statements:
            conn.execute(statement.encode())


SPOILT = {
    "UPDATE salvage.piece SET stage = 'sold'": "the rows of piece do not follow from the events",
    "DELETE FROM salvage.donor": "the rows of donor do not follow from the events",
    "DELETE FROM salvage.event WHERE n = 2": "it does not follow the one before",
    "UPDATE salvage.event SET at = '2026-01-01' WHERE n = 3": "its columns differ from its text",
    "UPDATE salvage.workshop SET first_hash = repeat('a', 64)": "its first event is not the one",
    "DELETE FROM salvage.projected": "its rows lag behind its events",
    "UPDATE salvage.signed_head SET checkpoint = replace(checkpoint, '\"count\":', '\"count\":1')":
        "has a signature that is not good",
}  # fmt: skip


@pytest.mark.parametrize("statement", SPOILT)
def test_what_the_owner_of_the_server_alters_is_found(
    shop: Workshop, address: str, statement: str
) -> None:
    """Guards can be taken away by who owns the server; the check finds what was done then."""
    send_to_hub(shop, address=address)
    spoil(address, statement)
    (found,) = check_at_hub(shop, address=address, everyone=True)

    assert not found.ok
    assert any(SPOILT[statement] in fault for fault in found.faults), found.faults


def test_a_cut_off_tail_is_found_by_the_signature(shop: Workshop, address: str) -> None:
    """Events and rows were both taken back, but what was signed is more."""
    send_to_hub(shop, address=address)
    (last,) = ask(address, "SELECT max(n) FROM salvage.event")
    spoil(
        address,
        f"DELETE FROM salvage.event WHERE n = {last[0]}",
        f"UPDATE salvage.projected SET n = {last[0] - 1}",
    )
    (found,) = check_at_hub(shop, address=address)

    assert any("is not what the chain of device C holds" in fault for fault in found.faults)


def test_a_newer_hub_is_left_alone(shop: Workshop, address: str) -> None:
    """An older program does not write into a hub that it does not understand."""
    prepare_hub(address=address)
    newest = hub_files()[-1].number
    spoil(
        address,
        "INSERT INTO salvage.schema_file (number, name, sha256)"
        f" VALUES ({newest + 1}, 'later.sql', repeat('0', 64))",
    )

    for act in (send_to_hub, view_hub, check_at_hub):
        with pytest.raises(StoreTrouble, match=r"newer version .*; update with: pip install"):
            act(shop, address=address)
    with pytest.raises(StoreTrouble, match="newer version"):
        prepare_hub(address=address)


def test_preparing_twice_is_preparing_once(address: str) -> None:
    """The second time nothing is missing."""
    planned = prepare_hub(address=address, dry_run=True)
    made = [prepare_hub(address=address).applied for _ in range(2)]

    assert made == [len(hub_files()), 0]
    assert planned.applied == len(hub_files())


UNREACHABLE = {
    "": "--to: say where the hub is; such as --to postgresql",
    "postgresql://maren:tide-secret@[nowhere": "--to: that is no address of a PostgreSQL database",
    "host=127.0.0.1 port=1 user=maren password=tide-secret dbname=x": "the hub cannot be reached",
}


@pytest.mark.parametrize("typed", UNREACHABLE)
def test_no_way_to_the_hub_is_one_line(shop: Workshop, typed: str) -> None:
    """What is wrong with the way is said in one line, and the password never."""
    with pytest.raises((BadValue, StoreTrouble)) as told:
        send_to_hub(shop, address=typed)

    assert str(told.value).startswith(UNREACHABLE[typed])
    assert "secret" not in str(told.value)
    assert "\n" not in str(told.value)


def test_a_hub_that_cannot_hold_every_letter_is_refused(shop: Workshop, postgres: Server) -> None:
    """A database in another encoding would change what was hashed."""
    address = postgres.new_database("latin", more="ENCODING 'LATIN1' LOCALE 'C' TEMPLATE template0")

    with pytest.raises(StoreTrouble, match="is not in UTF-8; make it with: createdb"):
        send_to_hub(shop, address=address)


def test_a_server_that_goes_away_is_one_line(shop: Workshop, address: str) -> None:
    """The line breaks while a batch is under way: what arrived stays, and the rest goes later."""
    prepare_hub(address=address)

    def cut_the_line(words: str) -> None:
        if words.startswith("8 "):
            query = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> %s"
            with psycopg.connect(address) as conn:
                conn.execute(query, (conn.info.backend_pid,))

    with pytest.raises(SalvageError, match=r"^the hub cannot be reached: .*; what arrived stays"):
        send_to_hub(shop, address=address, batch=4, progress=cut_the_line)
    half = ask(address, "SELECT count(*) FROM salvage.event")
    (verdict,) = check_at_hub(shop, address=address)
    rest = send_to_hub(shop, address=address)

    assert half == [(8,)]
    assert "lag behind" in verdict.faults[0]
    assert rest.events == len(events_of(shop)) - 8
    assert check_at_hub(shop, address=address)[0].faults == ()


def test_what_the_hub_refuses_is_one_line(shop: Workshop, address: str) -> None:
    """A sender that does not verify is stopped by the hub itself."""
    send_to_hub(shop, address=address)
    device, *rest = events_of(shop)[-1]
    n, clock, event_id, *more, prev, digest = rest
    forged = (device, n + 1, clock + 1, f"{event_id}x", *more, prev, digest)

    with (
        pytest.raises(StoreTrouble, match=r"the hub refused what was sent: .* does not follow"),
        open_link(address) as link,
    ):
        put_events(link, 1, [forged])
    with (
        pytest.raises(StoreTrouble, match=r"the hub reports: .*; nothing half done was kept"),
        open_link(address) as link,
    ):
        link.execute("SELECT * FROM salvage.no_such_table")
    assert len(ask(address, "SELECT FROM salvage.event")) == n


def test_a_hub_without_a_whole_device_is_found(tmp_path: Path, address: str) -> None:
    """One device's chain was taken out, and the other's rests on it."""
    with ExitStack() as stack:
        fleet = Fleet(tmp_path, stack, count=2)
        first, tablet = fleet.shops
        make_piece(tablet)
        cut_circle(tablet, fleet.board.code, 30, 40)
        sign_checkpoint(tablet)
        send_to_hub(tablet, address=address)
        spoil(address, f"DELETE FROM salvage.event WHERE device = '{first.settings.device}'")
        (found,) = check_at_hub(tablet, address=address)

        assert any("cannot be replayed" in fault for fault in found.faults)
