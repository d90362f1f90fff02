"""
How many of our labels are read in photos, by each engine alone and by the cascade.

Run as ``python -m tests.benchmarks.read_rate --json``. With ``--save FILE`` each picture's outcome
is written as a line at once, and a run that was stopped goes on where it was.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.benchmarks.read_rate_score import ENGINES, Record, score, summary
from tests.benchmarks.read_rate_set import Cell, cells, take

TUNED_ON = 20261125
"""The seed that the cascade was tuned on; report others."""


def run(todo: Iterator[Cell], *, save: Path | None, opencv_every: int) -> list[Record]:
    """
    Make and read pictures.

    Args:
        todo: Which.
        save: Lines of outcomes; those that are there are not made again.
        opencv_every: Read each so many-th picture with OpenCV's own reader too; 0 for none.
    """
    records: list[Record] = []
    if save and save.exists():
        records = [json.loads(line) for line in save.read_text("utf-8").splitlines()]
    done = {record["key"] for record in records}
    for number, cell in enumerate(todo):
        if cell.key in done:
            continue
        picture, truths = take(cell)
        third = opencv_every > 0 and number % opencv_every == 0
        records.append(score(cell, picture, truths, third=third))
        if save:
            with save.open("a", encoding="utf-8") as file:
                file.write(json.dumps(records[-1]) + "\n")
    return records


def show(table: Record) -> None:
    """Print the main rows for people."""
    print(f"{table['pictures']} pictures, {table['negatives']} of them with nothing to read")
    print(f"wrong codes accepted: {table['wrong_accepted']['count']}")
    print(f"{'percent read':42}" + "".join(f"{name:>12}" for name in ENGINES))
    for name, row in table["targets"].items():
        print(f"{name:42}" + "".join(f"{row[e]['percent'] or 0:12.2f}" for e in ENGINES), end="")
        print(f"   of {row['cascade']['labels']}, {row['cascade']['interval']}")
    for name, times in table["cpu_ms"].items():
        print(f"{name:42} median {times['median']} ms, p95 {times['p95']} ms")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--seed", type=int, nargs="+", default=[777], help="sets to make")
    parser.add_argument("--per-cell", type=int, default=1, help="pictures of each kind")
    parser.add_argument("--negatives", type=int, default=60, help="pictures with nothing to read")
    parser.add_argument("--photos", type=int, default=3, help="whole photos of each kind")
    parser.add_argument("--opencv-every", type=int, default=10, help="0 leaves OpenCV out")
    parser.add_argument("--save", type=Path, help="file of outcomes, a line each, to go on from")
    parser.add_argument("--only", default="", help="only this condition")
    return parser.parse_args()


def main(seeds: Sequence[int], asked: argparse.Namespace) -> None:
    """Make the sets, read them, print the table."""
    todo = (
        cell
        for seed in seeds
        for cell in cells(
            seed, per_cell=asked.per_cell, negatives=asked.negatives, photos=asked.photos
        )
        if asked.only in cell.condition
    )
    table = summary(run(todo, save=asked.save, opencv_every=asked.opencv_every))
    if asked.json:
        print(json.dumps({"seeds": list(seeds), "per_cell": asked.per_cell, **table}, indent=2))
    else:
        show(table)


if __name__ == "__main__":
    arguments = _arguments()
    main(arguments.seed, arguments)
