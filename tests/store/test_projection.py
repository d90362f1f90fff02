"""The tables as the journal makes them, whoever wrote it."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from salvage.canonical import Json, canonical_bytes
from salvage.errors import Held, StoreTrouble
from salvage.ids import next_code
from salvage.store.change import Change
from salvage.store.journal import link, read_events, read_tip
from salvage.store.projection import TABLES, filled_tables, rebuild
from salvage.work.pieces import set_stage
from salvage.work.recall import view_recall
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, cut_circle, dump


def test_every_table_is_a_projection_or_known_not_to_be(empty_shop: Workshop) -> None:
    """A table that a rebuild forgot would keep what the journal no longer says."""
    tables = dump(empty_shop).keys()
    kept = {"event", "schema_file", "private_field", "this_device", "told", "page_deed"}

    assert tables - kept == set(TABLES)
    assert len(set(TABLES)) == len(TABLES)


def test_parents_stand_before_their_children(empty_shop: Workshop) -> None:
    """Tables are emptied from the last to the first, so that no row ever points to nothing."""
    place = {table: number for number, table in enumerate(TABLES)}
    for table in TABLES:
        for row in empty_shop.conn.execute(f"PRAGMA foreign_key_list({table})"):
            assert row[2] not in place or place[row[2]] <= place[table], (table, row[2])


def test_a_rebuild_empties_what_the_journal_does_not_say(empty_shop: Workshop) -> None:
    """A row that somebody slipped in is gone afterwards, and all others are as before."""
    board = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 40, 40)
    before, filled = dump(empty_shop), filled_tables(empty_shop.conn)
    empty_shop.conn.execute("UPDATE board SET maker = 'forged'")
    empty_shop.conn.execute("INSERT INTO file VALUES (?, 'image/png', 3, '')", ("0" * 64,))
    empty_shop.conn.execute("BEGIN")
    count = rebuild(empty_shop.conn)
    empty_shop.conn.execute("COMMIT")

    assert dump(empty_shop) == before
    assert count == len(before["event"])
    assert filled == [table for table in TABLES if before[table]]
    assert "board" in filled
    assert "file" not in filled


def _write(conn: sqlite3.Connection, device: str, **other: Any) -> None:
    """An event as a newer version or another device would write it, chain and all."""
    tip = read_tip(conn, device)
    fields: dict[str, Any] = {
        "about": [],
        "act": "set",
        "at": "2026-05-04T09:00:00.000Z",
        "by": "Ilva",
        "clock": tip.clock + 1,
        "data": {},
        "device": device,
        "id": f"id-{tip.seq}",
        "kind": "workshop.set",
        "made": [],
        "n": tip.head.count + 1,
        "operation": f"id-{tip.seq}",
        "version": 1,
        **other,
    }
    body = canonical_bytes(fields)
    names = ("id", "device", "n", "clock", "kind", "operation", "at")
    conn.execute(
        "INSERT INTO event (seq, id, device, n, clock, kind, operation, at, body, prev, hash)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            tip.seq + 1,
            *(fields[name] for name in names),
            body.decode(),
            tip.head.hash,
            link(tip.head.hash, body),
        ),
    )


def test_a_kind_that_a_newer_version_wrote_is_told(empty_shop: Workshop) -> None:
    """The tables are left as they are rather than made without it."""
    add_drop_off(empty_shop)
    _write(empty_shop.conn, empty_shop.settings.device, kind="board.sung")
    before = dump(empty_shop)
    empty_shop.conn.execute("BEGIN")
    with pytest.raises(StoreTrouble, match=r"event 4 is of kind 'board\.sung'.*pip install"):
        rebuild(empty_shop.conn)
    empty_shop.conn.execute("ROLLBACK")

    assert dump(empty_shop) == before


def _one_of(shop: Workshop, kind: str) -> dict[str, Any]:
    """Codes and fields of the first event of a kind."""
    event = next(event for event in read_events(shop.conn) if event.kind == kind)
    return {"kind": kind, "about": list(event.about), "data": dict(event.data)}


def test_what_two_devices_did_to_one_thing_is_a_clash(empty_shop: Workshop) -> None:
    """The second row of a thing that can be there once is noted, and the rest goes on."""
    board = add_cleared_board(empty_shop)
    made = _one_of(empty_shop, "board.recorded")
    other = "X" if empty_shop.settings.device != "X" else "V"
    _write(empty_shop.conn, other, **made, made=[board.code])
    missing = {**_one_of(empty_shop, "hazard.checked"), "about": ["BX0001B"]}
    _write(empty_shop.conn, other, **missing)
    _write(empty_shop.conn, other, data={"settings": {"name": "Tidewrack"}})
    empty_shop.conn.execute("BEGIN")
    rebuild(empty_shop.conn)
    empty_shop.conn.execute("COMMIT")
    clashes = empty_shop.conn.execute("SELECT reason FROM clash ORDER BY event_id").fetchall()

    assert sorted(clashes) == [
        ("cannot stand beside what another device did at the same time",),
        ("rests on BX0001B, which another device has taken back",),
    ]
    assert empty_shop.settings.name == "Tidewrack"
    assert empty_shop.conn.execute("SELECT count(*) FROM board").fetchone() == (1,)


def test_a_recall_of_the_first_kind_is_still_read(empty_shop: Workshop) -> None:
    """Recalls that early workshops opened have one thing as their cause, and hold everything."""
    board = add_cleared_board(empty_shop)
    piece = cut_circle(empty_shop, board.code, 40, 40).piece
    assert piece is not None

    def steps(change: Change) -> Any:
        code = change.new_code("H")
        data: dict[str, Json] = {
            "subject": board.code,
            "reason": "mercury",
            "learned_on": "2026-05-04",
            "items": [
                {"code": item, "where_at": "on the bench"} for item in (board.code, piece.code)
            ],
        }
        change.append("recall.opened", (code, board.code, piece.code), data, made=(code,))
        return code

    code = empty_shop.commit("open recall", steps)
    view = view_recall(empty_shop.conn, code)
    before = dump(empty_shop)
    empty_shop.conn.execute("BEGIN")
    rebuild(empty_shop.conn)
    empty_shop.conn.execute("COMMIT")

    assert {item.code for item in view.items} == {board.code, piece.code}
    with pytest.raises(Held, match="it is recalled"):
        cut_circle(empty_shop, board.code, 80, 40)
    assert dump(empty_shop) == before


def test_an_event_that_clashes_leaves_nothing_half_done(empty_shop: Workshop) -> None:
    """A cut whose piece cannot be there takes its own row and the board's count back with it."""
    board = add_cleared_board(empty_shop)
    cut_circle(empty_shop, board.code, 40, 40)
    made = _one_of(empty_shop, "cut.made")
    _, _, piece = made["about"]
    other = "X" if empty_shop.settings.device != "X" else "V"
    cut = next_code("K", other, 0)[0]
    _write(empty_shop.conn, other, **{**made, "about": [cut, board.code, piece]}, made=[cut])
    tables = ("cut", "piece", "board", "hazard_check", "measuring")
    before = {table: dump(empty_shop)[table] for table in tables}
    empty_shop.conn.execute("BEGIN")
    rebuild(empty_shop.conn)
    empty_shop.conn.execute("COMMIT")

    assert {table: dump(empty_shop)[table] for table in tables} == before
    assert empty_shop.conn.execute("SELECT count(*) FROM clash").fetchone() == (1,)


def test_a_stage_that_is_reached_again_is_noted_once(empty_shop: Workshop) -> None:
    """A piece sealed twice without a word about the sealant is asked about once."""
    board = add_cleared_board(empty_shop)
    piece = cut_circle(empty_shop, board.code, 40, 40).piece
    assert piece is not None
    for stage in ("sealed", "sanded", "sealed"):
        set_stage(empty_shop, pieces=[piece.code], stage=stage)

    assert empty_shop.conn.execute("SELECT stage, piece FROM unsaid").fetchall() == [
        ("sealed", piece.code)
    ]
    assert empty_shop.conn.execute("SELECT count(*) FROM staging").fetchone() == (3,)
