"""
Measure a search of the whole shelf, cold, on one core.

Run ``python -m tests.benchmarks.shelf --json --boards 1000``. Indexes and grounds lie in an SQLite
file; before each question its pages are dropped from memory and a new connection is opened, so that
reading is part of the time. The baseline asks a sample of the boards one by one.
"""

from __future__ import annotations

import argparse
import json
import os
import sqlite3
import tempfile
import time
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from salvage.geometry.fit import fit
from salvage.geometry.ground import Ground
from salvage.geometry.probes import probe_shape
from salvage.geometry.shelf import ShelfAnswer, ShelfBoard, ShelfQuery, decide_shelf
from salvage.geometry.shelf_index import write_index
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board
from tests.benchmarks.correlation import is_clear

CLEARANCE_MM = 0.5
ASKED = ("two-lobed 60", "two-lobed 25", "star 70", "island 80", "round 75", "fern leaf 40")


def build(path: Path, count: int, seed: int) -> dict[str, float]:
    """A shelf of so many different boards in an SQLite file."""
    sizes, index_ms = [], []
    with sqlite3.connect(path) as conn:
        conn.execute("CREATE TABLE board (key TEXT PRIMARY KEY, at INTEGER, idx BLOB)")
        conn.execute("CREATE TABLE ground (key TEXT PRIMARY KEY, wkb BLOB)")
        for number in range(count):
            ground = make_board(seed * 1_000_000 + number).ground()
            begun = time.process_time()
            index = write_index(ground)
            index_ms.append((time.process_time() - begun) * 1000)
            sizes.append(len(index))
            key = f"B{number:05}"
            conn.execute("INSERT INTO board VALUES (?, ?, ?)", (key, number, index))
            conn.execute("INSERT INTO ground VALUES (?, ?)", (key, shapely.to_wkb(ground.area)))
    return {
        "index_bytes_mean": round(float(np.mean(sizes)), 1),
        "index_bytes_max": max(sizes),
        "index_ms_median": round(float(np.median(index_ms)), 2),
    }


def ask(path: Path, name: str) -> tuple[list[ShelfAnswer], dict[str, float]]:
    """All answers for a shape, and when they came."""
    _drop_pages(path)
    probe_shape.cache_clear()
    cpu, wall = time.process_time(), time.perf_counter()
    conn = sqlite3.connect(path)
    loads = 0

    def load(key: str) -> BaseGeometry:
        nonlocal loads
        loads += 1
        row = conn.execute("SELECT wkb FROM ground WHERE key = ?", (key,)).fetchone()
        area: BaseGeometry = shapely.from_wkb(row[0])
        return area

    boards = [ShelfBoard(*row) for row in conn.execute("SELECT key, idx FROM board ORDER BY at")]
    query = ShelfQuery(SHAPES[name], CLEARANCE_MM)
    answers: list[ShelfAnswer] = []
    first_20 = (0.0, 0.0)
    fits = 0
    for answer in decide_shelf(query, boards, load):
        answers.append(answer)
        fits += answer.verdict == "fit"
        if fits == 20 and first_20[0] == 0.0:
            first_20 = time.process_time() - cpu, time.perf_counter() - wall
    took = time.process_time() - cpu, time.perf_counter() - wall
    conn.close()
    verdicts = Counter(answer.verdict for answer in answers)
    return answers, {
        "corners": len(SHAPES[name].outer),
        "fits": verdicts["fit"],
        "noes": verdicts["no"],
        "tight": verdicts["tight"],
        "tight_percent": round(100 * verdicts["tight"] / len(answers), 2),
        "first_20_cpu_s": round(first_20[0], 3),
        "first_20_wall_s": round(first_20[1], 3),
        "all_cpu_s": round(took[0], 3),
        "all_wall_s": round(took[1], 3),
        "grounds_loaded": loads,
    }


def judge(answers: list[ShelfAnswer], name: str, seed: int, *, sample: int) -> dict[str, float]:
    """False fits on all, wrong noes on a sample, and what asking one by one would take."""
    false_fits = wrong_no = tight_decided = 0
    times = []
    fits = [answer for answer in answers if answer.spot is not None]
    for answer in fits[:: max(1, len(fits) // (4 * sample))]:
        board = make_board(seed * 1_000_000 + int(answer.key[1:]))
        assert answer.spot is not None
        false_fits += not is_clear(answer.spot, board, kerf_mm=KERF_MM, clearance_mm=CLEARANCE_MM)
    for answer in answers[:: max(1, len(answers) // sample)]:
        ground: Ground = make_board(seed * 1_000_000 + int(answer.key[1:])).ground()
        begun = time.process_time()
        alone = fit(SHAPES[name], ground, clearance_mm=CLEARANCE_MM)
        times.append((time.process_time() - begun) * 1000)
        wrong_no += answer.verdict == "no" and alone.verdict == "fit"
        tight_decided += answer.verdict == "tight" and alone.verdict != "tight"
    return {
        "fits_checked": len(fits[:: max(1, len(fits) // (4 * sample))]),
        "false_fits": false_fits,
        "boards_asked_one_by_one": len(times),
        "wrong_no": wrong_no,
        "tight_decided_one_by_one": tight_decided,
        "one_by_one_ms_per_board": round(float(np.mean(times)), 2),
    }


def _drop_pages(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--boards", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sample", type=int, default=40)
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shelf.db"
        report: dict[str, object] = {"boards": chosen.boards, "seed": chosen.seed}
        report |= build(path, chosen.boards, chosen.seed)
        shapes: dict[str, dict[str, float]] = {}
        for name in ASKED:
            answers, numbers = ask(path, name)
            shapes[name] = numbers | judge(answers, name, chosen.seed, sample=chosen.sample)
        report["shapes"] = shapes
    if chosen.json:
        print(json.dumps(report, indent=1))
        return
    for part, values in report.items():
        print(part, values)


if __name__ == "__main__":
    main()
