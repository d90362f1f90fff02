"""The tables as the schema describes them, read from the database itself."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing

import pytest

from salvage.canonical import Json, canonical_bytes
from salvage.store.table_shape import (
    Column,
    Reference,
    TableDigest,
    TableShape,
    digest_table,
    read_in_order,
    table_shape,
)


@pytest.fixture
def conn() -> Iterator[sqlite3.Connection]:
    """A shelf of shells and where each was found."""
    with closing(sqlite3.connect(":memory:")) as opened:
        opened.executescript(
            "CREATE TABLE beach (shire TEXT, name TEXT, metres INTEGER NOT NULL,"
            " PRIMARY KEY (name, shire)) STRICT;"
            "CREATE TABLE shell (code TEXT PRIMARY KEY, beach TEXT NOT NULL, shire TEXT NOT NULL,"
            " twin TEXT REFERENCES shell (code), size INTEGER,"
            " FOREIGN KEY (beach, shire) REFERENCES beach (name, shire)) STRICT;"
            "CREATE TABLE loose (word TEXT NOT NULL, n INTEGER NOT NULL) STRICT;"
            "INSERT INTO loose VALUES ('b', 1), ('a', 2), ('a', 1);"
            "INSERT INTO beach VALUES ('east', 'sand', 30), ('west', 'sand', 20);"
            "INSERT INTO beach VALUES ('east', 'bay', 5);"
        )
        yield opened


def test_columns_keys_and_references_are_those_of_the_schema(conn: sqlite3.Connection) -> None:
    """A key of two columns stands in the order of the key; a column of it is never empty."""
    beach, shell = table_shape(conn, "beach"), table_shape(conn, "shell")

    assert beach.columns == (
        Column("shire", is_whole=False, may_be_null=False),
        Column("name", is_whole=False, may_be_null=False),
        Column("metres", is_whole=True, may_be_null=False),
    )
    assert beach.key == ("name", "shire")
    assert beach.references == ()
    assert shell.columns[3:] == (
        Column("twin", is_whole=False, may_be_null=True),
        Column("size", is_whole=True, may_be_null=True),
    )
    assert sorted(shell.references, key=lambda one: one.table) == [
        Reference(("beach", "shire"), "beach", ("name", "shire")),
        Reference(("twin",), "shell", ("code",)),
    ]


def test_rows_come_in_the_order_of_the_key(conn: sqlite3.Connection) -> None:
    """And of all columns where there is no key."""
    beaches = list(read_in_order(conn, table_shape(conn, "beach")))
    words = list(read_in_order(conn, table_shape(conn, "loose")))

    assert beaches == [("east", "bay", 5), ("east", "sand", 30), ("west", "sand", 20)]
    assert words == [("a", 1), ("a", 2), ("b", 1)]


def test_a_digest_is_over_the_rows_alone(conn: sqlite3.Connection) -> None:
    """Anybody can work it out: each row as canonical JSON and a line end."""
    shape: TableShape = table_shape(conn, "loose")
    rows: tuple[list[Json], ...] = (["a", 1], ["a", 2], ["b", 1])
    text = b'["a",1]\n["a",2]\n["b",1]\n'
    before = digest_table(conn, shape)
    conn.execute("DELETE FROM loose")

    assert text == b"".join(canonical_bytes(row) + b"\n" for row in rows)
    assert before == TableDigest(3, hashlib.sha256(text).hexdigest())
    assert digest_table(conn, shape) == TableDigest(0, hashlib.sha256(b"").hexdigest())
