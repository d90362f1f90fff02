"""
A journal that was written once gives the same tables for ever.

``tests/golden/journal`` holds the events of nearly every operation, as a workshop of today wrote
them, and the rows that were made from them. No event of it is ever changed, since such journals lie
in workshops; a newer version may add columns and tables, and events to it.

    SALVAGE_GOLDEN=write python -m pytest tests/store/test_old_journal.py

writes the rows anew; SALVAGE_GOLDEN=journal begins with a new journal.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from salvage.ids import Code
from salvage.store.exchange import Line, read_lines
from salvage.store.journal import verify_chain
from salvage.store.migrations import schema_files, split_statements
from salvage.store.projection import TABLES, rebuild
from salvage.store.take_in import take_lines
from salvage.work.workshop import open_workshop
from tests.bench import SteppingClock, seeded_entropy
from tests.faces.scenario import STEPS
from tests.faces.step import Memory

GOLDEN = Path(__file__).parents[1] / "golden" / "journal"
EVENTS, ROWS = GOLDEN / "events.jsonl", GOLDEN / "rows.json"
WRITE = os.environ.get("SALVAGE_GOLDEN", "")

Rows = dict[str, list[dict[str, object]]]


def _write_journal(folder: Path) -> None:
    memory = Memory()
    with open_workshop(
        folder, clock=SteppingClock(), entropy=seeded_entropy(), by="Maren", device="C"
    ) as shop:
        for step in STEPS:
            made = step.python(shop, memory)
            if step.made:
                memory[step.made] = Code(str(made))
        lines = [{"body": one.body, "hash": one.hash} for one in read_lines(shop.conn, {})]
    EVENTS.write_text("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines))


@pytest.fixture
def conn(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """The old journal, taken in by today's program, and its tables."""
    if WRITE == "journal":
        _write_journal(tmp_path / "shop")
    texts = (json.loads(text) for text in EVENTS.read_text("utf-8").splitlines())
    lines = [Line(text["body"], text["hash"]) for text in texts]
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as opened:
        for file in schema_files():
            for statement in split_statements(file.text):
                opened.execute(statement)
        opened.execute("PRAGMA foreign_keys = ON")
        opened.execute("BEGIN IMMEDIATE")
        take_lines(opened, lines)
        rebuild(opened)
        opened.execute("COMMIT")
        yield opened


def _rows(conn: sqlite3.Connection) -> Rows:
    """Every row of every table, long texts shortened."""
    found: Rows = {}
    for table in TABLES:
        cursor = conn.execute(f"SELECT * FROM {table}")
        names = [column[0] for column in cursor.description]
        rows = [dict(zip(names, map(_short, row), strict=True)) for row in cursor]
        found[table] = sorted(rows, key=lambda row: json.dumps(row, sort_keys=True))
    return found


def _short(value: object) -> object:
    return (
        f"{value[:40]}… of {len(value)}" if isinstance(value, str) and len(value) > 120 else value
    )


def test_an_old_journal_gives_the_same_rows_for_ever(conn: sqlite3.Connection) -> None:
    """Row by row and column by column; a column or table that came later is not asked for."""
    rows = _rows(conn)
    if WRITE:
        ROWS.write_text(json.dumps(rows, indent=0, sort_keys=True, ensure_ascii=False) + "\n")
    known: Rows = json.loads(ROWS.read_text("utf-8"))
    names = {table: sorted(was[0]) for table, was in known.items() if was}
    now = {table: _listed(rows[table], names.get(table, [])) for table in known}
    heads = verify_chain(conn)

    assert now == {table: _listed(was, names.get(table, [])) for table, was in known.items()}
    assert {table for table, was in known.items() if not was} <= {"clash", "clash_settled"}
    assert sum(head.count for head in heads) == len(EVENTS.read_text("utf-8").splitlines())


def _listed(rows: list[dict[str, object]], names: list[str]) -> list[str]:
    return sorted(json.dumps([row.get(name) for name in names]) for row in rows)
