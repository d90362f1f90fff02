"""
What must hold of a workshop's folder after a command met a disk that failed.

The record is sound, and it is what it was before, or what it is where nothing fails, or stands
between two operations of one command. Nothing that was told as done is missing, and no file has a
final name with half of its bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from salvage.errors import SalvageError
from salvage.store.journal import check_form, verify_chain
from salvage.store.migrations import schema_files, split_statements
from salvage.store.projection import TABLES, replay
from salvage.work.workshop import DATABASE_NAME, Workshop, open_workshop
from tests.bench import START, dump
from tests.faults.stage import Line, Ran

SHOPS = ("shop", "tablet", "again")
"""Folders in which a workshop may lie."""

_BEHOLDER = "the beholder"
"""Whose name is on what opening a workshop writes into one that holds nothing."""

_WHOLE = ("restore", "begin_device")
"""Commands that put a workshop's folder in its place in one step."""

_READS_RAW = ("forget_donor", "forget_customer", "merge_bundle")
"""Commands that read the database's bytes, and keep it open for the locks until they end."""

_PART = re.compile(r"(^|/)\.|\.part\b|\.part-")
"""How a file is named that is not finished."""

_OWN = re.compile(r"(workshop\.db|-wal|-shm|-journal|cache\.db|page\.db)$")
"""Files that SQLite keeps whole."""

_CLEAR = re.compile(r"(salvage: [^\n]{10,}\n(  [^\n]+\n)*|REFUSED  [^\n]{10,}\n)+")
"""One line and the mend; where several things are scanned, one line for each."""

_CLEAR_AT_THE_BENCH = re.compile(r"(.*\n)*[A-Z0-9]+\trefused\t[^\n]{10,}\n")
"""A session at the bench answers on standard output."""


@dataclass(frozen=True)
class Record:
    """
    One workshop.

    Args:
        events: Operation and hash of each event.
        rows: Hash over all rows of all tables.
    """

    events: tuple[tuple[str, str], ...]
    rows: str

    @property
    def ends(self) -> set[int]:
        """Numbers of events at which an operation ended."""
        after = [operation for operation, _ in self.events[1:]] + [""]
        return {
            n
            for n, ((now, _), then) in enumerate(zip(self.events, after, strict=True), 1)
            if now != then
        }


@dataclass(frozen=True)
class Picture:
    """
    A folder.

    Args:
        files: Hash of each file with a final name.
        parts: Files and folders that are not finished.
        records: The workshops in it.
        faults: What is wrong in it by itself.
    """

    files: dict[str, str]
    parts: tuple[str, ...]
    records: dict[str, Record]
    faults: tuple[str, ...]


