"""
What a start costs, in processor time.

Run it with ``python -m tests.benchmarks.startup --json``. Every command runs in a process of its
own, all of them in turn and several times over, so that a busy machine slows each alike. What
counts are the ratios to bare Python; a bare command line of the parser's library with one command
that does nothing stands beside them. Compiled modules must lie beside the sources, as an installed
program has them: with PYTHONDONTWRITEBYTECODE set, every start would compile them anew.
"""

from __future__ import annotations

import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from salvage.records.choices import CHANNELS
from salvage.work.donors import NewDonor
from salvage.work.first_outline import outline_of_size
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import open_workshop

BARE_APP = """
import typer
app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
@app.command()
def nothing() -> None:
    '''Do nothing.'''
app()
"""

BARE = "bare typer app"
HELP = "salvage --help"
HISTORY = "salvage history CODE"
TRACE = "salvage trace CODE"
LISTS = ("journal", "board list", "piece list", "dropoff list", "donor list", "place list")
BARE_PYTHON = "bare python"


def build_shop(folder: Path, *, boards: int = 40) -> str:
    """
    A workshop with data, and the code of one of its boards.

    Args:
        folder: Where it is built.
        boards: How many boards it holds.
    """
    with open_workshop(folder, clock=lambda: datetime(2026, 5, 4, 9, tzinfo=UTC)) as shop:
        new = NewDropOff(shop.today, "line cards", board_count=boards, channel=CHANNELS[0])
        donor = NewDonor("Skerry Point Planetarium", "public body")
        view = log_drop_off(shop, donor=donor, new=new)
        outline = outline_of_size("160x100")
        board = NewBoard(
            view.drop_off.code,
            "line-card",
            outline=outline.region,
            outline_from=outline.outline_from,
        )
        return record_boards(shop, new=board, count=boards)[0].code


def commands(folder: Path, code: str) -> dict[str, list[str]]:
    """
    The command lines to compare, by name.

    Args:
        folder: Workshop with data.
        code: A code in it.
    """
    python, salvage = sys.executable, [sys.executable, "-m", "salvage", "--shop", str(folder)]
    app = folder / "bare_app.py"
    app.write_text(BARE_APP, encoding="utf-8")
    return {
        BARE_PYTHON: [python, "-c", "pass"],
        BARE: [python, str(app)],
        HELP: [python, "-m", "salvage", "--help"],
        HISTORY: [*salvage, "history", code],
        TRACE: [*salvage, "trace", code],
        "salvage board show CODE": [*salvage, "board", "show", code],
        **{f"salvage {words}": [*salvage, *words.split()] for words in LISTS},
    }


def cpu_ms(command: list[str]) -> float:
    """Processor time of one run, of user and system together, in milliseconds."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return 1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def measure(*, rounds: int = 11) -> dict[str, dict[str, float]]:
    """
    Median processor time of each command, and its ratio to bare Python.

    Args:
        rounds: How often each runs, after one run that warms the disk.
    """
    with tempfile.TemporaryDirectory() as name:
        lines = commands(Path(name), build_shop(Path(name)))
        for line in lines.values():
            cpu_ms(line)
        runs: dict[str, list[float]] = {key: [] for key in lines}
        for _ in range(rounds):
            for key, line in lines.items():
                runs[key].append(cpu_ms(line))
    return _ratios({key: statistics.median(times) for key, times in runs.items()})


def _ratios(medians: Mapping[str, float]) -> dict[str, dict[str, float]]:
    return {
        key: {"cpu_ms": round(ms, 1), "ratio": round(ms / medians[BARE_PYTHON], 2)}
        for key, ms in medians.items()
    }


if __name__ == "__main__":
    found = measure()
    if "--json" in sys.argv[1:]:
        print(json.dumps(found, indent=2))
    else:
        for key, figures in found.items():
            print(f"{figures['cpu_ms']:7.1f} ms  {figures['ratio']:5.2f} x  {key}")
