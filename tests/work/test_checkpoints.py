"""Signed checkpoints: what a chain alone cannot show, they show."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from salvage.canonical import canonical_bytes
from salvage.errors import BadFile, StoreTrouble
from salvage.store.journal import verify_chain
from salvage.store.signing import KEY_NAME
from salvage.work.check import rebuild_tables, run_checks
from salvage.work.checkpoints import FOLDER, sign_checkpoint, verify_checkpoint
from salvage.work.pieces import set_price
from salvage.work.workshop import Workshop
from tests.bench import make_shop
from tests.work.harms import rechain, without_guards
from tests.work.stock import Stock


@pytest.fixture
def stock(empty_shop: Workshop) -> Stock:
    """A workshop in which one of everything has happened."""
    return Stock(empty_shop)


def _verify(shop: Workshop, data: bytes) -> tuple[str, ...]:
    return verify_checkpoint(shop, data=data, name="june.json").faults


def test_a_checkpoint_holds_while_the_journal_grows(stock: Stock) -> None:
    """What is added later changes nothing that was signed, and every line is green."""
    shop = stock.shop
    data = sign_checkpoint(shop).data
    set_price(shop, pieces=[stock.piece], price_minor=900)

    assert _verify(shop, data) == ()
    assert all(line.ok for line in run_checks(shop))


def test_the_key_is_made_once_and_is_its_owners_alone(stock: Stock) -> None:
    """Others on the computer cannot read it, and it is not in the journal."""
    shop = stock.shop
    first, second = sign_checkpoint(shop), sign_checkpoint(shop)
    path = shop.folder / KEY_NAME
    (keyed,) = shop.conn.execute("SELECT count(*) FROM event WHERE kind = 'device.keyed'")

    assert path.stat().st_mode & 0o777 == 0o600
    assert first.public_key == second.public_key
    assert keyed == (1,)
    assert path.read_bytes().splitlines()[1] not in shop.path.read_bytes()


def test_a_lost_key_is_replaced_and_old_checkpoints_stay_good(stock: Stock) -> None:
    """The journal names both keys."""
    old = sign_checkpoint(stock.shop)
    (stock.shop.folder / KEY_NAME).unlink()
    new = sign_checkpoint(stock.shop)

    assert old.public_key != new.public_key
    assert _verify(stock.shop, old.data) == _verify(stock.shop, new.data) == ()


def test_a_cut_off_tail_is_seen(stock: Stock) -> None:
    """The chain verifies without its last events; the checkpoint does not."""
    shop = stock.shop
    sign_checkpoint(shop)
    set_price(shop, pieces=[stock.piece], price_minor=900)
    data = sign_checkpoint(shop).data
    without_guards(
        "DELETE FROM event_item WHERE seq = (SELECT max(seq) FROM event)",
        "DELETE FROM event WHERE seq = (SELECT max(seq) FROM event)",
    )(shop)
    rebuild_tables(shop)

    assert verify_chain(shop.conn)
    assert "its tail was cut off" in _verify(shop, data)[0]
    assert [line.name for line in run_checks(shop) if not line.ok] == [
        "signed checkpoints still hold"
    ]


def test_a_journal_worked_out_anew_is_seen(stock: Stock) -> None:
    """What came in a box, changed with every hash made to fit: only the checkpoint tells."""
    shop = stock.shop
    data = sign_checkpoint(shop).data

    def nobler(bodies: list[dict[str, object]]) -> None:
        for body in bodies:
            if body["kind"] == "dropoff.logged":
                body["data"] = {**body["data"], "contents": "gold"}  # type: ignore[dict-item]

    rechain(shop, nobler)
    (fault,) = _verify(shop, data)

    assert verify_chain(shop.conn)
    assert "history was rewritten" in fault
    assert [line.name for line in run_checks(shop) if not line.ok] == [
        "signed checkpoints still hold"
    ]


def test_another_workshop_is_told(stock: Stock, tmp_path: Path) -> None:
    """A checkpoint of somebody else's journal fits nothing here."""
    data = sign_checkpoint(stock.shop).data
    with make_shop(tmp_path / "other", seed=2) as other:
        faults = _verify(other, data)

    assert any("of another workshop" in fault for fault in faults)
    assert any("does not know its key" in fault for fault in faults)


@pytest.mark.parametrize(
    ("forge", "says"),
    [
        (lambda v: v["signed"]["chains"][0].update(count=3), "signature is not good"),
        (lambda v: v["signed"].update(at="2020-01-01T00:00:00Z"), "signature is not good"),
        (lambda v: v.update(signature="00" * 64), "signature is not good"),
        (lambda v: v.update(signature="no"), "signature is not good"),
    ],
)
def test_a_forged_checkpoint_is_told(
    stock: Stock, forge: Callable[[dict[str, object]], None], says: str
) -> None:
    """Whatever is changed in the file, its signature no longer fits."""
    value = json.loads(sign_checkpoint(stock.shop).data)
    forge(value)
    (fault,) = _verify(stock.shop, canonical_bytes(value))

    assert says in fault


@pytest.mark.parametrize(
    "data", [b"", b"[]", b"{}", b'"x"', b'{"signed":{},"signature":""}', b"\xff", b"[" * 100_000]
)
def test_no_checkpoint_is_told(stock: Stock, data: bytes) -> None:
    """A file of another sort gives one clear line."""
    with pytest.raises(BadFile, match="is no checkpoint"):
        _verify(stock.shop, data)


def test_a_spoilt_checkpoint_in_the_folder_turns_the_line_red(stock: Stock) -> None:
    """A file that was shortened is named."""
    sign_checkpoint(stock.shop)
    (path,) = (stock.shop.folder / FOLDER).glob("*.json")
    path.write_bytes(path.read_bytes()[:50])
    (line,) = [line for line in run_checks(stock.shop) if not line.ok]

    assert f"{path.name}: {path.name} is no checkpoint" in line.faults[0]


def test_a_checkpoint_half_written_is_none(stock: Stock) -> None:
    """Killed while a checkpoint was kept, the workshop is as sound as before."""
    sign_checkpoint(stock.shop)
    (path,) = (stock.shop.folder / FOLDER).glob("*.json")
    path.with_name(f".part-7-{path.name}").write_bytes(path.read_bytes()[:40])

    assert [line.name for line in run_checks(stock.shop) if line.faults] == []


def test_a_dry_run_leaves_no_key(stock: Stock) -> None:
    """Neither key nor checkpoint nor event is there afterwards."""
    heads = verify_chain(stock.shop.conn)
    sign_checkpoint(stock.shop, dry_run=True)

    assert not (stock.shop.folder / KEY_NAME).exists()
    assert not (stock.shop.folder / FOLDER).exists()
    assert verify_chain(stock.shop.conn) == heads


def test_a_spoilt_key_is_named(stock: Stock) -> None:
    """The maker is told what to do with it, and nothing is written."""
    (stock.shop.folder / KEY_NAME).write_text("no key")

    with pytest.raises(StoreTrouble, match="holds no signing key"):
        sign_checkpoint(stock.shop)
