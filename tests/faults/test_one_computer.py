"""
One computer writes in a workshop's folder, however the folder is shared.

Two computers are two state folders; what a program does that keeps a folder alike on both is done
here by copying files.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from salvage.cli.world import system_world
from salvage.errors import Refused
from salvage.store.backup import copy_database
from salvage.store.connection import connect
from salvage.store.keeper import Computer, Keeper
from salvage.store.mounts import file_system_of, read_mounts
from salvage.web.house import House
from salvage.work.donors import list_donors
from salvage.work.setup import change_settings
from tests.bench import SteppingClock, add_drop_off, make_shop, seeded_entropy
from tests.desk import Desk

# In the form of proc(5): a share with a blank in its name, and what lies on top of it.
MOUNTS = """\
22 27 0:21 / /proc rw,relatime - proc proc rw
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw
31 27 0:30 / /media/our\\040share rw - {share} server:/export rw
32 31 0:31 / /media/our\\040share/local rw shared:3 - xfs /dev/sdb1 rw
33 27 0:44 / /home rw - ext4 /dev/sdc1 rw
broken line
"""


def computer(folder: Path, name: str, *, mounts: str = "") -> Computer:
    """A computer whose user's state lies in a folder of its own."""
    return Computer(folder / f"state-{name}", name, lambda: mounts)


@pytest.fixture
def two(tmp_path: Path) -> tuple[Desk, Desk]:
    """A workshop that the laptop has begun, and the tablet that reaches its folder too."""
    laptop = Desk(tmp_path, computer=computer(tmp_path, "laptop"))
    tablet = Desk(tmp_path, computer=computer(tmp_path, "tablet"))
    laptop.do("setup name='Tidewrack Workshop'")
    return laptop, tablet


def test_a_second_computer_may_look_but_not_write(two: tuple[Desk, Desk]) -> None:
    """Whoever reaches the folder reads it; writing is refused with both ways out."""
    laptop, tablet = two
    before = (tablet.shop / "workshop.db").read_bytes()
    looked = tablet.do("setup --json")
    refused = tablet.run("setup name=Other")
    tried = tablet.run("setup name=Other --dry-run")
    rebuilt = tablet.run("rebuild")
    unchanged = before == (tablet.shop / "workshop.db").read_bytes()
    again = laptop.do("setup name=Again")

    assert looked.value["name"] == "Tidewrack Workshop"
    assert looked.err == ""
    for told in (refused, tried, rebuilt):
        assert told.code == 1
        assert "was last written on another computer (laptop)" in told.err
        assert "salvage device add" in told.err
        assert "salvage device take-over" in told.err
    assert unchanged
    assert again.err.count("another") == 0


def test_a_folder_that_moved_is_taken_over_by_one_command(two: tuple[Desk, Desk]) -> None:
    """On the new computer one command lets it write; the old one is refused from then on."""
    laptop, tablet = two
    tried = tablet.do("device take-over --dry-run")
    still = tablet.run("setup name=Other")
    told = tablet.do("device take-over --json").value
    tablet.do("setup name=Other")
    refused = laptop.run("setup name=Mine")

    assert "would write" in tried.out
    assert still.code == 1
    assert (told["was"], told["events"]) == ("laptop", 2)
    assert "another computer (tablet)" in refused.err
    assert tablet.do("setup --json").value["name"] == "Other"


def test_one_computer_alone_is_never_asked(two: tuple[Desk, Desk], tmp_path: Path) -> None:
    """Copies, a moved folder, a workshop made anew in the same place: nothing is in the way."""
    laptop, _ = two
    laptop.do("setup name=B")
    laptop.do("backup stick")
    laptop.do("backup shop/workshop-2026.db")
    laptop.do("setup name=C")
    shutil.copytree(laptop.shop, tmp_path / "copied")
    copied = laptop.do("--shop copied setup name=D")
    laptop.shop.rename(tmp_path / "moved")
    moved = laptop.do("--shop moved setup name=E")
    laptop.do("restore stick")
    restored = laptop.do("setup name=F")
    shutil.rmtree(laptop.shop)
    anew = laptop.do("setup name=G")

    assert [told.err.count("computer") for told in (copied, moved, restored, anew)] == [0, 0, 0, 0]


