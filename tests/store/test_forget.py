"""Erasing to the last byte, and finding what still holds the words."""

from __future__ import annotations

import os
import sqlite3
import zipfile
from typing import Any

import pytest

from salvage.ids import Code
from salvage.store import forget
from salvage.store.forget import (
    copies_that_hold,
    erase,
    flush_erased,
    forgotten_seals,
    seals_of_donor,
)
from salvage.work.correct import DonorCorrection, correct_donor
from salvage.work.forget import forget_donor
from salvage.work.workshop import Workshop
from tests.bench import add_drop_off


def donor_of(shop: Workshop) -> Code:
    """The code of a donor with a sealed name."""
    add_drop_off(shop)
    return Code(shop.conn.execute("SELECT code FROM donor").fetchone()[0])


def salt_lies(shop: Workshop, salt: str) -> bool:
    """Whether a salt stands anywhere in the database's files."""
    return any(
        salt.encode() in path.read_bytes() for path in shop.folder.glob(f"{shop.path.name}*")
    )


def test_every_seal_of_a_donor_is_found_and_nobody_elses(empty_shop: Workshop) -> None:
    """The first name, the corrected one and the contact, from the index and from the journal."""
    donor = donor_of(empty_shop)
    new = DonorCorrection(name="Kelpie Point Observatory", contact="12 Sandpiper Quay")
    correct_donor(empty_shop, donor=donor, new=new, why="misread")
    add_drop_off(empty_shop)
    sealed = dict(empty_shop.conn.execute("SELECT seal, value FROM private_field"))
    seals = seals_of_donor(empty_shop.conn, donor)
    before = forgotten_seals(empty_shop.conn)
    others = {seal for seal in sealed if seal not in seals}
    forget_donor(empty_shop, donor=donor, reason="asked")
    left = {seal for (seal,) in empty_shop.conn.execute("SELECT seal FROM private_field")}

    assert before == frozenset()
    assert sorted(sealed[seal] for seal in seals) == [
        *("12 Sandpiper Quay", "Kelpie Point Observatory", "Kelpie Point Planetarium"),
    ]
    assert forgotten_seals(empty_shop.conn) == frozenset(seals)
    assert left == others


def test_erasing_tells_the_salts_that_were_there(empty_shop: Workshop) -> None:
    """By them it can be seen whether a byte is left; a seal that is unknown has none."""
    donor = donor_of(empty_shop)
    (seal,) = seals_of_donor(empty_shop.conn, donor)
    ((salt,),) = empty_shop.conn.execute("SELECT salt FROM private_field").fetchall()

    assert erase(empty_shop.conn, ["00" * 32]) == ()
    assert erase(empty_shop.conn, [seal, "00" * 32]) == (salt,)
    assert erase(empty_shop.conn, [seal]) == ()


def erased(shop: Workshop) -> tuple[str, ...]:
    """The salts of a donor's words that were erased a moment ago."""
    seals = seals_of_donor(shop.conn, donor_of(shop))
    return erase(shop.conn, seals)


def test_what_was_erased_is_flushed_to_the_last_byte(empty_shop: Workshop) -> None:
    """It still stands in the write-ahead log, and then nowhere."""
    salts = erased(empty_shop)
    before = salt_lies(empty_shop, salts[0])

    assert before
    assert flush_erased(empty_shop.conn, empty_shop.path, salts)
    assert not salt_lies(empty_shop, salts[0])


def test_a_byte_left_on_a_free_page_is_found_and_removed(empty_shop: Workshop) -> None:
    """Where an older program did not overwrite, the database is made anew."""
    empty_shop.conn.execute("PRAGMA secure_delete = OFF")
    empty_shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    salts = erased(empty_shop)
    empty_shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = salt_lies(empty_shop, salts[0])

    assert before
    assert flush_erased(empty_shop.conn, empty_shop.path, salts)
    assert not salt_lies(empty_shop, salts[0])


def test_a_byte_that_stays_whatever_is_done_is_told(empty_shop: Workshop) -> None:
    """Where the words stand in a row after all, nobody is told that they are gone."""
    add_drop_off(empty_shop)
    ((salt,),) = empty_shop.conn.execute("SELECT salt FROM private_field").fetchall()

    assert not flush_erased(empty_shop.conn, empty_shop.path, [salt])


