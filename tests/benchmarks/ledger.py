"""
Measure the ledger: does it add up after a thousand cuts, and how fast is one more cut booked?

Run ``python -m tests.benchmarks.ledger --json``.
"""

from __future__ import annotations

import argparse
import json
import random
import time

import numpy as np

from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import rectangle
from salvage.geometry.placing import Placement, place
from salvage.geometry.trimming import start, trim
from tests.benchmarks.boards import kite, star, tide_bell, two_lobed

RULES = Rules(tool_mm=2, wall_mm=1, least_mm=8)
BOARD = rectangle(305, 244)


def small_cuts(count: int, seed: int) -> list[Taken]:
    """Cuts anywhere on the board, the smaller the more there are, so that something stays."""
    rng = random.Random(f"cuts {seed}")
    largest = 30 if count <= 100 else 9
    cuts = []
    for number in range(count):
        shape = rng.choice((two_lobed, star, tide_bell, kite))(rng.uniform(largest / 3, largest))
        spot = Placement(rng.randrange(305_000), rng.randrange(244_000), rng.randrange(360_000))
        cuts.append(Taken("cut", f"piece {number}", place(shape, spot), 2000))
    return cuts


def measure(count: int, seed: int) -> dict[str, float]:
    """One board with so many cuts, booked one by one and as a whole."""
    cuts = small_cuts(count, seed)
    board, times, worst = start(BOARD, [], RULES), [], 0.0
    for cut in cuts:
        begun = time.process_time()
        board = trim(board, cut)
        times.append((time.process_time() - begun) * 1000)
        worst = max(worst, abs(board.imbalance_mm2))
    begun = time.process_time()
    whole = account(BOARD, cuts, RULES)
    full_ms = (time.process_time() - begun) * 1000
    over = board.usable_mm2 - whole.usable_mm2
    return {
        "cuts": count,
        "account_imbalance_mm2": abs(whole.imbalance_mm2),
        "trim_imbalance_mm2": worst,
        "update_ms_median": round(float(np.median(times)), 2),
        "update_ms_p95": round(float(np.percentile(times, 95)), 2),
        "update_ms_max": round(max(times), 2),
        "full_ms": round(full_ms, 1),
        "usable_mm2": round(whole.usable_mm2, 1),
        "overstated_percent_of_board": round(max(0.0, 100 * over / whole.outline_mm2), 5),
        "understated_percent_of_board": round(max(0.0, -100 * over / whole.outline_mm2), 5),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    report = {f"cuts_{count}": measure(count, chosen.seed) for count in (10, 100, 1000)}
    if chosen.json:
        print(json.dumps(report, indent=1))
        return
    for part, values in report.items():
        print(part, values)


if __name__ == "__main__":
    main()