def test_an_older_database_that_was_brought_back_is_refused(two: tuple[Desk, Desk]) -> None:
    """What this computer wrote is remembered, so a file of yesterday cannot take its place."""
    laptop, _ = two
    shutil.copytree(laptop.shop, laptop.folder / "yesterday")
    laptop.do("setup name=Today")
    shutil.copy(laptop.folder / "yesterday" / "workshop.db", laptop.shop / "workshop.db")
    looked = laptop.do("journal --json")
    refused = laptop.run("setup name=Tomorrow")
    checked = laptop.run("check")
    laptop.do("device take-over")
    after = laptop.do("setup name=Tomorrow")

    assert len(looked.value) == 2
    assert "is older than what this computer wrote" in looked.err
    assert refused.code == 1
    assert "is older than what this computer wrote" in refused.err
    assert checked.code == 1
    assert "FAULT  one computer alone writes in the folder" in checked.out
    assert after.err.count("older") == 0


def test_a_database_that_went_another_way_is_refused(two: tuple[Desk, Desk]) -> None:
    """As many events, but others: two histories of one device are told apart by their hashes."""
    laptop, tablet = two
    shutil.copytree(laptop.shop, laptop.folder / "there")
    laptop.do("setup name=Here")
    tablet.do("--shop there device take-over")
    tablet.do("--shop there setup name=There")
    shutil.copy(laptop.folder / "there" / "workshop.db", laptop.shop / "workshop.db")
    refused = laptop.run("setup name=More")

    assert "is older than what this computer wrote" in refused.err


@pytest.mark.parametrize("name", ["workshop (2).db", "workshop.db.second", "workshop-of-laptop.db"])
def test_a_second_database_with_other_events_is_refused(name: str, two: tuple[Desk, Desk]) -> None:
    """Where both wrote, two files lie there; a mere copy beside the database is no trouble."""
    laptop, tablet = two
    shutil.copy(laptop.shop / "workshop.db", laptop.shop / name)
    fine = laptop.do("setup name=Here")
    shutil.copytree(laptop.shop, laptop.folder / "there")
    tablet.do("--shop there device take-over")
    for title in ("One", "Two"):
        tablet.do(f"--shop there setup name={title}")
    shutil.copy(laptop.folder / "there" / "workshop.db", laptop.shop / name)
    refused = laptop.run("setup name=More")
    looked = laptop.do("journal --json")
    checked = laptop.run("check --json")
    (laptop.shop / name).rename(laptop.folder / "aside.db")
    mended = laptop.do("setup name=More")

    assert fine.err.count("beside") == 0
    for told in (refused, looked):
        assert f"{name} beside the database holds 2 events" in told.err
    assert [line["name"] for line in checked.value if not line["ok"]] == [
        "one computer alone writes in the folder"
    ]
    assert mended.err.count("beside") == 0


def test_what_is_no_database_of_this_workshop_is_passed_over(two: tuple[Desk, Desk]) -> None:
    """Another workshop's database, a broken file and a note have nothing to do with it."""
    laptop, _ = two
    with make_shop(laptop.folder / "other", seed=7) as other:
        add_drop_off(other)
        copy_database(other.conn, laptop.shop / "workshop-other.db")
    (laptop.shop / "workshop.db.broken").write_bytes(b"\0" * 5000)
    (laptop.shop / "workshop.txt").write_text("our workshop")
    sqlite3.connect(laptop.shop / "workshop-empty.db").close()

    assert laptop.do("setup name=More").err.count("beside") == 0


def test_changes_of_a_computer_that_is_still_at_work_are_not_read(two: tuple[Desk, Desk]) -> None:
    """A log that came along from another computer is not poured into the database."""
    laptop, tablet = two
    conn = connect(laptop.shop / "workshop.db")
    with conn:
        conn.execute("CREATE TABLE IF NOT EXISTS told_later (n INTEGER)")
    log = laptop.shop / "workshop.db-wal"
    kept = log.read_bytes()
    refused = [tablet.run(line) for line in ("setup", "setup name=Other", "check")]
    own = laptop.run("setup")
    unread = log.read_bytes() == kept
    taken = tablet.run("device take-over")
    conn.close()

    assert kept
    assert unread
    for told in refused:
        assert told.code == 1
        assert "is open on another computer (laptop)" in told.err
    assert own.code == 0
    assert taken.code == 0


def test_an_older_schema_of_another_computer_is_not_changed(two: tuple[Desk, Desk]) -> None:
    """A look from a newer version does not rewrite a workshop that somebody else keeps."""
    laptop, tablet = two
    path = laptop.shop / "workshop.db"
    data = bytearray(path.read_bytes())
    data[60:64] = (3).to_bytes(4, "big")
    path.write_bytes(data)
    refused = tablet.run("setup")

    assert refused.code == 1
    assert "would bring the workshop of another computer (laptop) up to date" in refused.err
    assert path.read_bytes() == bytes(data)