class Counted:
    """A connection on which somebody begins to read after so many checkpoints."""

    def __init__(self, conn: sqlite3.Connection, free: int) -> None:
        self._conn, self._free = conn, free

    def execute(self, sql: str) -> Any:
        if "wal_checkpoint" in sql:
            self._free -= 1
            self._conn.execute(sql)
            return self._conn.execute(f"SELECT {int(self._free < 0)}, 0, 0")
        return self._conn.execute(sql)


@pytest.mark.parametrize("free", [0, 1, 2])
def test_a_reader_in_the_way_is_told(empty_shop: Workshop, free: int) -> None:
    """While another program reads, the log cannot be emptied; the maker is told to do it again."""
    add_drop_off(empty_shop)
    ((salt,),) = empty_shop.conn.execute("SELECT salt FROM private_field").fetchall()
    conn: Any = Counted(empty_shop.conn, free)

    assert not flush_erased(conn, empty_shop.path, [salt])


def test_a_byte_is_found_across_two_stretches_of_the_file(
    empty_shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is searched bit by bit, and no word can hide where two of them meet."""
    donor_of(empty_shop)
    ((salt,),) = empty_shop.conn.execute("SELECT salt FROM private_field").fetchall()
    empty_shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    place = empty_shop.path.read_bytes().index(salt.encode())
    for into in (1, 30, 63):
        monkeypatch.setattr(forget, "_STRETCH", place + into)

        assert not flush_erased(empty_shop.conn, empty_shop.path, [salt])


def test_another_system_finds_what_is_left_too(
    empty_shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where locks belong to the open file, the database is opened for each look."""
    salts = erased(empty_shop)
    add_drop_off(empty_shop)
    ((kept,),) = empty_shop.conn.execute("SELECT salt FROM private_field").fetchall()
    monkeypatch.setattr(os, "name", "another")
    gone = flush_erased(empty_shop.conn, empty_shop.path, salts)
    stays = flush_erased(empty_shop.conn, empty_shop.path, [kept])
    monkeypatch.undo()

    assert gone
    assert not stays


def test_a_real_reader_in_the_way_is_told(empty_shop: Workshop) -> None:
    """The same with another connection that holds the log."""
    empty_shop.conn.execute("PRAGMA busy_timeout = 20")
    salts = erased(empty_shop)
    reader = sqlite3.connect(empty_shop.path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM event").fetchone()
    add_drop_off(empty_shop)
    busy = flush_erased(empty_shop.conn, empty_shop.path, salts)
    reader.execute("COMMIT")
    reader.close()

    assert not busy
    assert flush_erased(empty_shop.conn, empty_shop.path, salts)


def test_copies_and_bundles_that_hold_the_words_are_found(empty_shop: Workshop) -> None:
    """In the folder and among the backups; damaged files and others are passed over."""
    folder = empty_shop.folder
    (seal,) = seals_of_donor(empty_shop.conn, donor_of(empty_shop))
    (folder / "backups").mkdir(exist_ok=True)
    for name in ("old.db", "backups/older.db", "cache.db"):
        copy = sqlite3.connect(folder / name)
        empty_shop.conn.backup(copy)
        if name == "cache.db":
            copy.execute("DROP TABLE private_field")
            copy.commit()
        copy.close()
    (folder / "spoilt.db").write_text("no database" * 100)
    for name, text in (("a.zip", seal), ("backups/b.zip", f"x{seal}y"), ("c.zip", "others")):
        with zipfile.ZipFile(folder / name, "w") as bundle:
            bundle.writestr("sealed.jsonl", text)
    with zipfile.ZipFile(folder / "photos.zip", "w") as bundle:
        bundle.writestr("front.png", seal)
    (folder / "spoilt.zip").write_text(seal)
    (folder / "folder.zip").mkdir()
    found = copies_that_hold(folder, empty_shop.path, [seal, "00" * 32])

    assert [str(path.relative_to(folder)) for path in found] == [
        *("backups/older.db", "old.db", "a.zip", "backups/b.zip"),
    ]
    assert copies_that_hold(folder, empty_shop.path, ["00" * 32]) == ()
