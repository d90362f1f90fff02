"""One process that feeds one importer, and tells how it went through shared memory."""

from __future__ import annotations

import json
import logging
import os
import resource
import struct
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import asdict
from hashlib import sha256
from mmap import mmap
from pathlib import Path
from random import Random

from tests.fuzz.target import DONE, Finding, Importer, Target, judge

MOST_MEMORY = 3 * 2**30
"""Address space of a child in bytes; an input that wants more meets an error."""

_HEAD = struct.Struct("<5Q2d")  # tried, done, findings, peak kB, length; since, slowest
_AREA = 2**20
_SLOWEST = _AREA // 2


class Slate:
    """
    What a child and its parent both see.

    Args:
        area: Shared memory.
    """

    def __init__(self, area: mmap | None = None) -> None:
        self._area = area or mmap(-1, _AREA)
        self.tried = self.done = self.findings = self.peak_kb = 0
        self.slowest_s = 0.0
        self.slowest = b""

    def begin(self, data: bytes) -> None:
        """Note the input before it is tried, and the processor time of the process by then."""
        self._area[_HEAD.size : _HEAD.size + len(data)] = data
        self._write(len(data), time.process_time())

    def end(self, data: bytes, seconds: float) -> None:
        """Note how it went."""
        if seconds > self.slowest_s:
            self.slowest_s, self.slowest = seconds, data
            self._area[_SLOWEST : _SLOWEST + 4 + len(data)] = len(data).to_bytes(4, "little") + data
        self._write(0, 0.0)

    def _write(self, length: int, since: float) -> None:
        numbers = (self.tried, self.done, self.findings, self.peak_kb, length)
        _HEAD.pack_into(self._area, 0, *numbers, since, self.slowest_s)

    def look(self) -> tuple[bytes, float]:
        """Take over what the other side wrote; the input that is being tried, and since when."""
        *numbers, since, self.slowest_s = _HEAD.unpack_from(self._area)
        self.tried, self.done, self.findings, self.peak_kb, length = numbers
        size = int.from_bytes(self._area[_SLOWEST : _SLOWEST + 4], "little")
        self.slowest = bytes(self._area[_SLOWEST + 4 : _SLOWEST + 4 + size])
        return bytes(self._area[_HEAD.size : _HEAD.size + length]), since


def peak_kb() -> int:
    """The most memory that this process has held, in kB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


class Feeder:
    """
    Gives inputs to an importer and keeps what it finds, one file for each fault.

    Args:
        target: The importer.
        importer: It, made ready.
        slate: Where to tell.
        most: How many inputs.
        found: Folder for findings.
    """

    def __init__(
        self, target: Target, importer: Importer, slate: Slate, most: int, found: Path
    ) -> None:
        self._target, self._importer, self._slate = target, importer, slate
        self._most, self._found = most, found

    def __call__(self, data: bytes) -> None:
        """Try one input; after the last the process is left at once."""
        slate = self._slate
        slate.begin(data)
        start = time.process_time()
        outcome = judge(self._target.name, self._importer, data)
        seconds = time.process_time() - start
        slate.tried += 1
        slate.done += outcome == DONE
        slate.peak_kb = peak_kb()
        if isinstance(outcome, Finding):
            slate.findings += 1
            keep_finding(self._found, outcome)
        slate.end(data, seconds)
        if slate.tried >= self._most:
            os._exit(0)


def keep_finding(folder: Path, finding: Finding) -> None:
    """Keep a finding unless one of its fault is kept already."""
    path = folder / f"{finding.target}-{sha256(finding.what.encode()).hexdigest()[:12]}.json"
    if not path.exists():
        facts = {**asdict(finding), "data": finding.data.hex()}
        path.write_text(json.dumps(facts, indent=1) + "\n", "utf-8", "backslashreplace")


Engine = Callable[[Target, list[bytes], int, Feeder, Path], None]


def feed_guided(
    target: Target, seeds: list[bytes], seed: int, feeder: Feeder, folder: Path
) -> None:
    """Let libFuzzer choose inputs by the branches that they reach."""
    import atheris

    corpus = folder / "corpus"
    corpus.mkdir()
    for number, data in enumerate(seeds):
        (corpus / f"{number:04}").write_bytes(data[: target.most_bytes])

    def change(data: bytes, most: int, number: int) -> bytes:
        rng = Random(number)
        if rng.random() < 0.2:
            return bytes(atheris.Mutate(data, most))
        return target.changed(rng, data)[:most]

    words = [
        *("fuzz", str(corpus), "-runs=-1", f"-seed={seed % 2**31 + 1}", "-verbosity=0"),
        *(f"-max_len={target.most_bytes}", "-rss_limit_mb=0", "-timeout=100000", "-mutate_depth=1"),
        *("-detect_leaks=0", "-len_control=0", f"-artifact_prefix={folder}/"),
    ]
    atheris.Setup(words, feeder, custom_mutator=change)
    atheris.Fuzz()


def feed_plain(target: Target, seeds: list[bytes], seed: int, feeder: Feeder, folder: Path) -> None:
    """Change the seeds by the rules of their format, and what came of that again."""
    del folder
    rng = Random(f"{target.name} {seed}")
    seeds = seeds or [b""]
    pool = list(seeds)
    for data in seeds:
        feeder(data[: target.most_bytes])
    while True:
        data = target.changed(rng, rng.choice(pool))
        feeder(data)
        if rng.random() < 0.1:
            pool[len(seeds) :] = [*pool[len(seeds) :], data][-200:]


def run_child(
    target: Target, engine: Engine, slate: Slate, most: int, seed: int, folder: Path, found: Path
) -> None:
    """
    Feed a target; never returns.

    Args:
        target: The importer.
        engine: How inputs are chosen.
        slate: Where to tell.
        most: How many inputs.
        seed: Of the engine.
        folder: Empty scratch folder.
        found: Folder for findings.
    """
    with (folder / "log").open("wb") as log:
        os.dup2(log.fileno(), 1)
        os.dup2(log.fileno(), 2)
    os.chdir(folder)
    logging.disable()
    warnings.simplefilter("ignore")
    for name in ("grown", "shop"):
        (folder / name).mkdir()
    seeds = target.seeds(folder / "grown")
    importer = target.open(folder / "shop")
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    engine(target, seeds, seed, Feeder(target, importer, slate, most, found), folder)
    sys.exit(0)
