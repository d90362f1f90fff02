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
import resource
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

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


class Runner:
    """
    Runs importers one after another.

    Args:
        engine: How inputs are chosen.
        seed: Of the engine.
        found: Folder for findings.
        scratch: Folder for everything else.
    """

    def __init__(self, engine: Engine, *, seed: int, found: Path, scratch: Path) -> None:
        self._engine, self._seed, self._found, self._scratch = engine, seed, found, scratch
        self._kept = 0

    def run(self, target: Target, most: int) -> Outcome:
        """Feed one importer, again from where it stood when it died."""
        from tests.fuzz.child import Slate, peak_kb

        start = resource.getrusage(resource.RUSAGE_CHILDREN)
        tried = done = findings = died = peak = 0
        slowest = 0.0
        while tried < most and died <= _MOST_RESTARTS:
            slate = Slate()
            reason = self._child(target, slate, most - tried, self._seed + died)
            data, _ = slate.look()
            tried, done = tried + slate.tried, done + slate.done
            findings, peak = findings + slate.findings, max(peak, slate.peak_kb)
            if slate.slowest_s > slowest:
                slowest = slate.slowest_s
                (self._found / f"slowest-{target.name}").write_bytes(slate.slowest)
            if reason:
                died += 1
                tried += 1
                self._keep_death(target, reason, data)
        end = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu_s = end.ru_utime + end.ru_stime - start.ru_utime - start.ru_stime
        sizes = (round(peak / 1000, 1), round(peak_kb() / 1000, 1))
        return Outcome(
            target.name,
            tried,
            done,
            findings,
            died,
            *sizes,
            round(slowest * 1000, 1),
            round(cpu_s, 1),
            self._kept,
        )

    def _child(self, target: Target, slate: Any, most: int, seed: int) -> str:
        """One process to its end; why it did not end well, or nothing."""
        from tests.fuzz.child import run_child

        folder = Path(tempfile.mkdtemp(dir=self._scratch))
        child = os.fork()
        if not child:
            try:
                run_child(target, self._engine, slate, most, seed, folder, self._found)
            finally:
                os._exit(9)
        try:
            return _watch(child, slate)
        finally:
            log = (folder / "log").read_bytes() if (folder / "log").exists() else b""
            corpus = folder / "corpus"
            self._kept = len(list(corpus.iterdir())) if corpus.is_dir() else 0
            (self._found / f"log-{target.name}").write_bytes(log[-4000:])
            shutil.rmtree(folder, ignore_errors=True)

    def _keep_death(self, target: Target, reason: str, data: bytes) -> None:
        from tests.fuzz.child import keep_finding
        from tests.fuzz.target import Finding

        keep_finding(self._found, Finding(target.name, reason, "", data))


def _watch(child: int, slate: Any) -> str:
    """Wait for a child's end, and end it where an input hangs."""
    standing, before = 0, b""
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            code = os.waitstatus_to_exitcode(status)
            return "" if code == 0 else f"the process ended with {code}"
        data, since = slate.look()
        standing = 0 if data != before or not since else standing + 1
        before = data
        if since and (_cpu_s(child) - since > MOST_SECONDS or standing * _TICK_S > _MOST_STILL_S):
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return f"hung for {MOST_SECONDS} s"
        time.sleep(_TICK_S)


def _cpu_s(process: int) -> float:
    """Processor time of a process; the fields are those of proc(5)."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def fuzz(
    inputs: int, *, seed: int, found: Path, guided: bool, only: tuple[str, ...] = ()
) -> Iterator[Outcome]:
    """
    Try so many inputs over all importers; gives how each fared.

    Args:
        inputs: How many in all.
        seed: Of the choice of inputs.
        found: Folder for findings.
        guided: Whether inputs are chosen by the branches that they reach.
        only: Names of the only importers; all of them if empty.
    """
    targets = load_targets(guided=guided)
    from tests.fuzz.child import feed_guided, feed_plain

    wanted = {name: one for name, one in targets.items() if not only or name in only}
    engine: Engine = feed_guided if guided else feed_plain
    found.mkdir(parents=True, exist_ok=True)
    place = "/dev/shm" if Path("/dev/shm").is_dir() else None
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=place) as scratch:
        runner = Runner(engine, seed=seed, found=found, scratch=Path(scratch))
        for name, most in share_out(wanted, inputs).items():
            yield runner.run(wanted[name], most)


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
    parser.add_argument("--plain", action="store_true", help="do not look at branches")
    parser.add_argument("--json", action="store_true")
    said = parser.parse_args(words)
    guided = has_guide() and not said.plain
    only = tuple(filter(None, said.only.split(",")))
    outcomes = []
    for one in fuzz(said.inputs, seed=said.seed, found=said.found, guided=guided, only=only):
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
