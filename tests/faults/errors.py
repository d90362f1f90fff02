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
import re
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.disk import BLOCK, CHANGE, READ, Disk, Mode, build, run_on_it
from tests.faults.stage import LINES, Fault, Line, Ran, Stage, State, fill, lay, signature
from tests.faults.verdict import Beholder, Picture, judge

_UNKNOWN = re.compile("look at .salvage journal. before you do it again")

KINDS = {"all": READ | CHANGE, "change": CHANGE, "read": READ}


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


def every_fault(clean: Ran, kinds: int, step: int) -> Iterator[Fault]:
    """
    All that can happen to a command.

    Args:
        clean: How it went where nothing failed.
        kinds: Which operations meet an I/O error, each once and for ever; where those that change
            something do, each operation that needs room and each block of room come as well.
        step: Only each so-manyeth.
    """
    most = {CHANGE: clean.changed, READ: clean.counted - clean.changed}.get(kinds, clean.counted)
    for mode in (Mode.ONCE, Mode.FOREVER):
        yield from (Fault(mode, kinds, nth) for nth in range(1, most + 1, step))
    if kinds & CHANGE:
        yield from (Fault(Mode.FULL, nth=nth) for nth in range(1, clean.grown + 1, step))
        yield from (Fault(Mode.BUDGET, room=room) for room in range(0, clean.used, BLOCK * step))


def some_faults(clean: Ran, dice: random.Random) -> Iterator[Fault]:
    """The first and the last operation, and some between."""
    # Most of a command's first operations read; those that write stand in its later half.
    half = clean.counted // 2
    yield Fault(Mode.ONCE, nth=dice.choice((1, clean.counted, dice.randint(1, clean.counted))))
    yield Fault(Mode.FOREVER, nth=dice.randint(half, clean.counted))
    if dice.random() < 0.5:
        yield Fault(Mode.FULL, nth=dice.randint(1, clean.grown))
    else:
        yield Fault(Mode.BUDGET, room=BLOCK * dice.randrange(clean.used // BLOCK))


class Trial:
    """
    The job, tried line by line.

    Args:
        folder: For everything; the stage and what lay there before each line.
        disk: The disk.
        step: Try each so-manyeth fault; 0 tries a sample.
        kinds: Of which operations each is tried.
        seed: Of the sample.
    """

    def __init__(self, folder: Path, disk: Disk, *, step: int, kinds: int, seed: int) -> None:
        self.stage = Stage(folder / "stage", disk)
        self._before, self._after = folder / "before", folder / "after"
        self._step, self._kinds, self._dice = step, kinds, random.Random(seed)
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
            self._try(line, clean, tally, (before, after))
        self._before, self._after = self._after, self._before
        self.state = clean.state
        return tally

    def _look(self, kept: Path) -> Picture:
        lay(kept, self.stage.folder)
        return self._beholder.look(self.stage.folder)

    def _try(self, line: Line, clean: Ran, tally: Tally, known: tuple[Picture, Picture]) -> None:
        faults = (
            every_fault(clean, self._kinds, self._step)
            if self._step
            else some_faults(clean, self._dice)
        )
        laid: object = None
        with self.stage.worker(line, self.state) as run:
            for fault in faults:
                if laid is None or laid != signature(self.stage.folder):
                    lay(self._before, self.stage.folder)
                    laid = signature(self.stage.folder)
                ran = run(fault)
                untouched = laid == signature(self.stage.folder)
                found = known[0] if untouched else self._beholder.look(self.stage.folder)
                self._judge(line, (fault, ran), tally, known, found)
                if ran.code and found.records == known[1].records != known[0].records:
                    tally.late.append(f"{fault} [{ran.hit}]: {ran.err}")
                    tally.faults += self._repeat(run, fault, ran, found)

    def _repeat(
        self, run: Callable[[Fault], Ran], fault: Fault, ran: Ran, found: Picture
    ) -> list[str]:
        """What is wrong with telling of an end that is not known, or with trying it once more."""
        faults = []
        if "workshop.db" in ran.hit and not _UNKNOWN.search(ran.out + ran.err):
            faults.append(f"{fault} [{ran.hit}]: it is there, and was told as failed: {ran.err}")
        run(Fault())  # the same operation with the same ids, on a disk that works again
        if self._beholder.look(self.stage.folder).records != found.records:
            faults.append(f"{fault} [{ran.hit}]: trying again did it twice")
        return faults

    def _judge(
        self,
        line: Line,
        met: tuple[Fault, Ran],
        tally: Tally,
        known: tuple[Picture, Picture],
        found: Picture,
    ) -> None:
        (fault, ran), (before, after) = met, known
        faults = judge(line, ran, before=before, after=after, found=found)
        tally.cases[fault.mode.name.lower()] += 1
        tally.refused += ran.code != 0
        tally.done += ran.code == 0
        tally.left += bool(set(found.parts) - set(before.parts))
        tally.faults += [f"{fault} [{ran.hit}]: {what}" for what in faults]


def main(words: list[str]) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=0, help="try each Nth fault, not a sample")
    parser.add_argument("--kinds", choices=KINDS, default="all", help="with --every")
    parser.add_argument("--lines", action="store_true", help="every line of an operation")
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
    trial = Trial(folder, Disk(), step=asked.every, kinds=KINDS[asked.kinds], seed=asked.seed)
    trial.begin()
    share, of = map(int, asked.share.split("/"))
    sums: Counter[str] = Counter()
    names: set[str] = set()
    for n, line in enumerate(LINES):
        tried = (asked.lines or line.name not in names) and len(names) % of == share
        names.add(line.name)
        if asked.only:
            tried = line.name == asked.only
        tally = trial.play(n, line, tried=tried)
        if tried:
            sums.update(tally.cases)
            sums.update(
                commands=1,
                cases=tally.cases.total(),
                refused=tally.refused,
                done=tally.done,
                late=len(tally.late),
                left=tally.left,
                wrong=len(tally.faults),
            )
            _tell(vars(tally))
    _tell(dict(sums))
    return 1 if sums["wrong"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
