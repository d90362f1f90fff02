"""Schema files: applied once, in order; older databases kept first, newer ones refused."""

from __future__ import annotations

import importlib.resources
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from salvage.errors import NotFound, StoreTrouble
from salvage.store.connection import connect
from salvage.store.migrations import (
    NEWEST,
    SchemaFile,
    migrate,
    schema_files,
    schema_number,
    split_statements,
)
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import add_drop_off, dump, make_shop

FUTURE = SchemaFile(
    NEWEST + 1,
    f"{NEWEST + 1:04d}_colour.sql",
    "CREATE TABLE swatch (name TEXT PRIMARY KEY) STRICT;\n"
    "CREATE TRIGGER swatch_guard BEFORE DELETE ON swatch\n"
    "BEGIN SELECT RAISE(ABORT, 'no; never'); END;\n",
)


def test_the_newest_number_is_that_of_the_last_file() -> None:
    """Start-up trusts a constant; it must be the folder's last number, and none stands twice."""
    numbers = [file.number for file in schema_files()]

    assert (numbers[0], numbers[-1]) == (1, NEWEST)
    assert len(set(numbers)) == len(numbers)


def test_an_older_database_is_brought_up_to_date_after_a_copy(empty_shop: Workshop) -> None:
    """The maker updates the program; her data are carried over, and a copy lies beside them."""
    add_drop_off(empty_shop)
    before = dump(empty_shop)
    reached = migrate(
        empty_shop.conn,
        empty_shop.path,
        now="2026-05-05T08:00:00.000Z",
        shipped=(*schema_files(), FUTURE),
    )
    copies = list((empty_shop.folder / "backups").glob("*.db"))
    kept = sqlite3.connect(copies[0])
    (kept_events,) = kept.execute("SELECT count(*) FROM event").fetchone()
    kept.close()

    assert reached == schema_number(empty_shop.conn) == NEWEST + 1
    assert dump(empty_shop)["event"] == before["event"]
    assert dump(empty_shop)["swatch"] == []
    assert len(copies) == 1
    assert kept_events == len(before["event"])


def test_a_migration_that_fails_changes_nothing(empty_shop: Workshop) -> None:
    """A broken upgrade leaves the database as it was."""
    before = dump(empty_shop)
    broken = SchemaFile(NEWEST + 1, "x.sql", FUTURE.text + "CREATE TABLE swatch (x);\n")

    with pytest.raises(sqlite3.OperationalError):
        migrate(empty_shop.conn, empty_shop.path, now="n", shipped=(*schema_files(), broken))

    assert dump(empty_shop) == before
    assert schema_number(empty_shop.conn) == NEWEST


def test_a_newer_database_is_refused(tmp_path: Path) -> None:
    """Data written by a newer version is not touched by an older one."""
    with make_shop(tmp_path / "shop") as shop:
        shop.conn.execute(f"PRAGMA user_version = {NEWEST + 3}")

    with pytest.raises(StoreTrouble, match=r"newer version.*pip install --upgrade"):
        make_shop(tmp_path / "shop")


def test_another_programs_database_is_refused(tmp_path: Path) -> None:
    """A file of another program under our name is left alone."""
    path = tmp_path / "workshop.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE recipe (name TEXT)")
    other.commit()
    other.close()

    with pytest.raises(StoreTrouble, match="another program's"):
        connect(path)


def test_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    """A text file under our name is refused in one line."""
    path = tmp_path / "workshop.db"
    path.write_text("these are not the rows you are looking for " * 50)

    with pytest.raises(StoreTrouble, match="not a database"):
        connect(path)


def test_no_workshop_is_made_by_looking(tmp_path: Path) -> None:
    """Asking about a workshop that is not there makes none."""
    with pytest.raises(NotFound, match="no workshop"):
        open_workshop(tmp_path / "nowhere", create=False)

    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    """Where a file stands in the way of the folder, one line says so."""
    (tmp_path / "shop").write_text("in the way")

    with pytest.raises(StoreTrouble, match="cannot be made"):
        open_workshop(tmp_path / "shop" / "inner")