def test_the_page_asks_the_keeper_too(two: tuple[Desk, Desk]) -> None:
    """What the page writes is refused as well where another computer keeps the folder."""
    laptop, tablet = two
    assert tablet.computer is not None
    keeper = Keeper(tablet.computer, laptop.shop, clock=SteppingClock(), entropy=seeded_entropy(3))
    house = House(laptop.shop, frozenset({"127.0.0.1:1"}), keeper=keeper)
    with house.open() as shop:
        looked = list_donors(shop)
        with pytest.raises(Refused, match="another computer"):
            change_settings(shop, typed={"name": "Other"})

    assert looked == ()


@pytest.mark.parametrize("note", ["", "{}", "[1]", '{"computer": 1}', "\xff"])
def test_a_spoilt_note_is_made_anew(note: str, two: tuple[Desk, Desk]) -> None:
    """Notes that somebody spoilt stand in nobody's way."""
    laptop, _ = two
    (laptop.shop / "last-writer.json").write_text(note, "latin-1")
    (memory,) = (laptop.folder / "state-laptop" / "workshops").iterdir()
    memory.write_text(note, "latin-1")
    laptop.do("setup name=More")

    assert json.loads(memory.read_text())["seq"] == 3
    assert json.loads((laptop.shop / "last-writer.json").read_text())["name"] == "laptop"


def test_without_a_state_folder_the_work_goes_on(tmp_path: Path) -> None:
    """Where nothing can be remembered, nobody keeps watch, and taking over says so."""
    (tmp_path / "state-laptop").write_text("a file where a folder should be")
    laptop = Desk(tmp_path, computer=computer(tmp_path, "laptop"))
    laptop.do("setup name=A")
    laptop.do("setup name=B")
    told = laptop.run("device take-over")
    unwatched = Desk(tmp_path).run("device take-over")

    assert "cannot be written" in told.err
    assert "no watch is kept" in unwatched.err
    assert not (laptop.shop / "last-writer.json").exists()


@pytest.mark.parametrize("share", ["nfs4", "cifs", "fuse.sshfs", "9p"])
def test_a_network_share_is_told_once(share: str, tmp_path: Path) -> None:
    """One line with the mend at the first command; look-ups and work go on; check repeats it."""
    mounts = MOUNTS.format(share=share).replace("/media/our\\040share", str(tmp_path))
    desk = Desk(tmp_path, computer=computer(tmp_path, "laptop", mounts=mounts))
    first = desk.do("setup name=A")
    second = desk.do("setup name=B")
    looked = desk.do("setup --json")
    checked = desk.do("check")

    assert first.err.count(f"on a network share ({share})") == 1
    assert "salvage backup, then salvage restore" in first.err
    assert "network" not in second.err + looked.err
    assert f"on a network share, {share}" in checked.out
    assert "salvage backup, then salvage restore" in checked.err


def test_the_newest_and_nearest_mount_counts() -> None:
    """Folders within a share, on a disk within it, and beside it (proc(5), mountinfo)."""
    mounts = MOUNTS.format(share="nfs4")
    places = {
        "/media/our share/shop": "nfs4",
        "/media/our share": "nfs4",
        "/media/our share/local/shop": "xfs",
        "/media/our shared": "ext4",
        "/home/maren": "ext4",
        "/": "ext4",
    }

    assert {place: file_system_of(place, mounts) for place in places} == places
    assert file_system_of("/home", "") == ""


def test_the_system_list_of_mounts_is_read(tmp_path: Path) -> None:
    """Where there is a list, the root of it has a type; where there is none, nothing is said."""
    (tmp_path / "mounts").write_text(MOUNTS.format(share="nfs"))

    assert file_system_of("/", read_mounts(tmp_path / "mounts")) == "ext4"
    assert read_mounts(tmp_path / "none") == ""


def test_the_state_folder_is_where_the_desktop_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification 0.8: $XDG_STATE_HOME, else ~/.local/state."""
    monkeypatch.delenv("SALVAGE_STATE", raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "states"))
    named = system_world().computer()
    monkeypatch.delenv("XDG_STATE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path))
    usual = system_world().computer()
    monkeypatch.setenv("SALVAGE_STATE", str(tmp_path / "mine"))
    own = system_world().computer()

    assert named is not None
    assert usual is not None
    assert own is not None
    assert named.state == tmp_path / "states" / "salvage"
    assert usual.state == tmp_path / ".local" / "state" / "salvage"
    assert own.state == tmp_path / "mine"
