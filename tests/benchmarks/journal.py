"""
Cost of the journal: a change, verifying the chain, and a rebuild, against a bare SQLite commit.

``python -m tests.benchmarks.journal --json``
"""

from __future__ import annotations

import sqlite3
import tempfile
import time
from pathlib import Path

from salvage.store.journal import verify_chain
from salvage.work.check import rebuild_tables
from salvage.work.pieces import set_stage
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.benchmarks.timing import interleave, parse_arguments, report, show


def _bare(path: Path) -> sqlite3.Connection:
    conn = sqlite3.connect(path, isolation_level=None)
    conn.execute("PRAGMA journal_mode = WAL")
    conn.execute("PRAGMA synchronous = FULL")
    conn.execute("CREATE TABLE note (id INTEGER PRIMARY KEY, body TEXT)")
    return conn


def _commit(conn: sqlite3.Connection) -> None:
    conn.execute("BEGIN IMMEDIATE")
    conn.execute("INSERT INTO note (body) VALUES (?)", ("x" * 600,))
    conn.execute("COMMIT")


def run(rounds: int, events: int) -> dict[str, object]:
    """Time single changes, and chain and rebuild over so many events."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        conn = _bare(folder / "bare.db")
        with make_shop(folder / "shop") as shop:
            view = cut_circle(shop, add_cleared_board(shop).code, 40, 40)
            assert view.piece is not None
            piece = view.piece.code
            times = interleave(
                {
                    "bare commit": lambda: _commit(conn),
                    "change (one event)": lambda: set_stage(shop, pieces=[piece], stage="sanded"),
                },
                rounds=rounds,
            )
            while shop.conn.execute("SELECT count(*) FROM event").fetchone()[0] < events:
                set_stage(shop, pieces=[piece] * 200, stage="sanded")
            more = _bulk(shop)
        conn.close()
    return report("journal", times, baseline="bare commit", more=more)


def _bulk(shop: Workshop) -> dict[str, object]:
    start = time.process_time()
    (head,) = verify_chain(shop.conn)
    verified = time.process_time()
    rebuild_tables(shop)
    rebuilt = time.process_time()
    return {
        "events": head.count,
        "verify_events_per_s": round(head.count / (verified - start)),
        "rebuild_events_per_s": round(head.count / (rebuilt - verified)),
    }


if __name__ == "__main__":
    arguments = parse_arguments("Cost of the journal.", rounds=200)
    show(run(arguments.rounds, 20_000), as_json=arguments.json)
