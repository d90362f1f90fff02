"""
The whole job on a disk that fails, one command line at a time.

Each command runs in a process forked from one that has the libraries loaded and no database open.
The folder it works in has the same name each time and is laid out anew from what lay there before,
and clock and lot are the same: what a command leaves can be compared byte for byte.
"""

from __future__ import annotations

import gc
import importlib
import itertools
import os
import random
import shutil
import signal
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from multiprocessing import Pipe
from pathlib import Path
from typing import Any

from tests.bench import START
from tests.desk import Desk
from tests.faces.scenario import STEPS
from tests.faces.step import TABLE, TERN, photo_bytes
from tests.faces.steps_looks import after_photo, back_photo
from tests.faces.steps_measure import mat_photo, pair_photo
from tests.faces.steps_papers import WORDING
from tests.faces.steps_stock import DROPPED, phone_photo
from tests.faults.disk import BLOCK, CHANGE, READ, Disk, Mode

PATIENCE_S = 120
"""A command that takes longer hangs."""


@dataclass(frozen=True)
class Line:
    """
    One command line of the job.

    Args:
        name: The operation, as in the catalogue, or what it does besides.
        words: ``{name}`` stands for a code or file.
        made: Name under which what it makes is remembered.
    """

    name: str
    words: str
    made: str = ""


BESIDES = (
    Line("back_up", "backup {out}/stick"),
    Line("move_board", "board move {bare} attic"),
    Line("back_up again", "backup {out}/stick --keep 1"),
    Line("copy the database", "backup {out}/one.db"),
    Line("restore", "restore {out}/stick --shop {out}/again"),
    Line("export_csv", "export csv {out}/tables"),
    Line("export_prov", "export prov --all --out {out}/prov.json"),
    Line("export_epcis", "export epcis --all --out {out}/epcis.json"),
    Line("export_sales", "export sales --out {out}/sales.csv"),
    Line("print_mat on tiles", "mat print --paper letter --out {out}/letter.pdf"),
    Line("copy_design", "card copy a6 my-a6"),
    Line("rebuild_tables", "rebuild"),
)
"""What writes files, or the tables, and is no step of the job."""

LINES = (*(Line(step.operation, step.line, step.made) for step in STEPS), *BESIDES)


@dataclass(frozen=True)
class State:
    """
    What the command line is given beside its folder.

    Args:
        now: The instant, at which the clock stands.
        dice: State of the lot.
        memory: Codes and files by the names of the job.
    """

    now: datetime = START
    dice: Any = field(default_factory=lambda: random.Random(1).getstate())
    memory: dict[str, str] = field(default_factory=dict)


_KINDS = {READ: "read", CHANGE: "change", READ | CHANGE: "operation"}


@dataclass(frozen=True)
class Fault:
    """
    How the disk fails.

    Args:
        mode: See :class:`tests.faults.disk.Mode`.
        kinds: Which operations count for I/O errors.
        nth: At which operation.
        room: Bytes that are free.
    """

    mode: Mode = Mode.COUNT
    kinds: int = READ | CHANGE
    nth: int = 0
    room: int = 1 << 40

    def __str__(self) -> str:
        if self.mode is Mode.BUDGET:
            return f"{self.room // BLOCK} blocks free"
        return f"{self.mode.name.lower()} {_KINDS[self.kinds]} {self.nth}"


@dataclass(frozen=True)
class Ran:
    """
    How a command went.

    Args:
        code: Exit code; below zero for a signal.
        out: Standard output.
        err: Standard error.
        state: What the next command is given.
        counted: Operations on the disk.
        changed: Those that change something.
        grown: Those that needed room.
        used: Most bytes taken up.
        refused: How many operations were refused.
        hit: The first of them.
        held: Files of the stage that were not closed.
        modules: Modules that were loaded by the end.
    """

    code: int
    out: str
    err: str
    state: State
    counted: int = 0
    changed: int = 0
    grown: int = 0
    used: int = 0
    refused: int = 0
    hit: str = ""
    held: tuple[str, ...] = ()
    modules: frozenset[str] = frozenset()


def fill(folder: Path) -> State:
    """Lay what comes from outside into an empty folder, and give the state of the beginning."""
    files = {
        "table": ("table.csv", TABLE),
        "photo": ("front.png", photo_bytes()),
        "wording": ("wording.toml", WORDING),
        "on_mat": ("on-mat.jpg", mat_photo()),
        "back": ("back.jpg", back_photo()),
        "after": ("after.jpg", after_photo()),
        "pair": ("pair.jpg", pair_photo()),
        "tern": ("tern.svg", TERN.read_bytes()),
    }
    memory = {"out": str(folder)}
    for name, (file_name, data) in files.items():
        (folder / file_name).write_bytes(data)
        memory[name] = str(folder / file_name)
    phones = {"phone": DROPPED, "phone-later": {"IMG_4.png": phone_photo(150)}}
    for phone, dropped in phones.items():
        (folder / phone).mkdir()
        for file_name, data in dropped.items():
            (folder / phone / file_name).write_bytes(data)
        memory[phone.replace("-", "_")] = str(folder / phone)
    return State(memory=memory)


