"""
Everything out in open forms, and back into an empty workshop.

The workshop is that of the three faces, in which every table has rows. What comes back is compared
row by row; what somebody changed, cut short, took away or added on the way is refused in one line.
"""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from csvw import CSVW

from salvage.store.projection import TABLES
from salvage.work.check import run_checks
from salvage.work.donors import NewDonor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import START, add_drop_off, dump, make_shop
from tests.desk import Desk, Told
from tests.faces.test_three_faces import play_python
from tests.faults.export_harms import HARMS, HIDDEN, Harm, reseal

# No part of the record: the schema's own list, and what pages and other devices are known to have.
LEFT_OUT = ("schema_file", "told", "page_deed")


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a workshop in which everything happened, and its exports."""
    folder = tmp_path_factory.mktemp("full")
    play_python(folder)
    desk = Desk(folder)
    desk.do("export all named --with-names")
    desk.do("export all unnamed")
    return folder


def restored(full: Path, export: str, target: Path, *, more: str = "") -> Told:
    """Restore one of the exports."""
    return Desk(full).run(f"--shop {target} restore {full / export} {more}")


@pytest.fixture(scope="module")
def back(full: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """The workshop that was made from the export with names."""
    target = tmp_path_factory.mktemp("back") / "shop"
    told = restored(full, "named", target)
    assert told.code == 0, told.err
    with open_workshop(target, create=False) as shop:
        yield shop


def test_every_table_comes_back_to_the_same_rows(full: Path, back: Workshop) -> None:
    """Journal, tables and sealed words are those of the old workshop, to the last byte."""
    with open_workshop(full / "shop", create=False) as old:
        was = dump(old)
    now = dump(back)
    kept = [name for name in was if name not in LEFT_OUT]

    assert {name: now[name] for name in kept} == {name: was[name] for name in kept}
    assert {"private_field", "this_device", *TABLES} <= set(kept)


def test_every_file_and_check_comes_back(full: Path, back: Workshop) -> None:
    """Photos and shapes are there under their hashes, and every promise holds."""
    old = {path.name for path in (full / "shop" / "files").glob("??/*")}
    new = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in back.files.folder.glob("??/*")
    }

    assert new.keys() == old
    assert all(name == found for name, found in new.items())
    assert [line for line in run_checks(back) if not line.ok] == []
    assert not (back.folder / "proof-key.pem").exists()


def test_the_workshop_goes_on_as_the_same_device(back: Workshop, full: Path) -> None:
    """The next code continues the numbers that were given, and the chain goes on."""
    with open_workshop(full / "shop", create=False) as old:
        letter = old.settings.device
    before = back.conn.execute("SELECT max(n) FROM event WHERE device = ?", (letter,)).fetchone()
    add_drop_off(back)
    after = back.conn.execute("SELECT max(n) FROM event WHERE device = ?", (letter,)).fetchone()

    assert back.settings.device == letter
    assert after[0] > before[0]


@pytest.mark.parametrize("name", ["named", "unnamed"])
def test_the_tables_are_as_the_standard_describes_them(full: Path, name: str) -> None:
    """The library csvw finds every cell, key and reference as the metadata says (W3C, 2015)."""
    read = CSVW(str(full / name / "csv-metadata.json"), validate=True)

    assert read.is_valid, [str(warning.message) for warning in read.warnings]
    assert len(read.tables) == len(list((full / name / "tables").iterdir())) + 1


def test_the_standard_finds_a_spoilt_cell(full: Path, tmp_path: Path) -> None:
    """A word where a number belongs is seen, so the check above can fail."""
    shutil.copytree(full / "named", tmp_path / "spoilt")
    path = tmp_path / "spoilt" / "tables" / "counter.csv"
    rows = path.read_text("utf-8").splitlines()
    path.write_text("\r\n".join([rows[0], "B,A,many", *rows[2:]]) + "\r\n", "utf-8")
    read = CSVW(str(tmp_path / "spoilt" / "csv-metadata.json"), validate=True)

    with pytest.raises(UserWarning, match="Invalid column value: many"):
        bool(read.is_valid)  # its warnings are errors here


def test_the_list_of_hashes_is_one_that_the_usual_program_reads(full: Path) -> None:
    """``sha256sum -c`` (GNU coreutils) finds every file as it is, and no other file is there."""
    folder = full / "named"
    told = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    named = {line.partition("  ")[2] for line in (folder / "SHA256SUMS").read_text().splitlines()}
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}

    assert told.returncode == 0, told.stdout + told.stderr
    assert named == there - {"SHA256SUMS"}


def test_the_journal_can_be_verified_without_the_program(full: Path) -> None:
    """SHA-256 over the hash before and the line leads to the newest hash of each device."""
    tips: dict[str, bytes] = {}
    for line in (full / "unnamed" / "journal.jsonl").read_bytes().splitlines():
        device = json.loads(line)["device"]
        tips[device] = hashlib.sha256(tips.get(device, bytes(32)) + line).digest()
    head = json.loads((full / "unnamed" / "export.json").read_text())

    assert {one["device"]: one["hash"] for one in head["heads"]} == {
        device: tip.hex() for device, tip in tips.items()
    }


def test_names_are_told_only_when_asked_for(full: Path, tmp_path: Path) -> None:
    """Without names no sealed word is in any table, and a restore asks before it goes on."""
    with open_workshop(full / "shop", create=False) as shop:
        words = [value for (value,) in shop.conn.execute("SELECT value FROM private_field")]
    tables = b"".join(path.read_bytes() for path in (full / "unnamed" / "tables").iterdir())
    refused = restored(full, "unnamed", tmp_path / "shop")
    agreed = restored(full, "unnamed", tmp_path / "shop", more="--incomplete")

    assert words
    assert not [word for word in words if word.encode() in tables]
    assert not (full / "unnamed" / "sealed.jsonl").exists()
    assert "was written without the names" in refused.err
    assert agreed.code == 0, agreed.err
    with open_workshop(tmp_path / "shop", create=False) as shop:
        faults = {line.name for line in run_checks(shop) if not line.ok}
    assert faults == {"names and contacts are as they were sealed"}


def test_no_cell_is_a_formula(tmp_path: Path) -> None:
    """A note that a spreadsheet would run is text in the tables, and itself in the journal."""
    desk = Desk(tmp_path)
    with make_shop(tmp_path / "shop") as shop:
        donor = NewDonor("=1+1 & daughters", source_kind="private")
        new = NewDropOff(START.date(), '=HYPERLINK("x")', notes="@SUM(A1)")
        log_drop_off(shop, donor=donor, new=new)
    told = desk.do("export all out --with-names")
    with (tmp_path / "out" / "tables" / "drop_off.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)

    assert "with names" in told.out
    assert (row["contents"], row["notes"]) == ('\'=HYPERLINK("x")', "'@SUM(A1)")
    assert '=HYPERLINK(\\"x\\")' in (tmp_path / "out" / "journal.jsonl").read_text("utf-8")


def refused(full: Path, place: Path, harm: Harm, *, hidden: bool) -> Told:
    """Restore an export that was harmed."""
    shutil.copytree(full / "named", place / "export")
    harm(place / "export")
    if hidden:
        reseal(place / "export")
    return Desk(place).run("--shop new/shop restore export")


@pytest.mark.parametrize("name", HARMS)
def test_a_harmed_export_is_refused(name: str, full: Path, tmp_path: Path) -> None:
    """Changed, cut short, missing or added: one line says so, and nothing is left half made."""
    harm, words = HARMS[name]
    told = refused(full, tmp_path, harm, hidden=False)

    assert told.code == 1
    assert words in told.err
    assert len(told.err.splitlines()) <= 2
    assert not [path for path in tmp_path.rglob("*") if "shop" in path.name or "rest" in path.name]


@pytest.mark.parametrize("name", HIDDEN)
def test_a_harm_that_was_hidden_is_refused(name: str, full: Path, tmp_path: Path) -> None:
    """Whoever writes the list of hashes anew is stopped by chain, seals, digests or checkpoints."""
    harm, words = HIDDEN[name]
    told = refused(full, tmp_path, harm, hidden=True)

    assert told.code == 1
    assert words in told.err
    assert len(told.err.splitlines()) <= 2
    assert not [path for path in tmp_path.rglob("*") if "shop" in path.name or "rest" in path.name]


def test_neither_way_writes_over_anything(full: Path, tmp_path: Path) -> None:
    """A folder that holds something stays as it is, whichever way the record goes."""
    (tmp_path / "note.txt").write_text("mine")
    out = Desk(full).run(f"export all {tmp_path}")
    nowhere = Desk(full).run(f"export all {tmp_path}/far/away")
    over = Desk(full).run(f"--shop {tmp_path} restore named")
    onto = Desk(full).run("restore named")
    older = Desk(full).run(f"--shop {tmp_path}/new restore named --older 2026")

    assert "is not empty" in out.err
    assert "is not there" in nowhere.err
    assert "is not empty" in over.err
    assert "a workshop lies in" in onto.err
    assert "--older chooses among copies" in older.err
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]


def test_a_photo_that_the_workshop_lost_is_told(tmp_path: Path) -> None:
    """What is missing is named on both ways, and only --incomplete goes on without it."""
    desk = Desk(tmp_path)
    with make_shop(tmp_path / "shop") as shop:
        add_drop_off(shop)
        photo = tmp_path / "a.svg"
        photo.write_text(
            '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
            '<path d="M0 0H9V9Z"/></svg>'
        )
    desk.do("shape add fin a.svg")
    (kept,) = (tmp_path / "shop" / "files").glob("??/*")
    kept.unlink()
    out = desk.run("export all out --with-names")
    plain = desk.run("--shop new restore out")
    agreed = desk.run("--shop new restore out --incomplete")

    assert out.code == 1
    assert "1 file missing in the workshop" in out.out
    assert "1 files that the workshop lacked itself" in plain.err
    assert agreed.code == 0, agreed.err
    assert "1 file missing in the export" in agreed.out