class Beholder:
    """Looks at folders, and at none twice that has not changed by a byte."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[dict[str, Record], tuple[str, ...]]] = {}
        self._digests: dict[tuple[int, int, int, int], str] = {}
        self._empty = sqlite3.connect(":memory:", isolation_level=None)
        for file in schema_files():
            for statement in split_statements(file.text):
                self._empty.execute(statement)

    def look(self, folder: Path) -> Picture:
        """Look at a folder; workshops are opened as a user would, and so may change."""
        files, parts, everything = {}, [], hashlib.blake2b()
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            name, digest = str(path.relative_to(folder)), self._digest(path)
            everything.update(f"{name} {digest}\n".encode())
            if _PART.search(name):
                parts.append(name)
            elif not _OWN.search(name) or name.startswith("stick/"):
                files[name] = digest
        key = everything.hexdigest()
        if key not in self._known:
            self._known[key] = self._open(folder)
        records, faults = self._known[key]
        return Picture(files, tuple(parts), records, faults)

    def _digest(self, path: Path) -> str:
        found = path.stat()
        key = (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        if key not in self._digests:
            self._digests[key] = hashlib.blake2b(path.read_bytes()).hexdigest()
        return self._digests[key]

    def _open(self, folder: Path) -> tuple[dict[str, Record], tuple[str, ...]]:
        records, faults = {}, []
        for name in SHOPS:
            if not (folder / name / DATABASE_NAME).exists():
                continue
            try:
                with open_workshop(folder / name, clock=lambda: START, by=_BEHOLDER) as shop:
                    faults += [f"{name}: {fault}" for fault in self.unsound(shop)]
                    if not _begun_here(shop):
                        records[name] = record_of(shop)
            except (SalvageError, sqlite3.Error) as error:
                faults.append(f"{name} cannot be opened: {error}")
        return records, tuple(faults)

    def unsound(self, shop: Workshop) -> Iterator[str]:
        """What the issue asks after each fault: database, chain, projection, files."""
        for (verdict,) in shop.conn.execute("PRAGMA integrity_check(5)"):
            if verdict != "ok":
                yield f"integrity_check: {verdict}"
        for row in shop.conn.execute("PRAGMA foreign_key_check"):
            yield f"foreign_key_check: {row}"
        verify_chain(shop.conn)
        check_form(shop.conn)
        yield from self._differs_from_rebuild(shop.conn)
        wanted = "SELECT sha256 FROM file UNION SELECT shape_sha256 FROM cut"
        for (sha256,) in shop.conn.execute(wanted).fetchall():
            if sha256:
                shop.files.load(sha256)  # raises unless it is there and hashes to its name

    def _differs_from_rebuild(self, conn: sqlite3.Connection) -> Iterator[str]:
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
            self._empty.backup(fresh)
            fresh.execute("PRAGMA foreign_keys = OFF")
            replay(conn, fresh)
            for table in TABLES:
                query = f"SELECT * FROM {table}"
                if sorted(map(repr, fresh.execute(query))) != sorted(
                    map(repr, conn.execute(query))
                ):
                    yield f"{table} differs from a rebuild"


def _begun_here(shop: Workshop) -> bool:
    """Whether a workshop held nothing until it was looked at."""
    bodies = [json.loads(body) for (body,) in shop.conn.execute("SELECT body FROM event LIMIT 2")]
    return [body["by"] for body in bodies] == [_BEHOLDER]


def record_of(shop: Workshop) -> Record:
    """What a workshop holds."""
    rows = shop.conn.execute("SELECT operation, hash FROM event ORDER BY seq")
    every = repr(sorted(dump(shop).items())).encode()
    return Record(tuple(rows), hashlib.blake2b(every).hexdigest())


def judge(line: Line, ran: Ran, *, before: Picture, after: Picture, found: Picture) -> list[str]:
    """
    What is wrong after a command met the disk's fault.

    Args:
        line: The command.
        ran: How it went.
        before: The folder before it.
        after: The folder after it where nothing fails.
        found: The folder now.
    """
    faults = list(found.faults)
    for name in SHOPS:
        told = _judge_record(
            before.records.get(name), after.records.get(name), found.records.get(name), ran.code
        )
        faults += [f"{name}: {fault}" for fault in told]
    if line.name in _WHOLE and found.records not in (before.records, after.records):
        faults.append("a workshop is in its place by half")
    for name, digest in found.files.items():
        if digest not in (before.files.get(name), after.files.get(name)):
            faults.append(f"{name} is neither as it was nor as it was to be")
    faults += [
        f"{name} is gone" for name in before.files.keys() & after.files.keys() - found.files.keys()
    ]
    if ran.code == 0 and found.files != after.files:
        odd = set(found.files.items()) ^ set(after.files.items())
        faults.append(f"told as done, but files differ: {sorted(odd)[:3]}")
    if line.name not in _READS_RAW:
        faults += [f"{name} was left open" for name in ran.held]
    return [*faults, *_judge_words(ran)]


def _judge_record(
    before: Record | None, after: Record | None, found: Record | None, code: int
) -> Iterator[str]:
    if code == 0 and found != after:
        yield "told as done, and the record is another"
    if found is None or after is None:
        if (found or after) is not None and found != before:
            yield "a workshop is there that should not be"
        return
    if found.events != after.events[: len(found.events)]:
        yield "the journal holds what no run without faults would write"
    elif before and len(found.events) < len(before.events):
        yield "acknowledged events are lost"
    elif len(found.events) not in after.ends | {len(before.events) if before else 0}:
        yield "an operation is there by half"
    elif found.events == after.events and found.rows != after.rows:
        yield "all events are there, and rows differ"
    elif before and found.events == before.events and found.rows != before.rows:
        yield "no event is new, and rows differ"


def _judge_words(ran: Ran) -> Iterator[str]:
    if ran.code == 0:
        return
    if ran.refused == 0:
        yield f"failed without a fault ({ran.code}): {ran.err}"
    elif ran.code != 1:
        yield f"exit code {ran.code}: {ran.err[-400:]}"
    elif not (_CLEAR.fullmatch(ran.err) or _CLEAR_AT_THE_BENCH.fullmatch(ran.out + ran.err)):
        yield f"not one clear line: {ran.err[-400:]!r} {ran.out[-400:]!r}"
