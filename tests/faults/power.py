"""
What a disk holds after the power went: rebuilt from the record of everything that was written.

The model is stricter than most disks. Of a file, only what stood at its last sync is sure; of each
later write any set of sectors may be there, in any order. Of a folder, only the names at its last
sync are sure; each later name, removal or renaming may be there or not. Syncing a file does not
keep its name; syncing its folder does.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512

_HEAD = struct.Struct("<ccHHiqQ")


@dataclass(frozen=True)
class Entry:
    """
    One thing that was done, as disk.c writes it down.

    Args:
        what: O open, C close, W write, T truncate, S sync, N rename, L link, U unlink, R remove a
            folder, M make one, A acknowledged.
        made: How a file was opened: c created, t emptied, o neither.
        fd: Descriptor.
        at: Place in the file, or its new length.
        first: Path.
        second: Where it goes.
        data: Bytes.
    """

    what: str
    made: str
    fd: int
    at: int
    first: str
    second: str
    data: bytes


def read_log(log: Path) -> Iterator[Entry]:
    """All entries of a log."""
    data, at = log.read_bytes(), 0
    while at < len(data):
        what, made, first, second, fd, place, size = _HEAD.unpack_from(data, at)
        at += _HEAD.size
        texts = data[at : at + first + second].decode()
        at += first + second
        yield Entry(
            what.decode(),
            made.decode(),
            fd,
            place,
            texts[:first],
            texts[first:],
            data[at : at + size],
        )
        at += size


@dataclass(eq=False)
class _File:
    """What is sure of a file, and what was done since."""

    sure: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        for at, data in self.since:
            _apply(self.sure, at, data)
        self.since.clear()


def _apply(held: bytearray, at: int, data: bytes | None) -> None:
    """Write bytes at a place, or cut or stretch to a length where there are none."""
    if data is None:
        del held[at:]
        held.extend(bytes(at - len(held)))
        return
    held.extend(bytes(max(0, at - len(held))))
    held[at : at + len(data)] = data


@dataclass(eq=False)
class _Folder:
    """Names that are sure, names as the program sees them, and what was done since."""

    sure: dict[str, _Node] = field(default_factory=dict)
    seen: dict[str, _Node] = field(default_factory=dict)
    since: list[_Naming] = field(default_factory=list)

    def sync(self) -> None:
        for naming in list(self.since):
            naming.settle()


_Node = _File | _Folder


@dataclass(eq=False)
class _Naming:
    """One change of names, done wholly or not at all: (folder, name, what it names or None)."""

    changes: tuple[tuple[_Folder, str, _Node | None], ...]

    def do(self) -> None:
        for folder, name, node in self.changes:
            _name(folder.seen, name, node)
            if self not in folder.since:
                folder.since.append(self)

    def settle(self) -> None:
        for folder, name, node in self.changes:
            _name(folder.sure, name, node)
            if self in folder.since:
                folder.since.remove(self)


def _name(names: dict[str, _Node], name: str, node: _Node | None) -> None:
    if node is None:
        names.pop(name, None)
    else:
        names[name] = node


@dataclass(frozen=True)
class Cut:
    """
    How the power goes: what becomes of everything that was not synced.

    Args:
        dice: Decides.
        keep: Share of unsynced writes that are there wholly.
        tear: Share that are torn; the others are not there.
        names: Share of unsynced changes of names that are there.
        in_order: Of names, only the first so many are there, as on a disk with a journal.
    """

    dice: random.Random
    keep: float
    tear: float
    names: float
    in_order: bool

    @classmethod
    def by_lot(cls, dice: random.Random) -> Cut:
        """Some way in which the power may go."""
        keep = dice.choice((0.0, 0.0, 0.5, 0.9, 1.0))
        return cls(
            dice,
            keep,
            dice.choice((0.0, 0.3, 1.0)),
            dice.choice((0.0, 0.5, 1.0)),
            dice.random() < 0.5,
        )

    def content(self, file: _File) -> bytearray:
        """What is found in a file."""
        held = bytearray(file.sure)
        for at, data in file.since:
            if self.dice.random() < self.keep:
                _apply(held, at, data)
            elif data is not None and self.dice.random() < self.tear:
                for start, end in _sectors(at, len(data)):
                    if self.dice.random() < 0.5:
                        _apply(held, at + start, data[start:end])
        return held

    def naming(self, disk: Platter) -> dict[_Folder, dict[str, _Node]]:
        """The names that are found in each folder."""
        names = {folder: dict(folder.sure) for folder in disk.folders}
        waiting = [naming for naming in disk.namings if not _is_settled(naming)]
        if self.in_order:
            waiting = waiting[: round(self.names * len(waiting))]
        else:
            waiting = [naming for naming in waiting if self.dice.random() < self.names]
        for naming in waiting:
            for folder, name, node in naming.changes:
                _name(names[folder], name, node)
        return names


def _is_settled(naming: _Naming) -> bool:
    return all(naming not in folder.since for folder, _, _ in naming.changes)


def _sectors(at: int, size: int) -> Iterator[tuple[int, int]]:
    """Beginning and end of each sector's share of a write, counted from the write's beginning."""
    start = 0
    while start < size:
        end = min(size, start + SECTOR - (at + start) % SECTOR)
        yield start, end
        start = end


class Platter:
    """
    A disk as the entries of a log leave it.

    Args:
        root: The folder below which the log was written; it is there and empty.
    """

    def __init__(self, root: str) -> None:
        self._root = root
        self._top = _Folder()
        self._open: dict[int, _Node] = {}
        self.folders: list[_Folder] = [self._top]
        self.namings: list[_Naming] = []

    def do(self, entry: Entry) -> None:
        """Do what an entry says."""
        match entry.what:
            case "O":
                self._open_file(entry)
            case "C":
                self._open.pop(entry.fd, None)
            case "W" | "T":
                file = self._open[entry.fd]
                assert isinstance(file, _File)
                file.since.append((entry.at, entry.data if entry.what == "W" else None))
            case "S":
                self._open[entry.fd].sync()
            case "M":
                made = _Folder()
                self.folders.append(made)
                self._change((entry.first, made))
            case "N":
                self._change((entry.first, None), (entry.second, self._find(entry.first)))
            case "L":
                self._change((entry.second, self._find(entry.first)))
            case "U" | "R":
                self._change((entry.first, None))
            case _:
                assert entry.what == "A"

    def _open_file(self, entry: Entry) -> None:
        if entry.made == "c":
            self._change((entry.first, _File()))
        node = self._find(entry.first)
        if entry.made == "t":
            assert isinstance(node, _File)
            node.since.append((0, None))
        self._open[entry.fd] = node

    def _change(self, *changes: tuple[str, _Node | None]) -> None:
        found = []
        for path, node in changes:
            folder, _, name = path.rpartition("/")
            place = self._find(folder)
            assert isinstance(place, _Folder)
            found.append((place, name, node))
        self.namings = [naming for naming in self.namings if not _is_settled(naming)]
        self.namings.append(_Naming(tuple(found)))
        self.namings[-1].do()

    def _find(self, path: str) -> _Node:
        node: _Node = self._top
        for name in path.removeprefix(self._root).strip("/").split("/"):
            if name:
                assert isinstance(node, _Folder)
                node = node.seen[name]
        return node

    def lay_out(self, cut: Cut, place: Path) -> None:
        """Write what is found after the power went into an empty folder."""
        self._lay(self._top, cut.naming(self), cut, place)

    def _lay(
        self, folder: _Folder, names: dict[_Folder, dict[str, _Node]], cut: Cut, place: Path
    ) -> None:
        for name, node in names[folder].items():
            if isinstance(node, _Folder):
                (place / name).mkdir()
                self._lay(node, names, cut, place / name)
            else:
                (place / name).write_bytes(cut.content(node))
