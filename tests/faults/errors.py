"""
Every command of the job on a disk with errors or without room.

``python -m tests.faults.errors`` tries a sample, ``--every`` each operation of each command, once
and for ever, and each block of room. It prints one JSON object a command, and a last one with the
sums; exit code 1 if anything is wrong.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.disk import BLOCK, Disk, Mode, build, run_on_it
from tests.faults.stage import LINES, Fault, Line, Ran, Stage, State, fill, lay
from tests.faults.verdict import Beholder, Picture, judge


@dataclass
class Tally:
    """
    What was seen of one command.

    Args:
        n: Its place in the job.
        name: The operation.
        operations: How many operations on the disk it has.
        room: Bytes that it takes up.
        cases: How often it was tried, by the way the disk failed.
        refused: How often the user was told that it failed.
        done: How often it was done all the same.
        late: Where it was told as failed, and yet events of it are there.
        left: How often a file with the name of a part was left.
        faults: What is wrong.
    """

    n: int
    name: str
    operations: int = 0
    room: int = 0
    cases: Counter[str] = field(default_factory=Counter)
    refused: int = 0
    done: int = 0
    late: list[str] = field(default_factory=list)
    left: int = 0
    faults: list[str] = field(default_factory=list)


def every_fault(clean: Ran, step: int) -> Iterator[Fault]:
    """Each operation, once and for ever; each operation that needs room; each block of room."""
    for mode, most in ((Mode.ONCE, clean.counted), (Mode.FOREVER, clean.counted)):
        yield from (Fault(mode, nth) for nth in range(1, most + 1, step))
    yield from (Fault(Mode.FULL, nth) for nth in range(1, clean.grown + 1, step))
    yield from (
        Fault(Mode.BUDGET, room=room) for room in range(0, max(clean.used, 0), BLOCK * step)
    )


def some_faults(clean: Ran, dice: random.Random) -> Iterator[Fault]:
    """The first and the last operation, and some between."""
    # Most of a command's first operations read; those that write stand in its later half.
    half = clean.counted // 2
    yield Fault(Mode.ONCE, dice.choice((1, clean.counted, dice.randint(1, clean.counted))))
    yield Fault(Mode.FOREVER, dice.randint(half, clean.counted))
    if dice.random() < 0.5:
        yield Fault(Mode.FULL, dice.randint(1, clean.grown))
    else:
        yield Fault(Mode.BUDGET, room=BLOCK * dice.randrange(clean.used // BLOCK))


class Trial:
    """
    The job, tried line by line.

    Args:
        folder: For everything; the stage and what lay there before each line.
        disk: The disk.
        step: Try each so-manyeth fault; 0 tries a sample.
        seed: Of the sample.
    """

    def __init__(self, folder: Path, disk: Disk, *, step: int, seed: int) -> None:
        self.stage = Stage(folder / "stage", disk)
        self._before, self._after = folder / "before", folder / "after"
        self._step, self._dice = step, random.Random(seed)
        self._beholder = Beholder()
        self._before.mkdir()
        self.state: State = fill(self._at(self._before))

    def _at(self, folder: Path) -> Path:
        """Let the files of the beginning be named as they will be on the stage."""
        self.stage.folder.mkdir()
        return self.stage.folder

    def begin(self) -> None:
        """Keep what lies on the stage at the beginning."""
        lay(self.stage.folder, self._before)

    def play(self, n: int, line: Line, *, tried: bool) -> Tally:
        """Run one line without faults, and with them if it is to be tried."""
        tally = Tally(n, line.name)
        lay(self._before, self.stage.folder)
        clean = self.stage.run(line, self.state, Fault())
        if clean.code:
            raise RuntimeError(f"{line.words}: {clean.err}")
        tally.operations, tally.room = clean.counted, clean.used
        lay(self.stage.folder, self._after)
        self.stage.warm(line, clean)
        if tried:
            before = self._look(self._before)
            after = self._look(self._after)
            tally.faults += [*before.faults, *after.faults]
            faults = (
                every_fault(clean, self._step) if self._step else some_faults(clean, self._dice)
            )
            with self.stage.worker(line, self.state) as run:
                for fault in faults:
                    lay(self._before, self.stage.folder)
                    ran = run(fault)
                    self._judge(line, fault, ran, tally, (before, after))
        self._before, self._after = self._after, self._before
        self.state = clean.state
        return tally

    def _look(self, kept: Path) -> Picture:
        lay(kept, self.stage.folder)
        return self._beholder.look(self.stage.folder)

    def _judge(
        self, line: Line, fault: Fault, ran: Ran, tally: Tally, known: tuple[Picture, Picture]
    ) -> None:
        before, after = known
        found = self._beholder.look(self.stage.folder)
        faults = judge(line, ran, before=before, after=after, found=found)
        tally.cases[fault.mode.name.lower()] += 1
        tally.refused += ran.code != 0
        tally.done += ran.code == 0
        if ran.code and before.records != found.records:
            tally.late.append(f"{fault} [{ran.hit}]: {ran.err}")
        tally.left += bool(set(found.parts) - set(before.parts))
        tally.faults += [f"{fault} [{ran.hit}]: {what}" for what in faults]


def main(words: list[str]) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=0, help="try each Nth fault, not a sample")
    parser.add_argument("--share", default="0/1", help="I/N: only every Nth line, from the Ith")
    parser.add_argument("--only", default="", help="only lines of this name")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args(words)
    with tempfile.TemporaryDirectory(dir=quick_folder()) as folder:
        if not asked.inside:
            library = build(Path(folder))
            ran = run_on_it(library, __spec__.name, [*words, "--inside"], listen=False)
            return ran.returncode
        return _try_all(Path(folder), asked)


def quick_folder() -> str | None:
    """A folder in memory where there is one with room, or the usual one for scratch."""
    memory = Path("/dev/shm")
    roomy = memory.is_dir() and shutil.disk_usage(memory).free > 500_000_000
    return str(memory) if roomy else None


def _tell(value: dict[str, object]) -> None:
    sys.stdout.write(json.dumps(value) + "\n")
    sys.stdout.flush()


def _try_all(folder: Path, asked: argparse.Namespace) -> int:
    trial = Trial(folder, Disk(), step=asked.every, seed=asked.seed)
    trial.begin()
    share, of = map(int, asked.share.split("/"))
    sums: Counter[str] = Counter()
    names: set[str] = set()
    for n, line in enumerate(LINES):
        # A sample tries each operation at one of its lines; every fault is tried at all of them.
        tried = n % of == share and (bool(asked.every) or line.name not in names)
        if asked.only:
            tried = line.name == asked.only
        tally = trial.play(n, line, tried=tried)
        if tried:
            names.add(line.name)
            sums.update(tally.cases)
            sums.update(
                cases=tally.cases.total(),
                refused=tally.refused,
                done=tally.done,
                late=len(tally.late),
                left=tally.left,
                wrong=len(tally.faults),
            )
            _tell(vars(tally))
    _tell({"commands": len(names), **sums})
    return 1 if sums["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
