"""
The long run: ``python -m tests.fuzz.run --inputs 1000000 --seed 1 --json``.

Every importer runs in a process of its own with bounded memory. Where the package ``atheris`` is
installed, inputs are chosen by the branches of our code that they reach; elsewhere the seeds are
changed by the rules of their formats alone. A process that dies or hangs is a finding too, and the
run goes on after it.
"""

from __future__ import annotations

import argparse
import importlib
import importlib.util
import json
import os
import pkgutil
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from tests.fuzz.child import Engine
    from tests.fuzz.target import Target

MOST_SECONDS = 30
"""An input that takes more processor time hangs."""

_TICK_S = 0.02
_MOST_STILL_S = 600  # by the clock, for what waits and works not

_MOST_RESTARTS = 20


@dataclass(frozen=True)
class Outcome:
    """
    How one importer fared.

    Args:
        target: Its name.
        inputs: How many were tried.
        done: How many were taken; the rest was refused, or is a finding.
        findings: How many were answered by anything but done or refused.
        died: How many ended the process, or hung.
        peak_mb: Most memory of its process.
        before_mb: Memory of its process before the first input.
        slowest_ms: Processor time of the slowest input.
        cpu_s: Processor time of all.
        kept: Inputs that reached something new and were kept to begin from; 0 without a guide.
    """

    target: str
    inputs: int
    done: int
    findings: int
    died: int
    peak_mb: float
    before_mb: float
    slowest_ms: float
    cpu_s: float
    kept: int


def load_targets(*, guided: bool) -> Mapping[str, Target]:
    """
    The importers, with the program instrumented where inputs are chosen by its branches.

    Args:
        guided: Whether they are.
    """
    if guided:
        import atheris

        with atheris.instrument_imports(include=["salvage"], enable_loader_override=False):
            _import_all()
    from tests.fuzz.targets import TARGETS

    return TARGETS


def _import_all() -> None:
    """All of the program, since what a function imports later would not be instrumented."""
    package = importlib.import_module("salvage")
    for module in pkgutil.walk_packages(package.__path__, "salvage."):
        if not module.name.startswith("salvage.demo_db") and not module.name.endswith("__main__"):
            importlib.import_module(module.name)


