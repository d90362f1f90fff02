"""Processes that are started quickly, listened to, and killed without warning."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerContext, ForkServerProcess
from pathlib import Path
from typing import Any

from salvage.ids import Code
from salvage.store.lookup import exists
from salvage.work.check import run_checks
from salvage.work.workshop import open_workshop
from tests.faults.writer import Told


@cache
def context() -> ForkServerContext:
    """Children are forked from a server that has the heavy libraries loaded already."""
    found = multiprocessing.get_context("forkserver")
    found.set_forkserver_preload(
        ["salvage.work.check", "shapely", "PIL.Image", "PIL.PngImagePlugin"]
    )
    return found


class Child:
    """
    One process and what it has told so far.

    Args:
        target: Function of :mod:`tests.faults.writer`.
        folder: The workshop's folder.
        seed: Seed of what it does.
        more: Further arguments of the function.
    """

    def __init__(self, target: Callable[..., None], folder: Path, seed: int, *more: Any) -> None:
        self._ear, mouth = context().Pipe(duplex=False)
        self.process: ForkServerProcess = context().Process(
            target=target, args=(folder, seed, mouth, *more), daemon=True
        )
        self.process.start()
        mouth.close()  # or the end of the child would not be heard
        self.told: list[Told] = []

    def listen(self, *, least: int = 0, seconds: float = 60) -> bool:
        """Hear until so much was told; False when the child has ended or stays silent."""
        while len(self.told) < least:
            if not self._hear(self._ear, seconds):
                return False
        return True

    def _hear(self, ear: Connection, seconds: float) -> bool:
        try:
            if not ear.poll(seconds):
                return False
            self.told.append(ear.recv())
        except (EOFError, ConnectionResetError):
            return False
        return True

    def kill(self) -> None:
        """End it as a power cut would, and hear what it had told before."""
        self.process.kill()
        self.process.join(60)
        self.hear_out()

    def hear_out(self) -> None:
        """Everything that was told up to its end."""
        while self._hear(self._ear, 60):
            pass
        self.process.join(60)
        self._ear.close()


@contextmanager
def children_of(*children: Child) -> Iterator[tuple[Child, ...]]:
    """The children, none of which outlives the block."""
    try:
        yield children
    finally:
        for child in children:
            if child.process.is_alive():
                child.process.kill()
                child.process.join(60)


def faults_of(folder: Path, told: list[Told]) -> list[str]:
    """What is not as it must be in a workshop in which all this was told to be done."""
    with open_workshop(folder) as shop:
        kept = set(shop.files.kept())
        lost = [
            f"{what} {code} was told and is not there"
            for what, code in told
            if not (
                what == "opened"
                or (code in kept if what == "file" else exists(shop.conn, Code(code)))
            )
        ]
        files = {sha for (sha,) in shop.conn.execute("SELECT sha256 FROM photo")}
        lost += [f"photo {sha256} has no file" for sha256 in files - kept]
        red = [f"{line.name}: {fault}" for line in run_checks(shop) for fault in line.faults]
    return lost + red