def test_two_devices_seldom_share_a_letter(tmp_path: Path) -> None:
    """Each new workshop draws its device letter, so that codes of two devices stay apart."""
    letters = set()
    for seed in range(12):
        with make_shop(tmp_path / str(seed), seed=seed) as shop:
            letters.add(shop.settings.device)

    assert len(letters) > 4


def test_triggers_stay_whole_when_a_file_is_split() -> None:
    """A semicolon inside a trigger or a text does not end the statement."""
    statements = list(split_statements(FUTURE.text))

    assert len(statements) == 2
    assert statements[1].strip().endswith("END;")


def test_what_follows_the_last_semicolon_is_a_statement_too() -> None:
    """A file whose last line is not ended is applied to its end; blanks are nothing."""
    assert list(split_statements("CREATE TABLE a (b);\nCREATE TABLE c (d)\n")) == [
        *("CREATE TABLE a (b);\n", "CREATE TABLE c (d)\n"),
    ]
    assert list(split_statements("CREATE TABLE a (b);\n\n  \n")) == ["CREATE TABLE a (b);\n"]
    assert list(split_statements("")) == []


def test_an_upgrade_that_leaves_a_row_pointing_to_nothing_is_taken_back(
    empty_shop: Workshop,
) -> None:
    """Links are not watched while tables are made anew, so they are looked at before the end."""
    add_drop_off(empty_shop)
    before = dump(empty_shop)
    text = (
        "CREATE TABLE swatch (donor TEXT REFERENCES donor (code)) STRICT;\n"
        "INSERT INTO swatch VALUES ('GC0000X');\n"
    )
    careless = SchemaFile(NEWEST + 1, f"{NEWEST + 1:04d}_swatch.sql", text)
    shipped = (*schema_files(), careless)

    with pytest.raises(StoreTrouble, match="a row of swatch points to nothing in donor"):
        migrate(empty_shop.conn, empty_shop.path, now="n", shipped=shipped)

    assert dump(empty_shop) == before
    assert empty_shop.conn.execute("PRAGMA foreign_keys").fetchone() == (1,)


def test_a_disk_that_fills_during_an_upgrade_is_told(empty_shop: Workshop) -> None:
    """SQLite has taken everything back by itself; the trouble that is told is the disk's."""

    class Filling:
        """A connection whose disk is full at the last moment."""

        def __getattr__(self, name: str) -> Any:
            return getattr(empty_shop.conn, name)

        def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
            if sql == "COMMIT":
                empty_shop.conn.execute("ROLLBACK")
                raise sqlite3.OperationalError("database or disk is full")
            return empty_shop.conn.execute(sql, *args)

    before, filling = dump(empty_shop), Filling()
    stand_in: Any = filling
    with pytest.raises(sqlite3.OperationalError, match="disk is full"):
        migrate(stand_in, empty_shop.path, now="n", shipped=(*schema_files(), FUTURE))

    assert dump(empty_shop) == before


def test_a_workshop_up_to_date_is_left_alone(empty_shop: Workshop) -> None:
    """No copy, no statement: opening a workshop costs nothing."""
    statements: list[str] = []
    empty_shop.conn.set_trace_callback(statements.append)
    reached = migrate(empty_shop.conn, empty_shop.path, now="n")
    empty_shop.conn.set_trace_callback(None)

    assert reached == NEWEST
    assert statements == ["PRAGMA user_version"]
    assert not (empty_shop.folder / "backups").exists()


def test_each_applied_file_is_noted_with_its_hash(empty_shop: Workshop) -> None:
    """So that a file that was changed afterwards is found out."""
    rows = empty_shop.conn.execute("SELECT number, name, sha256 FROM schema_file ORDER BY number")

    assert rows.fetchall() == [(file.number, file.name, file.sha256) for file in schema_files()]


def test_the_files_of_an_installed_program_are_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Installed, the program brings its schema along inside; other files there are passed over."""
    own = schema_files()
    shutil.copytree(Path(__file__).parents[2] / "schema", tmp_path / "schema")
    (tmp_path / "schema" / "0001_spine.sql.orig").write_text("older")
    (tmp_path / "schema" / "README.md").write_text("words")
    monkeypatch.setattr(importlib.resources, "files", lambda name: tmp_path)

    assert schema_files() == own
    assert [file.number for file in own] == sorted(file.number for file in own)
