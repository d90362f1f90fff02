"""
Tracing, recalling, appending, verifying and rebuilding in a large workshop.

``python -m tests.benchmarks.trace --json`` builds 10,000 boards and 1,000,000 pieces, or as much of
that as it can write in 10 minutes, and says how much it was; ``--boards`` and ``--pieces`` choose
the size. All times are processor time, so that a busy machine distorts them less. Verifying is
compared with reading the journal and hashing once the bytes that the chain is made of: each body
after the hash before it.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from salvage.ids import Code
from salvage.store.exchange import Line
from salvage.store.journal import verify_chain
from salvage.store.projection import rebuild
from salvage.store.take_in import take_lines
from salvage.work.recall import affected_by
from salvage.work.recall_causes import RecallCause, from_hazard, from_thing
from salvage.work.trace import trace
from salvage.work.workshop import Workshop
from tests.bench import make_shop
from tests.benchmarks.trace_world import HAZARDS, World, build

MOST_BUILD_S = 600.0
_WIDE = ("trace_drop_off", "trace_donor")
_REBUILD_EVENTS = 1_000_000


def _spent_ms(task: Callable[[], object]) -> float:
    start = time.process_time()
    task()
    return (time.process_time() - start) * 1000


def _figures(times_ms: Sequence[float]) -> dict[str, object]:
    ordered = sorted(times_ms)
    return {
        "n": len(ordered),
        "median_ms": round(statistics.median(ordered), 3),
        "p95_ms": round(ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))], 3),
        "max_ms": round(ordered[-1], 3),
    }


def _traces(shop: Workshop, world: World, rounds: int) -> dict[str, object]:
    chance = random.Random(7)
    kinds = {
        "trace_piece": world.piece_codes,
        "trace_article": world.articles,
        "trace_board": world.board_codes,
        "trace_drop_off": world.drop_offs,
        "trace_donor": world.donors,
    }
    found: dict[str, object] = {}
    for name, codes in kinds.items():
        chosen = [chance.choice(codes) for _ in range(rounds // 5 if name in _WIDE else rounds)]
        found[name] = _figures([_spent_ms(partial(trace, shop, code)) for code in chosen])
    return found


def _recalls(shop: Workshop, world: World, rounds: int) -> dict[str, object]:
    chance = random.Random(8)
    things: dict[str, Sequence[Code]] = {
        "recall_donor": world.donors,
        "recall_drop_off": world.drop_offs,
        "recall_board": world.board_codes,
        "recall_batch": world.batches,
    }
    causes: dict[str, list[RecallCause]] = {
        name: [from_thing(shop.conn, chance.choice(codes)) for _ in range(rounds)]
        for name, codes in things.items()
    }
    causes["recall_hazard"] = [from_hazard(shop.conn, name) for name in HAZARDS * (rounds // 3)]
    found: dict[str, object] = {}
    for name, chosen in causes.items():
        times = [_spent_ms(partial(affected_by, shop.conn, one)) for one in chosen]
        size = statistics.mean(len(affected_by(shop.conn, one)) for one in chosen[:5])
        found[name] = {**_figures(times), "things": round(size)}
    return found


def _verify(shop: Workshop) -> dict[str, object]:
    def hash_once() -> None:
        for prev, body in shop.conn.execute("SELECT prev, body FROM event ORDER BY seq"):
            hashlib.sha256(bytes.fromhex(prev) + body.encode()).hexdigest()

    (events,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
    hashed = _spent_ms(hash_once)
    verified = _spent_ms(lambda: verify_chain(shop.conn))
    return {
        "events": events,
        "hash_once_ms": round(hashed),
        "verify_ms": round(verified),
        "verify_ratio": round(verified / hashed, 2),
    }


def _rebuild(shop: Workshop) -> dict[str, object]:
    """The whole journal, and the time for a million events at that pace; rolled back."""
    (events,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
    shop.conn.execute("BEGIN IMMEDIATE")
    spent = _spent_ms(lambda: rebuild(shop.conn)) / 1000
    shop.conn.execute("ROLLBACK")
    pace = events / spent
    return {
        "rebuild_s": round(spent, 1),
        "rebuild_per_s": round(pace),
        "rebuild_million_s": round(_REBUILD_EVENTS / pace, 1),
    }


def _take_in_per_s(source: Workshop, folder: Path) -> float:
    """Events a second that are taken in from another device: checked and chained, not applied."""
    query = "SELECT body, hash FROM event ORDER BY seq LIMIT 50000"
    lines = [Line(body, digest) for body, digest in source.conn.execute(query)]
    with make_shop(folder / "other", seed=2) as shop:
        shop.conn.execute("DELETE FROM this_device")
        shop.conn.execute("BEGIN IMMEDIATE")
        shop.conn.execute("DROP TRIGGER event_no_delete")
        shop.conn.execute("DELETE FROM event_item")
        shop.conn.execute("DELETE FROM event")
        spent = _spent_ms(lambda: take_lines(shop.conn, lines)) / 1000
        shop.conn.execute("ROLLBACK")
    return len(lines) / spent


def run(boards: int, pieces: int, rounds: int) -> dict[str, object]:
    """Build a workshop of a size, and time what the docstring says."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with make_shop(folder / "shop") as shop:
            small = World(max(1, boards // 10), max(1, pieces // 10), seed=2)
            with make_shop(folder / "small", seed=3) as other:
                build(other, small, most_s=MOST_BUILD_S)
                tenth = _rebuild(other)
            world = World(boards, pieces)
            build(shop, world, most_s=MOST_BUILD_S)
            shop.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            bytes_on_disk = shop.path.stat().st_size
            return {
                "benchmark": "trace",
                "boards": len(world.board_codes),
                "pieces": len(world.piece_codes),
                "articles": len(world.articles),
                "asked_boards": boards,
                "asked_pieces": pieces,
                "database_mb": round(bytes_on_disk / 1e6),
                "append_per_s": round(world.events / world.seconds),
                **_traces(shop, world, rounds),
                **_recalls(shop, world, rounds),
                **_verify(shop),
                **_rebuild(shop),
                "tenth_rebuild_per_s": tenth["rebuild_per_s"],
                "take_in_per_s": round(_take_in_per_s(shop, folder)),
            }


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description="Tracing and recalling in a large workshop.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--boards", type=int, default=10_000)
    parser.add_argument("--pieces", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=200, help="questions of each sort")
    arguments = parser.parse_args()
    result = run(arguments.boards, arguments.pieces, arguments.rounds)
    if arguments.json:
        print(json.dumps(result, indent=2))
        return
    for key, value in result.items():
        print(f"{key:22} {value}")


if __name__ == "__main__":
    main()
