"""
How many small faults in store, journal and merge the tests notice.

    python -m tests.benchmarks.mutants learn
    python -m tests.benchmarks.mutants try --sample 400
    python -m tests.benchmarks.mutants try --part 1/2 &
    python -m tests.benchmarks.mutants try --part 2/2
    python -m tests.benchmarks.mutants report

``learn`` runs the tests near the store once and keeps which test runs which line, and how long it
takes. ``try`` makes one fault after the other and runs the tests that pass its line, the quickest
first, until one fails or the time for it is over. ``report`` counts, and names those that lived.
Faults that change nothing which anyone could notice stand in ``mutants_equivalent.csv`` with the
reason; they are not tried.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from types import FunctionType
from typing import Any
from xml.etree import ElementTree

import pytest

from tests.benchmarks.mutant_changes import Mutant, make_mutants
from tests.benchmarks.mutant_trial import (
    KILLED,
    QUIET,
    SURVIVED,
    TIMED_OUT,
    UNSEEN,
    Session,
    exchange,
    fork,
    load_libraries,
    loaded_functions,
    run_items,
    scratch_folders,
    try_anew,
)

NEAR = (
    *("tests/store", "tests/property", "tests/test_canonical.py", "tests/test_ids.py"),
    *("tests/records", "tests/faults/test_disk.py"),
)
"""Tests that are asked first."""

FAR = ("tests/work", "tests/faces")
"""Tests that are asked when none of the near ones noticed anything."""

_FEW = {"SALVAGE_EXAMPLES": "8", "SALVAGE_HISTORIES": "40"}
_EQUIVALENT = Path(__file__).with_name("mutants_equivalent.csv")
_WORK = Path(tempfile.gettempdir()) / "salvage-mutants"
_LIMIT_S = 10


def proven_files() -> list[str]:
    """The files of store, journal and merge, as pyproject.toml lists them."""
    project = tomllib.loads(Path("pyproject.toml").read_text("utf-8"))
    patterns = project["tool"]["salvage"]["proven"]
    return sorted({str(path) for pattern in patterns for path in Path().glob(pattern)})


class Learned:
    """
    What one run of the tests showed.

    Args:
        folder: Where ``learn`` kept it.
    """

    def __init__(self, folder: Path) -> None:
        from coverage import CoverageData

        self._data = CoverageData(str(folder / "coverage"))
        self._data.read()
        self.seconds = _read_times(folder)
        self._lines: dict[str, dict[int, list[str]]] = {}

    def _tests_by_line(self, file: str) -> dict[int, list[str]]:
        if file not in self._lines:
            found = self._data.contexts_by_lineno(str(Path(file).resolve()))
            self._lines[file] = {
                line: sorted({name.partition("|")[0] for name in names} & self.seconds.keys())
                for line, names in found.items()
            }
        return self._lines[file]

    def tests_for(self, mutant: Mutant, span: range, *, most_s: float) -> list[str]:
        """The tests that run a fault's line, near and quick ones first, for so many seconds."""
        by_line = self._tests_by_line(mutant.file)
        found = by_line.get(mutant.line) if mutant.scope else None
        if not found:
            found = sorted({name for line in span for name in by_line.get(line, ())})
        ours = _mirror_of(mutant.file)
        mirror = {name for name in found if ours in Path(name.partition("::")[0]).stem}
        if not mutant.scope:
            found = sorted(mirror, key=self.seconds.__getitem__) + self._spread(mutant.file, found)
        else:
            found.sort(
                key=lambda name: (
                    name not in mirror,
                    not name.startswith(NEAR),
                    self.seconds[name],
                )
            )
        chosen: list[str] = []
        spent = 0.0
        for name in dict.fromkeys(found):
            spent += self.seconds[name]
            if chosen and spent > most_s:
                break
            chosen.append(name)
        return chosen

    def _spread(self, file: str, tests: list[str]) -> list[str]:
        """Tests in such an order that the first few pass as many lines of the file as possible."""
        lines: dict[str, set[int]] = {name: set() for name in tests}
        for line, names in self._tests_by_line(file).items():
            for name in names:
                lines[name].add(line)
        order, passed = [], set[int]()
        while lines:
            best = max(
                lines, key=lambda name: len(lines[name] - passed) / (self.seconds[name] + 0.05)
            )
            order.append(best)
            passed |= lines.pop(best)
            if len(order) > 40:
                break
        return order


def _mirror_of(file: str) -> str:
    """What the names of the test files that mirror a module have in common."""
    return Path(file).stem.removeprefix("project_").removesuffix("s")


