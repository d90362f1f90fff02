"""
Three devices, random histories, meetings as chance will have it: do all come to one record?

``python -m tests.benchmarks.merge [--json] [--histories 200] [--acts 25] [--seed 1000]``. Each act
is one of the job's (cut, hold, sell, take back, undo, photograph, record); each meeting hands a
bundle one way. At the end everything is handed round, the records are compared row by row, every
bundle is taken in once more, and the events are counted.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from salvage.store.journal import count_events, verify_chain
from salvage.work.clashes import list_clashes
from tests.work.fleet import Fleet, do_something


def play(seed: int, acts: int) -> dict[str, int]:
    """One history: whether the records differ, events lost, and clashes told."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        fleet = Fleet(Path(folder), stack, count=3)
        chance = random.Random(seed)
        for _ in range(acts):
            shop, other = chance.sample(fleet.shops, 2)
            if chance.random() < 0.25:
                fleet.hand(shop, other)
            else:
                do_something(shop, chance)
        written = sum(
            next(head.count for head in verify_chain(shop.conn) if head.device == device)
            for shop in fleet.shops
            if (device := shop.settings.device) in {head.device for head in verify_chain(shop.conn)}
        )
        fleet.exchange_all()
        records = fleet.records()
        again = sum(
            fleet.hand(giver, taker, everything=True)
            for giver in fleet.shops
            for taker in fleet.shops
            if giver is not taker
        )
        return {
            "differ": sum(record != records[0] for record in records[1:]),
            "lost": max(0, written - min(count_events(shop.conn) for shop in fleet.shops)),
            "taken_twice": again,
            "events": count_events(fleet.shops[0].conn),
            "clashes": len(list_clashes(fleet.shops[0])),
        }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Do all devices come to one record?")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--histories", type=int, default=200, help="how many")
    parser.add_argument("--acts", type=int, default=25, help="acts and meetings of each")
    parser.add_argument("--seed", type=int, default=1000, help="of the first history")
    options = parser.parse_args()
    start = time.process_time()
    rows = []
    for number in range(options.histories):
        rows.append(play(options.seed + number, options.acts))
        if sys.stderr.isatty():
            print(f"\r{number + 1}", end="", file=sys.stderr)
    total = {key: sum(row[key] for row in rows) for key in rows[0]}
    result = {"benchmark": "merge", "histories": len(rows), **total}
    result["cpu_s"] = round(time.process_time() - start)
    print(json.dumps(result, indent=2) if options.json else result)


if __name__ == "__main__":
    main()