def signature(folder: Path) -> tuple[tuple[str, int, int, int, int], ...]:
    """What tells that a file was touched, for every file below a folder."""
    found = []
    for above, _, names in os.walk(folder):
        for name in names:
            path = os.path.join(above, name)
            told = os.lstat(path)
            found.append((path, told.st_ino, told.st_size, told.st_mtime_ns, told.st_ctime_ns))
    return tuple(sorted(found))


def lay(source: Path, place: Path) -> None:
    """Make *place* what *source* is; photos, which are never changed in place, are linked."""
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(source, place, copy_function=_copy)


def _copy(source: str, target: str) -> None:
    if len(os.path.basename(source)) == 64:
        os.link(source, target)
    else:
        shutil.copyfile(source, target)


def _held(folder: Path) -> tuple[str, ...]:
    """Files below a folder that this process has open."""
    links = (os.path.realpath(link) for link in Path("/proc/self/fd").iterdir())
    return tuple(sorted(link for link in links if link.startswith(f"{folder}/")))


class Worker:
    """
    A process forked from this one, in which a call is made again and again.

    Args:
        call: What it does with what it is given.
    """

    def __init__(self, call: Callable[[Any], object]) -> None:
        self._ear, far_mouth = Pipe(duplex=False)
        far_ear, self._mouth = Pipe(duplex=False)
        self._pid = os.fork()
        if self._pid == 0:  # pragma: no cover - another process
            self._mouth.close()  # or the end of this process would not be heard
            try:
                while True:
                    far_mouth.send(call(far_ear.recv()))
            except EOFError:  # nobody asks any more
                os._exit(0)
            finally:
                traceback.print_exc()
                os._exit(1)
        far_ear.close()
        far_mouth.close()

    def ask(self, asked: Any) -> Any:
        """What the call gives; None if the process has died, or hangs and was killed."""
        self._mouth.send(asked)
        try:
            return self._ear.recv() if self._ear.poll(PATIENCE_S) else None
        except EOFError:
            return None

    def end(self) -> None:
        """Let the process go, by force if it must be."""
        self._mouth.close()
        if not self._ear.poll(1):
            os.kill(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        self._ear.close()


def load_modules(names: Iterable[str]) -> None:
    """Load modules, so that processes that are forked from this one have them."""
    for name in names:
        try:
            importlib.import_module(name)
        except ImportError:
            continue  # a part of a library that only the library itself can load


class Stage:
    """
    A folder, a disk, and command lines.

    Args:
        folder: Everything happens below it; it is laid out anew before each command.
        disk: The disk below it.
    """

    def __init__(self, folder: Path, disk: Disk) -> None:
        self.folder = folder
        self.disk = disk
        self._warm: set[str] = set(sys.modules)

    def run(self, line: Line, state: State, fault: Fault) -> Ran:
        """Run a command on a disk that fails in some way."""
        with self.worker(line, state) as run:
            return run(fault)

    @contextmanager
    def worker(self, line: Line, state: State) -> Iterator[Callable[[Fault], Ran]]:
        """A process that runs one command again and again, as the disk fails in other ways."""
        worker = Worker(lambda fault: self._run(line, state, fault))
        try:
            yield lambda fault: worker.ask(fault) or Ran(-1, "", "it died or hangs", state)
        finally:
            worker.end()

    def _run(self, line: Line, state: State, fault: Fault) -> Ran:
        desk = Desk(self.folder, clock=lambda: state.now)
        dice = random.Random()
        dice.setstate(state.dice)
        desk.entropy = dice.randbytes
        words = f"{line.words.format_map(state.memory)} --plain"
        self.disk.arm(self.folder, fault.mode, kinds=fault.kinds, nth=fault.nth, room=fault.room)
        told = desk.run(words)
        self.disk.rest()
        held = _held(self.folder)
        memory = dict(state.memory)
        if line.made and told.code == 0:
            memory[line.made] = told.first
        if told.code == 0 and "donor" not in memory and "drop_off" in memory:
            memory["donor"] = desk.do("donor list --plain").first
        next_state = replace(
            state, now=state.now + timedelta(minutes=1), dice=dice.getstate(), memory=memory
        )
        return Ran(
            told.code,
            told.out,
            told.err,
            next_state,
            self.disk.counted,
            self.disk.changed,
            self.disk.grown,
            self.disk.used,
            self.disk.refused,
            self.disk.hit,
            held,
            frozenset() if fault.mode is not Mode.COUNT else frozenset(sys.modules),
        )

    def warm(self, line: Line, ran: Ran) -> None:
        """Load here what a command loaded, and its part of the tree, so that others need not."""
        first = itertools.takewhile(str.isalpha, line.words.split())
        Desk(self.folder).do(f"{' '.join(first)} --help")
        load_modules(sorted(ran.modules - self._warm))
        self._warm |= ran.modules
        gc.freeze()  # children must not touch, and so copy, what lies here
