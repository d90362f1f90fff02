"""Copies of a workshop on a stick: what they say of themselves, and what they are refused for."""

from __future__ import annotations

import json
import os
import sqlite3
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import NotFound, Refused, StoreTrouble
from salvage.store import copies
from salvage.store.copies import CopyHead, copies_in, lay_out, read_copy, write_copy
from salvage.store.files import FileStore
from salvage.store.journal import read_head
from salvage.work.forget import forget_donor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, START, add_drop_off, make_shop

NOW = "2026-05-04T09:00:00.000Z"


def copy_to(
    shop: Workshop, folder: Path, *, now: str = NOW, keep: int = 3, told: list[str] | None = None
) -> CopyHead:
    """A copy of the workshop, its steps noted."""
    store = FileStore(shop.folder / "files")
    note = told.append if told is not None else None
    return write_copy(shop.conn, store, folder, now=now, keep=keep, progress=note)


def test_a_copy_tells_what_it_holds(empty_shop: Workshop, tmp_path: Path) -> None:
    """Hour, events, the heads as on paper, files, and what was missing already."""
    add_drop_off(empty_shop)
    store = FileStore(empty_shop.folder / "files")
    kept = [store.save(b"one"), store.save(b"two")]
    for sha256 in (*kept, "0" * 64):
        empty_shop.conn.execute("INSERT INTO file VALUES (?, 'image/png', 3, '')", (sha256,))
    told: list[str] = []
    head = copy_to(empty_shop, tmp_path / "stick", told=told)
    own = read_head(empty_shop.conn, empty_shop.settings.device)

    assert head == CopyHead(NOW, own.count, (own.short,), 3, ("0" * 64,), ())
    assert read_copy(tmp_path / "stick") == head
    assert told == [
        *("the database", "checking the copy"),
        *("file 1 of 3", "file 2 of 3", "file 3 of 3"),
    ]
    assert sorted(FileStore(tmp_path / "stick" / "files").kept()) == sorted(kept)
    assert sorted(path.name for path in (tmp_path / "stick").iterdir()) == [
        *("copy.json", "files", "workshop.db"),
    ]


def test_as_many_older_copies_are_kept_as_asked(empty_shop: Workshop, tmp_path: Path) -> None:
    """The oldest go first; each is named by the hour at which it was made."""
    for hour in range(10, 15):
        copy_to(empty_shop, tmp_path / "stick", now=f"2026-05-04T{hour}:00:00.000Z", keep=2)
    found = copies_in(tmp_path / "stick")
    copy_to(empty_shop, tmp_path / "stick", now="2026-05-05T09:00:00.000Z", keep=0)

    assert list(found) == ["20260504140000", "20260504130000", "20260504120000"]
    assert found["20260504140000"] == tmp_path / "stick" / "workshop.db"
    assert list(copies_in(tmp_path / "stick")) == ["20260505090000"]