def _read_times(folder: Path) -> dict[str, float]:
    """Processor seconds of each test, as near as the clock on the wall tells them."""
    seconds: dict[str, float] = {}
    for case in ElementTree.parse(folder / "times.xml").getroot().iter("testcase"):
        if "browser" in str(case.get("file")):  # it asks for more memory than a child may have
            continue
        seconds[f"{case.get('file')}::{case.get('name')}"] = float(case.get("time") or 0)
    share = float((folder / "cpu.txt").read_text()) / sum(seconds.values())
    return {name: took * min(1.0, share) for name, took in seconds.items()}


def learn(folder: Path) -> None:
    """Run the tests once, and keep which test runs which line."""
    folder.mkdir(parents=True, exist_ok=True)
    words = [sys.executable, "-m", "pytest", "-q", "-n2", "--dist", "loadfile", *NEAR, *FAR]
    words += ["--cov=salvage", "--cov-branch", "--cov-report=", "--cov-context=test"]
    words += [f"--junitxml={folder / 'times.xml'}", "-o", "junit_family=xunit1"]
    place = {"COVERAGE_FILE": str(folder / "coverage")}
    subprocess.run(words, check=True, env={**os.environ, **_FEW, **place})
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    (folder / "cpu.txt").write_text(f"{used.ru_utime + used.ru_stime:.0f}\n")


def _equivalent() -> dict[tuple[str, str, str, str], str]:
    with _EQUIVALENT.open(encoding="utf-8", newline="") as file:
        return {
            (row["file"], row["scope"], row["before"], row["after"]): row["reason"]
            for row in csv.DictReader(file)
        }


def choose(files: Iterable[str], *, part: str, sample: int, seed: int) -> list[Mutant]:
    """All faults of some files, or a sample, or one of several parts of them."""
    mutants = [
        mutant for file in files for mutant in make_mutants(file, Path(file).read_text("utf-8"))
    ]
    random.Random(seed).shuffle(mutants)
    if sample:
        mutants = mutants[:sample]
    number, _, parts = part.partition("/")
    return mutants[int(number) - 1 :: int(parts)]


