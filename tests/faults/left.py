"""What processes left behind when they were killed, held against all that they had told."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from salvage.errors import SalvageError, StoreTrouble
from salvage.store.connection import DATABASE_NAME, connect
from salvage.store.copies import copies_in
from salvage.store.migrations import schema_number
from salvage.work.check import CHECKS
from salvage.work.copies import restore
from salvage.work.workshop import Workshop, open_workshop


@dataclass(frozen=True)
class _Whole:
    """An operation as it was about to be committed."""

    events: int
    last_hash: str


class Left:
    """
    What was told of one workshop, and the workshop that is left.

    Args:
        shop: Its folder.
        stick: The folder of its backups.
    """

    def __init__(self, shop: Path, stick: Path) -> None:
        self._shop, self._stick = shop, stick
        self._about: dict[str, _Whole] = {}
        self._done: dict[str, tuple[str, ...]] = {}
        self._copied: tuple[int, tuple[str, ...]] | None = None
        self._tried = False
        self.restored = 0
        if (shop / DATABASE_NAME).exists():
            with open_workshop(shop) as found:
                self._about |= _operations(found)

    def hear(self, word: str, rest: Sequence[str]) -> None:
        """Take in one line that somebody told."""
        if word == "about" and rest:
            self._about[rest[0]] = _Whole(int(rest[1]), rest[2])
        elif word == "done":
            self._done[rest[0]] = tuple(rest[1:])
        elif word == "copied":
            self._copied, self._tried = (int(rest[0]), tuple(rest[1:])), False

    def faults(self) -> list[str]:
        """Everything in the workshop that is not as it must be."""
        if not (self._shop / DATABASE_NAME).exists():  # killed before it began
            return ["what was told is gone"] if self._done else []
        with open_workshop(self._shop) as shop:
            return [*self._lost(shop), *_red(shop)]

    def faults_of_copies(self, *, older: bool) -> list[str]:
        """
        Restore the newest backup that was told, unless that was done before.

        Args:
            older: Restore the older ones as well.
        """
        found: list[str] = []
        if self._copied and not self._tried:
            self._tried = True
            found += self._try_copy(*self._copied)
        if self._copied and older:
            for stamp in list(copies_in(self._stick))[1:]:
                found += self._try_copy(1, (), stamp=stamp)
        return found

    def _lost(self, shop: Workshop) -> list[str]:
        recorded = _operations(shop)
        made = {code for (code,) in shop.conn.execute("SELECT code FROM event_item WHERE made = 1")}
        lost = [f"{one} was told and is not there" for one in self._done if one not in recorded]
        half = [
            f"{name} is there as {found}, and was to be {self._about.get(name)}"
            for name, found in recorded.items()
            if self._about.get(name) != found and not _is_beginning(shop, name)
        ]
        gone = [
            f"{code} of {name} is not there"
            for name, codes in self._done.items()
            for code in codes
            if code not in made
        ]
        return lost + half + gone

    def _try_copy(self, events: int, heads: Sequence[str], *, stamp: str = "") -> list[str]:
        target = self._stick.with_name("restored")
        try:
            back = restore(self._stick, target=target, open_shop=open_workshop, stamp=stamp)
            self.restored += 1
            with open_workshop(target) as shop:
                points = {
                    f"{device}{n}-{digest[:8]}"
                    for device, n, digest in shop.conn.execute("SELECT device, n, hash FROM event")
                }
        except SalvageError as error:
            return [f"the backup that was told cannot be restored: {error}"]
        finally:
            shutil.rmtree(target, ignore_errors=True)
        short = [f"the backup that was told lacks {head}" for head in heads if head not in points]
        if back.events < events or back.missing:
            short.append(f"the backup told {events} events, and holds {back.events}")
        return short


def can_be_read(shop: Path) -> bool:
    """
    Whether somebody who only looks gets in at this moment, with others standing still.

    Nobody does while a new workshop is being begun, and while a dead one's log is read in.
    """
    if not (shop / DATABASE_NAME).exists():
        return True
    try:
        with closing(connect(shop / DATABASE_NAME, busy_ms=20)) as conn:
            return bool(
                schema_number(conn) and conn.execute("SELECT 1 FROM this_device").fetchone()
            )
    except StoreTrouble:
        return False


def _operations(shop: Workshop) -> dict[str, _Whole]:
    """Every operation on record, with the number of its events and the hash of its last."""
    found: dict[str, _Whole] = {}
    for name, digest in shop.conn.execute("SELECT operation, hash FROM event ORDER BY seq"):
        before = found.get(name)
        found[name] = _Whole(before.events + 1 if before else 1, digest)
    return found


def _is_beginning(shop: Workshop, name: str) -> bool:
    """Whether this is the one operation that nobody tells: a new workshop's device joins."""
    rows = shop.conn.execute("SELECT kind FROM event WHERE operation = ?", (name,)).fetchall()
    return rows == [("device.joined",)]


def _red(shop: Workshop) -> Iterator[str]:
    """
    Faults of the self-check, but for the areas, which follow from the tables and are dear.

    They are measured in each backup that is restored.
    """
    for name, check in CHECKS.items():
        if not name.startswith("areas"):
            try:
                yield from (f"{name}: {fault}" for fault in check(shop)[0])
            except SalvageError as error:
                yield f"{name}: {error}"