def test_a_stick_without_links_keeps_older_copies_too(
    empty_shop: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a file can have one name only, as on most sticks, the older database is copied."""

    def no_links(source: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    copy_to(empty_shop, tmp_path / "stick")
    first = (tmp_path / "stick" / "workshop.db").read_bytes()
    add_drop_off(empty_shop)
    copy_to(empty_shop, tmp_path / "stick", now="2026-05-05T09:00:00.000Z")
    older = list((tmp_path / "stick" / "older").iterdir())

    assert [path.name for path in older] == ["workshop-20260504090000.db"]
    assert older[0].read_bytes() == first


def test_a_copy_whose_head_was_lost_is_kept_all_the_same(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """Nobody knows its hour any more, but the database is there, and stays."""
    copy_to(empty_shop, tmp_path / "stick")
    (tmp_path / "stick" / "copy.json").write_text("{")
    with pytest.raises(NotFound, match=r"holds no copy of a workshop.*salvage backup"):
        read_copy(tmp_path / "stick")
    copy_to(empty_shop, tmp_path / "stick", now="2026-05-05T09:00:00.000Z")

    assert list(copies_in(tmp_path / "stick")) == ["20260505090000", str(os.getpid())]


@pytest.mark.parametrize("harm", ["no json", "[]", '{"made_at": "x"}', '{"events": "many"}'])
def test_a_head_that_cannot_be_read_is_no_copy(
    empty_shop: Workshop, tmp_path: Path, harm: str
) -> None:
    """Whatever stands in its file."""
    copy_to(empty_shop, tmp_path / "stick")
    fields = json.loads((tmp_path / "stick" / "copy.json").read_text())
    text = json.dumps({**fields, **json.loads(harm)}) if "many" in harm else harm
    (tmp_path / "stick" / "copy.json").write_text(text)

    with pytest.raises(NotFound, match="holds no copy"):
        read_copy(tmp_path / "stick")


def test_a_head_without_its_database_is_no_copy(empty_shop: Workshop, tmp_path: Path) -> None:
    """What was copied in part by hand is not taken for a copy."""
    copy_to(empty_shop, tmp_path / "stick")
    (tmp_path / "stick" / "workshop.db").unlink()

    with pytest.raises(NotFound, match="holds no copy"):
        read_copy(tmp_path / "stick")


def test_a_record_that_points_to_nothing_is_not_copied(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """A workshop that is not in order is told, and the last copy stays."""
    copy_to(empty_shop, tmp_path / "stick")
    before = (tmp_path / "stick" / "workshop.db").read_bytes()
    empty_shop.conn.execute("PRAGMA foreign_keys = OFF")
    add_drop_off(empty_shop)
    empty_shop.conn.execute("DELETE FROM donor")

    with pytest.raises(StoreTrouble, match=r"row 1 of drop_off points to nothing.*salvage check"):
        copy_to(empty_shop, tmp_path / "stick")

    assert (tmp_path / "stick" / "workshop.db").read_bytes() == before
    assert not list((tmp_path / "stick").glob(".new*"))


def test_another_programs_database_is_no_copy(empty_shop: Workshop, tmp_path: Path) -> None:
    """A folder with a file of that name from elsewhere is left alone."""
    (tmp_path / "stick").mkdir()
    other = sqlite3.connect(tmp_path / "stick" / "workshop.db")
    other.execute("CREATE TABLE event (seq, id)")
    other.close()

    with pytest.raises(StoreTrouble, match="another program's database"):
        copy_to(empty_shop, tmp_path / "stick")


def test_a_copy_goes_into_a_folder_of_its_own(empty_shop: Workshop, tmp_path: Path) -> None:
    """No file is replaced, no folder of others filled, no other workshop's copy lost."""
    (tmp_path / "letter").write_text("dear sir")
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "one").write_text("dear sir")
    (tmp_path / "fresh").mkdir()
    for name in (".hidden", "files", "older"):
        (tmp_path / "fresh" / name).mkdir()
    with make_shop(tmp_path / "other", seed=8) as other:
        copy_to(other, tmp_path / "theirs")

    for name, says in (
        ("letter", r"letter is a file.*name a folder"),
        ("letters", r"letters holds other things \(one\)"),
        ("theirs", "holds the copy of another workshop"),
        ("nowhere/stick", r"nowhere is not there.*plug the disk in"),
    ):
        with pytest.raises(Refused, match=says):
            copy_to(empty_shop, tmp_path / name)
    assert copy_to(empty_shop, tmp_path / "fresh").events