def share_out(targets: Mapping[str, Target], inputs: int) -> dict[str, int]:
    """How many inputs each importer gets; at least one."""
    whole = sum(target.share for target in targets.values())
    shares = {name: max(1, inputs * one.share // whole) for name, one in targets.items()}
    largest = max(shares, key=lambda name: shares[name])
    shares[largest] += max(0, inputs - sum(shares.values()))
    return shares


@dataclass(frozen=True)
class Plan:
    """
    What all turns have in common.

    Args:
        engine: How inputs are chosen.
        seed: Of the engine.
        found: Folder for findings.
        scratch: Folder for everything else.
    """

    engine: Engine
    seed: int
    found: Path
    scratch: Path


class Run:
    """
    One importer's turn, in a process of its own, begun again from where it stood when it died.

    Args:
        target: The importer.
        most: How many inputs.
        plan: What all turns have in common.
    """

    def __init__(self, target: Target, most: int, plan: Plan) -> None:
        self._target, self._most, self._plan = target, most, plan
        self._tried = self._done = self._findings = self._died = self._peak_kb = self._kept = 0
        self._slowest_s = self._cpu_s = 0.0
        self._begin()

    def _begin(self) -> None:
        from tests.fuzz.child import Slate, run_child

        plan = self._plan
        self._slate = Slate()
        self._standing, self._before = 0, b""
        self._folder = Path(tempfile.mkdtemp(dir=plan.scratch))
        self._child = os.fork()
        if not self._child:
            try:
                seed, most = plan.seed + self._died, self._most - self._tried
                target, slate = self._target, self._slate
                run_child(target, plan.engine, slate, most, seed, self._folder, plan.found)
            finally:
                os._exit(9)

    def is_over(self) -> bool:
        """Look after the process; True once so many inputs were tried."""
        ended, status, used = os.wait4(self._child, os.WNOHANG)
        reason = ""
        if not ended and not self._hangs():
            return False
        if ended:
            code = os.waitstatus_to_exitcode(status)
            reason = f"the process ended with {code}" if code else ""
        else:
            os.kill(self._child, signal.SIGKILL)
            _, _, used = os.wait4(self._child, 0)
            reason = f"hung for {MOST_SECONDS} s"
        self._cpu_s += used.ru_utime + used.ru_stime
        self._take_stock(reason)
        if self._tried >= self._most or self._died > _MOST_RESTARTS:
            return True
        self._begin()
        return False

    def _hangs(self) -> bool:
        data, since = self._slate.look()
        is_same = bool(since) and data == self._before
        self._standing, self._before = (self._standing + 1 if is_same else 0), data
        if not since:
            return False
        return (
            _cpu_s(self._child) - since > MOST_SECONDS or self._standing * _TICK_S > _MOST_STILL_S
        )

    def _take_stock(self, reason: str) -> None:
        """Add up what a process told until its end."""
        from tests.fuzz.child import keep_finding
        from tests.fuzz.target import Finding

        slate, found, name = self._slate, self._plan.found, self._target.name
        data, _ = slate.look()
        self._tried += slate.tried
        self._done += slate.done
        self._findings += slate.findings
        self._peak_kb = max(self._peak_kb, slate.peak_kb)
        if slate.slowest_s > self._slowest_s:
            self._slowest_s = slate.slowest_s
            (found / f"slowest-{name}").write_bytes(slate.slowest)
        if reason:
            self._died += 1
            self._tried += 1
            keep_finding(found, Finding(name, reason, "", data))
        log, corpus = self._folder / "log", self._folder / "corpus"
        self._kept = max(self._kept, len(list(corpus.iterdir())) if corpus.is_dir() else 0)
        (found / f"log-{name}").write_bytes(log.read_bytes()[-4000:] if log.exists() else b"")
        shutil.rmtree(self._folder, ignore_errors=True)

    def outcome(self) -> Outcome:
        """How it fared."""
        from tests.fuzz.child import peak_kb

        return Outcome(
            self._target.name,
            self._tried,
            self._done,
            self._findings,
            self._died,
            round(self._peak_kb / 1000, 1),
            round(peak_kb() / 1000, 1),
            round(self._slowest_s * 1000, 1),
            round(self._cpu_s, 1),
            self._kept,
        )


def _cpu_s(process: int) -> float:
    """Processor time of a process; the fields are those of proc(5)."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def fuzz(
    inputs: int,
    *,
    seed: int,
    found: Path,
    guided: bool,
    only: tuple[str, ...] = (),
    jobs: int = 1,
) -> Iterator[Outcome]:
    """
    Try so many inputs over all importers; gives how each fared.

    Args:
        inputs: How many in all.
        seed: Of the choice of inputs.
        found: Folder for findings.
        guided: Whether inputs are chosen by the branches that they reach.
        only: Names of the only importers; all of them if empty.
        jobs: So many processes at once.
    """
    targets = load_targets(guided=guided)
    from tests.fuzz.child import feed_guided, feed_plain

    wanted = {name: one for name, one in targets.items() if not only or name in only}
    engine: Engine = feed_guided if guided else feed_plain
    found.mkdir(parents=True, exist_ok=True)
    place = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=place) as scratch:
        plan = Plan(engine, seed, found, Path(scratch))
        waiting = list(share_out(wanted, inputs).items())
        running: list[Run] = []
        while waiting or running:
            while waiting and len(running) < jobs:
                name, most = waiting.pop(0)
                running.append(Run(wanted[name], most, plan))
            over = [run for run in running if run.is_over()]
            running = [run for run in running if run not in over]
            yield from (run.outcome() for run in over)
            time.sleep(_TICK_S)


def has_guide() -> bool:
    """Whether the coverage-guided engine is installed here."""
    return importlib.util.find_spec("atheris") is not None


def main(words: list[str] | None = None) -> int:
    """Run, and tell what came of it."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.run", description=__doc__)
    parser.add_argument("--inputs", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="names with commas between them")
    parser.add_argument("--found", type=Path, default=Path("fuzz-found"))
    parser.add_argument("--jobs", type=int, default=1, help="processes at once")
    parser.add_argument("--plain", action="store_true", help="do not look at branches")
    parser.add_argument("--json", action="store_true")
    said = parser.parse_args(words)
    guided = has_guide() and not said.plain
    only = tuple(filter(None, said.only.split(",")))
    outcomes = []
    way = {"seed": said.seed, "found": said.found, "guided": guided, "jobs": said.jobs}
    for one in fuzz(said.inputs, only=only, **way):
        outcomes.append(one)
        sys.stderr.write(f"{one}\n")
    result = {
        "engine": "atheris" if guided else "plain",
        "seed": said.seed,
        "inputs": sum(one.inputs for one in outcomes),
        "tracebacks": sum(one.findings + one.died for one in outcomes),
        "largest_mb": max(one.peak_mb for one in outcomes),
        "slowest_ms": max(one.slowest_ms for one in outcomes),
        "cpu_s": sum(one.cpu_s for one in outcomes),
        "targets": [asdict(one) for one in outcomes],
    }
    if said.json:
        sys.stdout.write(json.dumps(result, indent=1) + "\n")
    else:
        for one in outcomes:
            sys.stdout.write(f"{one.target:14} {one.inputs:9} {one.findings + one.died:6}\n")
    return 1 if result["tracebacks"] else 0


if __name__ == "__main__":
    sys.exit(main())