def _controls(mutants: Sequence[Mutant]) -> list[Mutant]:
    """The same places without any fault: there no test may fail."""
    return [replace(mutant, number=-1) for mutant in mutants[:: max(1, len(mutants) // 12)]]


class Campaign:
    """
    Faults that are tried one after the other, each outcome written down at once.

    Args:
        learned: Of :func:`learn`.
        results: File of outcomes, one JSON object a line; what stands there is not tried again.
        most_s: Seconds of tests for each fault.
    """

    def __init__(self, learned: Learned, results: Path, *, most_s: float) -> None:
        self._learned, self._results, self._most_s = learned, results, most_s
        self._sources: dict[str, str] = {}
        self._loaded: dict[str, list[FunctionType]] = {}
        self._scratch = scratch_folders()

    def _source(self, file: str) -> str:
        if file not in self._sources:
            self._sources[file] = Path(file).read_text("utf-8")
        return self._sources[file]

    def _tests(self, mutant: Mutant) -> tuple[list[str], int]:
        lines = len(self._source(mutant.file).splitlines())
        span = (
            range(max(1, mutant.line - 12), min(lines, mutant.line + 12))
            if mutant.scope
            else (range(1, lines + 1))
        )
        tests = self._learned.tests_for(mutant, span, most_s=self._most_s)
        return tests, _LIMIT_S + round(3 * sum(self._learned.seconds[name] for name in tests))

    def _note(self, mutant: Mutant, outcome: str, by: str = "") -> None:
        if mutant.number < 0 and outcome not in (SURVIVED, UNSEEN):
            raise SystemExit(f"without any fault a test of {mutant} fails: {outcome} {by}")
        with self._results.open("a", encoding="utf-8") as file:
            file.write(json.dumps({**asdict(mutant), "outcome": outcome, "by": by}) + "\n")

    def run(self, mutants: Sequence[Mutant]) -> None:
        """Try them all: those of module texts first, before anything of the program is loaded."""
        known, done = _equivalent(), {(row["file"], row["number"]) for row in _read(self._results)}
        wanted = [
            mutant
            for mutant in mutants
            if mutant.key not in known and (mutant.file, mutant.number) not in done
        ]
        outside = [mutant for mutant in wanted if not mutant.scope]
        inside = [mutant for mutant in wanted if mutant.scope]
        for mutant in [*_controls(outside), *outside]:
            self._try_anew(mutant)
        inside = [*_controls(inside), *inside]
        tests = sorted({name for mutant in inside for name in self._tests(mutant)[0]})
        if tests:
            files = sorted({name.partition("::")[0] for name in tests})

            def then(items: dict[str, pytest.Item]) -> None:
                self._loaded = loaded_functions()
                for mutant in inside:
                    self._try_inside(mutant, items)

            pytest.main([*QUIET, *files], plugins=[Session(then)])
        self._scratch.close()

    def _try_anew(self, mutant: Mutant) -> None:
        tests, limit_s = self._tests(mutant)
        source = self._source(mutant.file)
        outcome, by = try_anew(
            mutant, source, tests, limit_s=limit_s + 10, scratch=next(self._scratch)
        )
        self._note(mutant, outcome, by)

    def _try_inside(self, mutant: Mutant, items: Mapping[str, pytest.Item]) -> None:
        tests, limit_s = self._tests(mutant)
        chosen = [items[name] for name in tests if name in items]
        if not chosen:
            self._note(mutant, UNSEEN)
            return
        scratch = next(self._scratch)
        put = exchange(mutant, self._source(mutant.file), self._loaded)

        def work() -> bool:
            put()
            return run_items(chosen, scratch)

        self._note(mutant, *fork(work, limit_s=limit_s, scratch=scratch))


def _where(mutant: Mutant) -> str:
    return "inside" if mutant.scope else "outside"


def _read(path: Path) -> list[dict[str, Any]]:
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def report(paths: Sequence[Path], *, quiet: bool) -> dict[str, object]:
    """Counts over files of outcomes, with the equivalent ones apart; prints those that lived."""
    known, counts, files = _equivalent(), Counter[str](), Counter[str]()
    rows = {(row["file"], row["number"]): row for path in paths for row in _read(path)}
    for row in rows.values():
        key = (row["file"], row["scope"], row["before"], row["after"])
        if row["number"] < 0 or key in known:
            continue
        counts[row["outcome"]] += 1
        if row["outcome"] in (SURVIVED, UNSEEN):
            files[row["file"]] += 1
            if not quiet:
                print(
                    f"{row['file']}:{row['line']} {row['scope']} [{row['kind']}, {row['outcome']}]"
                    f"\n    {row['before']}\n    {row['after']}"
                )
    noticed, tried = counts[KILLED] + counts[TIMED_OUT], counts.total()
    share = round(100 * noticed / tried, 2) if tried else 0
    return {
        "tried": tried,
        **counts,
        "equivalent": len(known),
        "noticed_percent": share,
        "lived_by_file": dict(files.most_common()),
    }


def main() -> None:
    """Learn, try or report, as asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("learn", "try", "report"))
    parser.add_argument("--work", type=Path, default=_WORK, help="folder for what is learned")
    parser.add_argument("--part", default="1/1", help="which part of all: 1/2")
    parser.add_argument("--sample", type=int, default=0, help="only so many, at random")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most-s", type=float, default=8, help="seconds of tests for each fault")
    parser.add_argument("--only", default="", help="only files whose path holds this")
    parser.add_argument(
        "--where",
        choices=("inside", "outside", "both"),
        default="both",
        help="only faults inside functions, or only those in the text of a module",
    )
    parser.add_argument("--again", type=Path, help="try those that lived in this file of outcomes")
    parser.add_argument("--quiet", action="store_true", help="report: only the counts")
    asked = parser.parse_args()
    if asked.what == "learn":
        learn(asked.work)
        return
    if asked.what == "report":
        found = report(sorted(asked.work.glob("outcomes*.jsonl")), quiet=asked.quiet)
        print(json.dumps(found, indent=2))
        return
    os.environ.update(_FEW)
    load_libraries()
    files = [file for file in proven_files() if asked.only in file]
    mutants = choose(files, part=asked.part, sample=asked.sample, seed=asked.seed)
    mutants = [one for one in mutants if asked.where in ("both", _where(one))]
    results = asked.work / f"outcomes-{asked.where}-{asked.part.replace('/', '-of-')}.jsonl"
    if asked.again:
        lived = {(r["file"], r["number"]) for r in _read(asked.again) if r["outcome"] != KILLED}
        mutants = [one for one in mutants if (one.file, one.number) in lived]
        results = asked.again.with_suffix(".again.jsonl")
    Campaign(Learned(asked.work), results, most_s=asked.most_s).run(mutants)


if __name__ == "__main__":
    main()