def test_the_forgotten_are_erased_from_all_copies_that_hold_them(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """A copy from before the donor came is left as it is; the one with the name loses it."""
    copy_to(empty_shop, tmp_path / "stick", now="2026-05-01T09:00:00.000Z")
    new = NewDropOff(START.date(), "a box")
    donor = log_drop_off(empty_shop, donor=PLANETARIUM, new=new).donor.donor.code
    copy_to(empty_shop, tmp_path / "stick", now="2026-05-02T09:00:00.000Z")
    forget_donor(empty_shop, donor=donor, reason="asked by letter")
    older = tmp_path / "stick" / "older" / "workshop-20260501090000.db"
    before = older.read_bytes()
    head = copy_to(empty_shop, tmp_path / "stick", now="2026-05-03T09:00:00.000Z")
    held = [path.read_bytes() for path in (tmp_path / "stick").rglob("*.db")]

    assert head.forgotten == (donor,)
    assert older.read_bytes() == before
    assert len(held) == 3
    assert not any(b"Kelpie" in data for data in held)


def test_a_copy_is_laid_out_whole_or_not_at_all(empty_shop: Workshop, tmp_path: Path) -> None:
    """The files that are missing or spoilt are named, unless the maker goes on without them."""
    store, told = FileStore(empty_shop.folder / "files"), list[str]()
    kept = [store.save(bytes([number])) for number in range(7)]
    for sha256 in kept:
        empty_shop.conn.execute("INSERT INTO file VALUES (?, 'image/png', 1, '')", (sha256,))
    copy_to(empty_shop, tmp_path / "stick")
    stick = FileStore(tmp_path / "stick" / "files")
    lost = sorted(kept)[:6]
    for sha256 in lost[1:]:
        stick.path(sha256).unlink()
    stick.path(lost[0]).write_bytes(b"spoilt")
    database = copies_in(tmp_path / "stick")["20260504090000"]
    for name in ("one", "two"):
        (tmp_path / name).mkdir()

    named = ", ".join(sha256[:12] for sha256 in lost[:5])
    with pytest.raises(StoreTrouble, match=rf"6 of 7 files .* in the copy: {named};.*--incomplete"):
        lay_out(database, stick, tmp_path / "one", tell=told.append)
    found = lay_out(database, stick, tmp_path / "two", tell=told.append, incomplete=True)

    assert found == tuple(lost)
    assert told[0] == "the database"
    assert list(FileStore(tmp_path / "two" / "files").kept()) == [sorted(kept)[6]]


@pytest.mark.parametrize(
    ("system", "answer", "stays"),
    [
        ("posix", None, True),  # somebody of this number is at work
        ("posix", PermissionError(), True),  # somebody else's
        ("posix", ProcessLookupError(), False),
        ("another", AssertionError("asking ends it"), False),
    ],
)
def test_what_a_writer_that_lives_has_begun_is_left_to_it(
    empty_shop: Workshop,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    system: str,
    answer: BaseException | None,
    stays: bool,
) -> None:
    """Only what a dead process left, and left long ago, is swept away."""

    def kill(process: int, signal: int) -> None:
        assert (process, signal) == (4711, 0)
        if answer is not None:
            raise answer

    stick = tmp_path / "stick"
    copy_to(empty_shop, stick)
    began_s = datetime.fromisoformat(NOW).timestamp()
    for name, age_s in ((".new-4711.db", 601), (".copy.json-4711", 601), (".new-4711.db-wal", 599)):
        (stick / name).write_text("half")
        os.utime(stick / name, (began_s - age_s, began_s - age_s))
    (stick / ".new-kelp.db").write_text("no number")
    os.utime(stick / ".new-kelp.db", (0, 0))
    monkeypatch.setattr(os, "kill", kill)
    monkeypatch.setattr(copies, "os", _System(system))
    copy_to(empty_shop, stick)
    left = {path.name for path in stick.glob(".*")}

    both = {".new-4711.db", ".copy.json-4711"} if stays else set()
    assert left == {".new-4711.db-wal", ".new-kelp.db"} | both


class _System:
    """The system's own module, under another name of the system."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)


def test_a_folder_among_the_older_copies_is_none_of_them(
    empty_shop: Workshop, tmp_path: Path
) -> None:
    """Whatever else lies there, by whatever name, is no database to go back to."""
    stick = tmp_path / "stick"
    copy_to(empty_shop, stick)
    (stick / "older" / "workshop-20260101-000000.db").mkdir(parents=True)

    assert len(copies_in(stick)) == 1
