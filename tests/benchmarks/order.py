"""
Plans for orders over made-up shelves: the first answer, and how many boards the search saves.

``python -m tests.benchmarks.order [--json] [--shelves 6] [--seconds 10]``. Shelves, cuts and orders
come from a seed; no board is a real one. Largest-first first-fit on the same fine grid at
right angles is the baseline; with ``--any-angle`` the plan turns pieces freely, and over.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.order_plan import OrderLine, ShelfBoard, plan_order
from salvage.geometry.order_yard import Yard, first_fit
from salvage.geometry.outline import circle, rectangle
from salvage.geometry.pack import ANGLES_MDEG, gap_of_rules
from salvage.geometry.pack_site import Cutouts
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape

RULES = Rules(tool_mm=1.0, wall_mm=1.0, least_mm=15.0)
# Sizes of boards that a workshop meets (common practice, no source).
SIZES = [(305, 244), (244, 244), (244, 170), (170, 170), (210, 120), (160, 100), (120, 90)]
SHAPES = {
    "round 50": circle(50),
    "round 30": circle(30),
    "drop 40": built_in_shape("teardrop", width_mm=40),
    "drop 25": built_in_shape("hanging-teardrop", width_mm=25),
    "tag 28": built_in_shape("rounded-tag", width_mm=28),
    "oval 45": built_in_shape("oval", width_mm=45),
    "moon 60": built_in_shape("half-moon", width_mm=60),
    "ring 35": built_in_shape("ring", width_mm=35),
}


def make_board(number: int, chance: np.random.Generator, *, fresh: bool) -> ShelfBoard:
    """A board with four holes and a connector bank; if not fresh, partly cut."""
    width, height = SIZES[int(chance.integers(2 if fresh else len(SIZES)))]
    taken = [
        Taken("keep-out", "hole", place(circle(7), Placement(round(x * 1000), round(y * 1000))))
        for x in (6, width - 6)
        for y in (6, height - 6)
    ]
    bank = rectangle(width * 0.5, 18)
    taken.append(Taken("keep-out", "bank", place(bank, Placement(15_000, 0))))
    for _ in range(0 if fresh else int(chance.integers(1, 7))):
        x, y = chance.uniform(0, width), chance.uniform(0, height)
        spot = Placement(round(x * 1000), round(y * 1000))
        taken.append(
            Taken("cut", "earlier", place(circle(float(chance.uniform(25, 70))), spot), 1000)
        )
    layers = account(rectangle(width, height), taken, RULES).layers
    return ShelfBoard(f"{'F' if fresh else 'R'}{number}", layers["usable"], fresh)


def make_case(seed: int) -> tuple[list[OrderLine], list[ShelfBoard]]:
    """A shelf of ten cut and four fresh boards, and an order for a part of the cut ones."""
    chance = np.random.default_rng(seed)
    boards = [make_board(n, chance, fresh=False) for n in range(10)]
    boards += [make_board(n, chance, fresh=True) for n in range(4)]
    boards = [board for board in boards if board.area]
    ground = sum(board.area_mm2 for board in boards if not board.fresh)
    counts = dict.fromkeys(SHAPES, 0)
    names = list(SHAPES)
    wanted = ground * float(chance.uniform(0.2, 0.8))
    while wanted > 0:
        name = names[int(chance.integers(len(names)))]
        counts[name] += 1
        wanted -= SHAPES[name].area_mm2
    return [OrderLine(n, SHAPES[n], c) for n, c in counts.items() if c], boards


def baseline(lines: list[OrderLine], boards: list[ShelfBoard], gap_mm: float) -> tuple[int, int]:
    """Fresh boards and boards touched by largest-first first-fit on the fine grid."""
    cutouts = Cutouts(
        [line.shape for line in lines],
        gap_mm=gap_mm,
        angles_mdeg=range(0, 360_000, 90_000),
        step_mm=1.0,
        detail_mm=0.15,
    )
    order = sorted(boards, key=lambda board: (board.fresh, board.area_mm2, board.code))
    yard = Yard(order, lines, cutouts)
    _, fresh, touched, _ = yard.rank(first_fit(yard))
    return fresh, touched


def measure(seed: int, seconds: float, *, any_angle: bool) -> Mapping[str, float]:
    """Figures of one shelf."""
    square, boards = make_case(seed)
    free = [replace(line, angles_mdeg=ANGLES_MDEG, mirrored_allowed=True) for line in square]
    lines = free if any_angle else square
    gap = gap_of_rules(RULES)
    start = time.process_time()
    first = plan_order(lines, boards, gap_mm=gap, patience=Patience(0, time.monotonic))
    first_s = time.process_time() - start
    better = plan_order(lines, boards, gap_mm=gap, patience=Patience(seconds, time.monotonic))
    fresh, touched = baseline(square, boards, gap)
    return {
        "seed": seed,
        "pieces": sum(line.quantity for line in lines),
        "first_cpu_s": round(first_s, 2),
        "first_fresh": first.fresh_boards,
        "first_boards": first.boards_touched,
        "fine_first_fit_fresh": fresh,
        "fine_first_fit_boards": touched,
        "fresh": better.fresh_boards,
        "boards": better.boards_touched,
        "unmet": sum(gone.quantity for gone in better.unmet),
        "largest_circle_left_mm": round(max(r.inscribed_mm for r in better.remnants), 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Plans for orders over made-up shelves.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--shelves", type=int, default=6, help="how many shelves")
    parser.add_argument("--seconds", type=float, default=10.0, help="search time for each")
    parser.add_argument("--any-angle", action="store_true", help="turn freely, and over")
    options = parser.parse_args()
    rows = [
        measure(seed, options.seconds, any_angle=options.any_angle)
        for seed in range(options.shelves)
    ]
    saved = [1 - row["boards"] / row["fine_first_fit_boards"] for row in rows]
    result = {
        "benchmark": "order",
        "any_angle": options.any_angle,
        "shelves": rows,
        "first_cpu_s_worst": max(row["first_cpu_s"] for row in rows),
        "boards_saved_mean": round(statistics.mean(saved), 3),
        "never_more_fresh": all(
            row["fresh"] <= min(row["fine_first_fit_fresh"], row["first_fresh"]) for row in rows
        ),
    }
    if options.json:
        print(json.dumps(result, indent=2))
        return
    for row in rows:
        print("  ".join(f"{key} {value:g}" for key, value in row.items()))
    print({key: value for key, value in result.items() if key != "shelves"})


if __name__ == "__main__":
    main()
