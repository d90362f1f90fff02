"""
What the first hour costs the machine: from nothing to the first story card.

Run it with ``python -m tests.benchmarks.first_hour --json``. A stranger in a fresh home types what
``salvage`` alone says; each command line is a process of its own. What people need to read, type
and look for is not in the figures.
"""

from __future__ import annotations

import json
import os
import resource
import shlex
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.docs.stranger import first_hour


@dataclass(frozen=True)
class Step:
    """
    One command line and what it cost.

    Args:
        topic: What it was about.
        line: Without the program's name.
        cpu_s: Processor time in seconds.
        wall_s: Time on the clock in seconds.
    """

    topic: str
    line: str
    cpu_s: float
    wall_s: float


def play(home: Path) -> list[Step]:
    """
    Play the first hour in a home folder and give every step.

    Args:
        home: Empty.
    """
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(home),
        "LC_ALL": "C.UTF-8",
        "PYTHONPATH": str(Path(__file__).parents[2]),
    }
    costs: list[tuple[float, float]] = []

    def run(line: str) -> str:
        before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "salvage", *shlex.split(line)],
            cwd=home,
            env=environment,
            capture_output=True,
            text=True,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        costs.append((cpu, time.perf_counter() - begun))
        return done.stdout

    typed = list(first_hour(run))
    return [Step(one.topic, one.line, *cost) for one, cost in zip(typed, costs, strict=True)]


def main() -> None:
    """Print every step and the sums; as JSON with ``--json``."""
    with tempfile.TemporaryDirectory() as folder:
        steps = play(Path(folder))
    typed = [step for step in steps if step.topic != "look"]
    sums = {
        "command_lines": len(typed),
        "looks": len(steps) - len(typed),
        "cpu_s": round(sum(step.cpu_s for step in steps), 2),
        "wall_s": round(sum(step.wall_s for step in steps), 2),
        "look_cpu_s": round(max(step.cpu_s for step in steps if step.topic == "look"), 3),
    }
    if "--json" in sys.argv[1:]:
        print(json.dumps({"steps": [vars(step) for step in steps], **sums}, indent=2))
        return
    for step in steps:
        print(f"{step.cpu_s:6.2f} s  {step.wall_s:6.2f} s  {step.topic:9} {step.line}")
    print(json.dumps(sums))


if __name__ == "__main__":
    main()
