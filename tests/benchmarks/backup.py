"""
A verified copy of a workshop with very many events.

The database is copied while it could be written, and the copy is checked by itself: SQLite's own
check, references, every hash of the journal, every file. The baseline is a bare copy of the same
database by SQLite's own backup, with nothing checked.

``python -m tests.benchmarks.backup --events 1000000 --json``
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path

from salvage.work.copies import back_up
from tests.bench import make_shop
from tests.benchmarks.trace_world import World, build

EVENTS_PER_PIECE = 2.47
"""As the workshop of the trace benchmark has them."""


def measure(folder: Path, events: int, most_s: float) -> dict[str, object]:
    """Seconds of processor and wall for the bare copy, the first backup and the second."""
    result: dict[str, object] = {}
    with make_shop(folder / "shop") as shop:
        pieces = round(events / EVENTS_PER_PIECE)
        world = World(boards=max(1, pieces // 100), pieces=pieces)
        build(shop, world, most_s=most_s)
        result["events"] = world.events
        result["megabytes"] = round(shop.path.stat().st_size / 1e6)

        def bare() -> None:
            with closing(sqlite3.connect(folder / "bare.db")) as target:
                shop.conn.backup(target)

        def whole() -> None:
            back_up(shop, folder=folder / "copy")

        for name, task in (("bare copy", bare), ("first backup", whole), ("second", whole)):
            wall, cpu = time.monotonic(), time.process_time()
            task()
            result[name] = {
                "wall_s": round(time.monotonic() - wall, 1),
                "cpu_s": round(time.process_time() - cpu, 1),
            }
    return result


def main() -> None:
    """Run from the command line."""
    words = argparse.ArgumentParser(description="A verified copy of very many events.")
    words.add_argument("--events", type=int, default=1_000_000)
    words.add_argument("--most-s", type=float, default=900, help="wall time for writing them")
    words.add_argument("--place", help="folder on the disk to measure")
    words.add_argument("--json", action="store_true")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.place) as name:
        result = measure(Path(name), asked.events, asked.most_s)
    if asked.json:
        print(json.dumps(result, indent=2))
    else:
        for what, figure in result.items():
            print(f"{what:16} {figure}")


if __name__ == "__main__":
    main()
