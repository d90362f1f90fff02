"""
Everything out in open forms and back: time, and the most memory that each way takes, at two sizes.

``python -m tests.benchmarks.whole --json``; each way runs in a process of its own, whose greatest
resident size the system tells.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

_PROGRAM = "from salvage.cli.app import main; main()"


def _spent(folder: Path, *words: str) -> dict[str, float]:
    """Processor seconds and greatest resident megabytes of one run of the program."""
    environment = {**os.environ, "HOME": str(folder), "SALVAGE_STATE": str(folder / "state")}
    process = subprocess.Popen(
        [sys.executable, "-c", _PROGRAM, *words], env=environment, stdout=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{words} ended with {process.returncode}")
    return {
        "cpu_s": round(usage.ru_utime + usage.ru_stime, 1),
        "peak_mb": round(usage.ru_maxrss / 1024),
    }


def _measure(boards: int, pieces: int, most_s: float) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        # In a process of its own: a child counts its parent's memory as its own greatest.
        words = ("--build", str(folder / "shop"), f"--boards={boards}", f"--pieces={pieces}")
        this = [sys.executable, "-m", "tests.benchmarks.whole", *words, f"--most-s={most_s}"]
        events = int(subprocess.run(this, check=True, capture_output=True, text=True).stdout)
        shop_folder, out, back = (str(folder / part) for part in ("shop", "out", "back"))
        exported = _spent(folder, "--shop", shop_folder, "export", "all", out, "--with-names")
        restored = _spent(folder, "--shop", back, "restore", out)
        looked = _spent(folder, "--shop", back, "journal", "--most", "1")
        size = sum(path.stat().st_size for path in Path(out).rglob("*") if path.is_file())
        return {
            "events": events,
            "export_mb": round(size / 1e6),
            "export": exported,
            "restore": restored,
            "look_up": looked,
        }


def _build(folder: Path, boards: int, pieces: int, most_s: float) -> int:
    from tests.bench import make_shop
    from tests.benchmarks.trace_world import World, build

    world = World(boards, pieces)
    with make_shop(folder) as shop:
        build(shop, world, most_s=most_s)
    return world.events


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--boards", type=int, default=400)
    parser.add_argument("--pieces", type=int, default=40_000)
    parser.add_argument("--most-s", type=float, default=240.0, help="for building each workshop")
    parser.add_argument("--build", default="", help="only build a workshop in this folder")
    given = parser.parse_args()
    if given.build:
        print(_build(Path(given.build), given.boards, given.pieces, given.most_s))
        return
    sizes = ((given.boards // 10, given.pieces // 10), (given.boards, given.pieces))
    result = {"benchmark": "whole", "sizes": [_measure(*size, given.most_s) for size in sizes]}
    print(json.dumps(result, indent=2 if given.json else None))


if __name__ == "__main__":
    main()
