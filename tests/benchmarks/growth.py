"""
Each command's processor time and memory in workshops of 100, 1,000 and 10,000 boards.

``python -m tests.benchmarks.growth --json`` builds the workshops and runs every line of
:mod:`tests.benchmarks.growth_lines` in a process of its own; what changes the record is run dry.
``--boards`` chooses the sizes, ``--pieces`` and ``--photos`` how many of each board, ``--keep`` a
folder in which the workshops stay for the next run, ``--only`` words that a line must hold,
``--grows`` its classes. A
command is stopped after ``--most`` seconds of processor time. The exponent is that by which the
processor time, less that of ``--help``, grew between the two largest sizes: 0 is flat, 1 linear.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import resource
import shlex
import shutil
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from salvage.store.journal import count_events
from tests.bench import make_shop
from tests.benchmarks.growth_lines import ALL, LINES, ONE, PAGE, SOME
from tests.benchmarks.growth_steps import lay_picture, names_of, quoted
from tests.benchmarks.growth_world import grow

# The peak is read by the process itself: what is told of a child holds its parent's as well.
_RUNNER = """
import atexit, re, sys

def note(place=sys.argv.pop(1)):
    peak = re.search(r"VmHWM:\\s*(\\d+)", open("/proc/self/status").read())
    open(place, "w").write(peak[1])

atexit.register(note)
from salvage.cli.app import main
main()
"""

_SCRATCH = ("peak", "tables", "record", "copy", "sales.csv")


def prepare(folder: Path, *, boards: int, pieces: int, photos: int) -> dict[str, str]:
    """
    A workshop of a size in a folder, built unless it is there; gives the names of its things.

    Args:
        folder: Of this size.
        boards: How many.
        pieces: Cut of each board.
        photos: Of each board.
    """
    told = folder / "names.json"
    if not told.exists():
        folder.mkdir(parents=True)
        with make_shop(folder / "shop") as shop:
            grown = grow(shop, boards=boards, pieces_per_board=pieces, photos_per_board=photos)
            names = names_of(grown) | {"events": str(count_events(shop.conn))}
        lay_picture(folder)
        told.write_text(json.dumps(names), encoding="utf-8")
    kept: dict[str, str] = json.loads(told.read_text("utf-8"))
    return kept


def run_line(folder: Path, line: str, *, most_s: int) -> dict[str, float | int]:
    """
    Run a command line, and give what it took.

    Args:
        folder: Where the workshop and the picture lie.
        line: Without the program's name.
        most_s: Processor time after which it is stopped.
    """
    for name in _SCRATCH:
        place = folder / name
        shutil.rmtree(place) if place.is_dir() else place.unlink(missing_ok=True)
    words = [sys.executable, "-c", _RUNNER, "peak", "--shop", "shop", *shlex.split(line)]
    start = time.monotonic()
    child = os.fork()
    if not child:
        os.chdir(folder)
        resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in range(3):
            os.dup2(nowhere, stream)
        environment = os.environ | {"PYTHONPATH": str(Path.cwd()), "HOME": str(folder)}
        os.execve(words[0], words, environment)
    _child, status, used = os.wait4(child, 0)
    peak = folder / "peak"
    return {
        "cpu_ms": round((used.ru_utime + used.ru_stime) * 1000, 1),
        "wall_ms": round((time.monotonic() - start) * 1000, 1),
        "memory_mb": round(int(peak.read_text()) / 1024, 1) if peak.exists() else 0.0,
        "code": os.waitstatus_to_exitcode(status),
    }


def exponent(small_ms: float, large_ms: float, *, times: float, start_ms: float) -> float:
    """
    By which power a time grew with the size; less than a start's noise counts as nothing.

    Args:
        small_ms: Beyond the start of the program, in the smaller workshop.
        large_ms: The same in the larger.
        times: How much larger it is.
        start_ms: What a start takes.

    >>> exponent(10.0, 1000.0, times=10.0, start_ms=20.0)
    2.0
    >>> exponent(10.0, 19.0, times=10.0, start_ms=20.0)
    0.0
    """
    if large_ms - small_ms < start_ms:
        return 0.0
    return round(math.log(large_ms / max(small_ms, 0.5 * start_ms)) / math.log(times), 2)


def measure(arguments: argparse.Namespace) -> dict[str, object]:
    """Every line in every size."""
    with ExitStack() as stack:
        keep = arguments.keep or stack.enter_context(tempfile.TemporaryDirectory())
        told: dict[str, dict[str, object]] = {}
        events: dict[str, int] = {}
        for boards in arguments.boards:
            folder = Path(keep).resolve() / str(boards)
            names = prepare(folder, boards=boards, pieces=arguments.pieces, photos=arguments.photos)
            events[str(boards)] = int(names["events"])
            for line in LINES:
                if arguments.only in line.words and line.grows in arguments.grows:
                    taken = run_line(folder, quoted(line.words, names), most_s=arguments.most)
                    told.setdefault(line.words, {"grows": line.grows})[str(boards)] = taken
                    print(f"{boards:6} {taken}  {line.words}", file=sys.stderr)
    _add_exponents(told, arguments.boards)
    return {"pieces_per_board": arguments.pieces, "photos_per_board": arguments.photos,
            "events": events, "lines": told}  # fmt: skip


def _add_exponents(told: dict[str, dict[str, object]], sizes: list[int]) -> None:
    if len(sizes) < 2:
        return
    small, large = map(str, sizes[-2:])
    starts = [_cpu(told.get("--help", {}), size) for size in (small, large)]
    for line in told.values():
        spent = [
            _cpu(line, size) - start for size, start in zip((small, large), starts, strict=True)
        ]
        times = sizes[-1] / sizes[-2]
        line["exponent"] = exponent(*spent, times=times, start_ms=starts[1])


def _cpu(line: dict[str, object], size: str) -> float:
    taken = line.get(size)
    return float(taken["cpu_ms"]) if isinstance(taken, dict) else 1.0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Each command in workshops of several sizes.")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--boards", nargs="+", type=int, default=[100, 1000, 10000])
    parser.add_argument("--pieces", type=int, default=33)
    parser.add_argument("--photos", type=int, default=10)
    parser.add_argument("--most", type=int, default=600)
    parser.add_argument("--keep", default="")
    parser.add_argument("--only", default="")
    parser.add_argument("--grows", nargs="+", default=[ONE, PAGE, SOME, ALL])
    return parser.parse_args()


def main() -> None:
    """Print the table."""
    arguments = _arguments()
    found = measure(arguments)
    if arguments.json:
        print(json.dumps(found, indent=2))
        return
    lines = found["lines"]
    assert isinstance(lines, dict)
    for words, line in lines.items():
        cells = [f"{_cpu(line, str(size)):10.0f}" for size in arguments.boards]
        print(f"{line['grows']:5}{''.join(cells)} ms {line.get('exponent', ''):>6}  {words}")


if __name__ == "__main__":
    main()
