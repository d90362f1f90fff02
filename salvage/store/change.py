"""
One operation's transaction: decide on the state, append events, project them, commit.

``BEGIN IMMEDIATE`` takes the write lock before anything is read, so that what was decided is still
true when it is written. Randomness is drawn through a tape that is replayed on a retry: ids, salts
and codes of the second try are those of the first, and a try whose COMMIT failed although it was
done is recognised instead of being done twice.
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

from salvage.canonical import Json, sha256_hex
from salvage.errors import BadValue, StoreTrouble
from salvage.frozen import dataclass
from salvage.ids import LETTERS, Code, next_code, uuid7
from salvage.records.events import VERSION, Event, check_event_data
from salvage.store.connection import begin_writing, log_bytes, plain_errors, shorten_log
from salvage.store.journal import Tip, append_event, read_tip
from salvage.store.projection import project
from salvage.units import format_instant

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

Result = TypeVar("Result")

TRIES = 3
"""How often a transaction is tried when SQLite reports a passing error at COMMIT."""

# Separates our commitments from any other use of SHA-256 over salt and text.
_SEAL_TAG = b"salvage private field 1\n"


def seal_of(salt: bytes, value: str) -> str:
    """
    The commitment that stands for a personal text in the journal.

    Args:
        salt: 32 random bytes.
        value: The text.
    """
    return sha256_hex(_SEAL_TAG, salt, value.encode("utf-8"))


class Tape:
    """
    Random bytes that can be played again from the start.

    Args:
        draw: Source of fresh random bytes.
    """

    def __init__(self, draw: Callable[[int], bytes]) -> None:
        self._draw = draw
        self._drawn: list[bytes] = []
        self._next = 0

    def take(self, count: int) -> bytes:
        """The next *count* bytes."""
        if self._next == len(self._drawn):
            self._drawn.append(self._draw(count))
        self._next += 1
        return self._drawn[self._next - 1]

    def rewind(self) -> None:
        """Start again with the same bytes."""
        self._next = 0


@dataclass(frozen=True, slots=True)
class Authorship:
    """
    Who does an operation, where and when.

    Args:
        act: The operation's name, as the history shows it.
        by: The person.
        device: The device's letter.
        at: The instant.
    """

    act: str
    by: str
    device: str
    at: datetime


class Change:
    """
    The open transaction that an operation works in.

    Args:
        conn: Connection with BEGIN IMMEDIATE done.
        author: Who, where and when.
        tape: Randomness.
    """

    def __init__(self, conn: sqlite3.Connection, author: Authorship, tape: Tape) -> None:
        self.conn = conn
        self.author = author
        self._tape = tape
        self.operation = self._mint_id()
        self.events: list[Event] = []
        self._at = format_instant(author.at)
        self._tip: Tip | None = None  # nobody else writes while the transaction is open

    def _mint_id(self) -> str:
        return uuid7(int(self.author.at.timestamp() * 1000), self._tape.take(10))

    def new_code(self, kind: str) -> Code:
        """The next unused code of a kind; it is used up when an event names it as made."""
        device = self.author.device
        row = self.conn.execute(
            "SELECT last FROM counter WHERE kind = ? AND device = ?", (kind, device)
        ).fetchone()
        code, _ = next_code(kind, device, int(row[0]) if row else 0)
        return code

    def next_numbers(self, table: str, owner: str, code: Code, *, count: int = 1) -> range:
        """
        The next unused numbers of a thing's photos, keep-outs and the like.

        Where several devices may number apart, each takes only every sixteenth number, so that two
        never give the same one.

        Args:
            table: Table of the schema with a column ``n``.
            owner: Its column that holds the thing's code.
            code: The thing.
            count: How many.
        """
        return self._numbers(table, "n", {owner: code}, count)

    def next_within(self, table: str, column: str, where: Mapping[str, Json]) -> int:
        """
        The next unused number in a column among the rows that *where* tells, apart between devices.

        Args:
            table: Table of the schema.
            column: Its column of numbers.
            where: Values of the columns that tell the rows; names never come from outside.
        """
        return self._numbers(table, column, where, 1)[0]

    def _numbers(self, table: str, column: str, where: Mapping[str, Json], count: int) -> range:
        wanted = " AND ".join(f"{name} = ?" for name in where)
        (last,) = self.conn.execute(
            f"SELECT coalesce(max({column}), 0) FROM {table} WHERE {wanted}", tuple(where.values())
        ).fetchone()
        (devices,) = self.conn.execute("SELECT count(*) FROM device").fetchone()
        first, step = int(last) + 1, 1
        if devices > 1:
            step = len(LETTERS)
            first += (LETTERS.index(self.author.device) - first) % step
        return range(first, first + count * step, step)

    def seal(self, value: str) -> str | None:
        """
        Keep a personal text apart from the journal and give the commitment that stands for it.

        Args:
            value: The text; None is given for an empty one.
        """
        if not value:
            return None
        salt = self._tape.take(32)
        with _text_errors():
            seal = seal_of(salt, value)
        self.conn.execute(
            "INSERT INTO private_field (seal, salt, value) VALUES (?, ?, ?)",
            (seal, salt.hex(), value),
        )
        return seal

    def append(
        self,
        kind: str,
        about: Sequence[Code],
        data: Mapping[str, Json],
        *,
        made: Sequence[Code] = (),
    ) -> Event:
        """
        Journal one event and project it.

        Args:
            kind: Key of :data:`salvage.records.events.KINDS`.
            about: Codes that it concerns, the main one first.
            data: The kind's fields.
            made: Codes that it brings into being.

        Raises:
            BadValue: If a text cannot be written as UTF-8.
        """
        check_event_data(kind, data)
        event_id = self.operation if not self.events else self._mint_id()
        envelope: dict[str, Json] = {
            "about": list(about),
            "act": self.author.act,
            "at": self._at,
            "by": self.author.by,
            "data": data,
            "device": self.author.device,
            "id": event_id,
            "kind": kind,
            "made": list(made),
            "operation": self.operation,
            "version": VERSION,
        }
        tip = self._tip or read_tip(self.conn, self.author.device)
        with _text_errors():
            event, self._tip = append_event(self.conn, envelope, tip)
        project(self.conn, event)
        self.events.append(event)
        return event


@contextmanager
def _text_errors() -> Iterator[None]:
    """Say in one line when a text holds what no file can keep, such as half a surrogate pair."""
    try:
        yield
    except UnicodeEncodeError as error:
        shown = error.object[max(0, error.start - 20) : error.end + 20]
        raise BadValue(
            f"{shown!a} holds a character that cannot be kept",
            hint="type it again, or save the text as UTF-8",
        ) from error


@contextmanager
def _misfits() -> Iterator[None]:
    """Say in one line when the tables refuse a value that no gate before them stopped."""
    try:
        yield
    except sqlite3.IntegrityError as error:
        raise BadValue(
            f"a value does not fit the record ({error})",
            hint="nothing was written; check the numbers and choices that were given",
        ) from error


def run_change(
    conn: sqlite3.Connection,
    author: Authorship,
    steps: Callable[[Change], Result],
    *,
    path: Path,
    draw: Callable[[int], bytes],
    dry_run: bool = False,
) -> Result:
    """
    Run *steps* in one transaction and give what they give; durable when it returns.

    Args:
        conn: Connection without an open transaction.
        author: Who, where and when.
        steps: Reads through the change's connection and appends events.
        path: The database file, for error texts.
        draw: Source of random bytes.
        dry_run: Do everything, then roll back.

    Raises:
        StoreTrouble: If the database stays locked, is full, read-only or damaged.
        BadValue: If the tables refuse a value.
    """
    tape = Tape(draw)
    tries = 0
    with plain_errors(path), _misfits(), _known_end(path) as end:
        while True:
            tries += 1
            tape.rewind()
            begin_writing(conn)
            before = log_bytes(path)
            try:
                change = Change(conn, author, tape)
                result = steps(change)
                if dry_run:
                    conn.execute("ROLLBACK")
                    return result
            except BaseException:
                _roll_back(conn)
                raise
            end.is_sent = True
            if _commit(conn, change, last_try=tries == TRIES):
                shorten_log(conn, path, before=before)
                return result


@dataclass(slots=True)
class _End:
    """Whether the database was ever told to keep the change."""

    is_sent: bool = False


@contextmanager
def _known_end(path: Path) -> Iterator[_End]:
    """
    Say that nobody can tell how it ended, where the disk failed when it was to keep the change.

    Pages that were written but could not be flushed may be there at the next start.
    """
    end = _End()
    try:
        yield end
    except sqlite3.DatabaseError as error:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_OK) & 0xFF
        # What was written and not flushed reads like damage to the connection that wrote it.
        if not end.is_sent or code not in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CORRUPT):
            raise
        raise StoreTrouble(
            f"{path}: the disk reports an error, and whether the change is on record is not known",
            hint="check the disk; then look at 'salvage journal' before you do it again",
        ) from error


def _commit(conn: sqlite3.Connection, change: Change, *, last_try: bool) -> bool:
    try:
        conn.execute("COMMIT")
    except sqlite3.IntegrityError:
        _roll_back(conn)
        raise
    except sqlite3.DatabaseError:
        _roll_back(conn)
        if _is_written(conn, change):  # the disk answered late: the events are there
            return True
        if last_try:
            raise
        return False
    return True


def _roll_back(conn: sqlite3.Connection) -> None:
    if conn.in_transaction:
        conn.execute("ROLLBACK")


def _is_written(conn: sqlite3.Connection, change: Change) -> bool:
    ids = [event.id for event in change.events]
    marks = ", ".join("?" * len(ids))
    (found,) = conn.execute(f"SELECT count(*) FROM event WHERE id IN ({marks})", ids).fetchone()
    return bool(ids) and int(found) == len(ids)
