"""
Who keeps a workshop's folder: one computer writes in it, and remembers how far it came.

Two notes see to that, both outside of the journal. ``last-writer.json`` lies beside the database
and goes where the folder goes; it names the computer that writes. The other one lies in the state
folder of this computer's user and holds the newest event that was acknowledged here. So a folder
that two computers share is told by the first, and a database that somebody, such as a program that
keeps folders alike, set back to an older state is told by the second. Looking things up is free.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from binascii import crc32
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from salvage.errors import Refused, StoreTrouble
from salvage.frozen import dataclass
from salvage.store.connection import DATABASE_NAME
from salvage.store.folder_notes import Marker, Memory, names_beside, read_note, write_note
from salvage.store.mounts import read_mounts, shared_file_system
from salvage.store.raw import read_raw
from salvage.units import format_instant

MARKER = "last-writer.json"
"""The note beside the database."""

TAKE_OVER = "salvage device take-over"
"""What makes this computer the one that writes."""

_LATE = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Computer:
    """
    This computer, as the faces know it.

    Args:
        state: Folder where its user's programs keep what they remember.
        name: What people call it.
        mounts: Gives the system's list of mounts.
    """

    state: Path
    name: str
    mounts: Callable[[], str] = read_mounts


@dataclass(frozen=True, slots=True)
class Fault:
    """
    Something wrong with a workshop's folder.

    Args:
        words: What.
        mend: What to do.
    """

    words: str
    mend: str


def rival_faults(folder: Path, conn: sqlite3.Connection) -> Iterator[Fault]:
    """
    A fault for each second database that went another way.

    Args:
        folder: The workshop's.
        conn: Its open connection.
    """
    if not names_beside(folder):
        return
    from salvage.store.rivals import find_rivals  # seldom needed, and a look-up is to load little

    for rival in find_rivals(folder, conn):
        count = "an event" if rival.events == 1 else f"{rival.events} events"
        yield Fault(
            f"{rival.name} beside the database holds {count} of device {rival.device} that the"
            " workshop lacks: two computers wrote in this folder",
            f"move it into a folder of its own as {DATABASE_NAME}, see there with --shop what is"
            " missing, and enter that here",
        )


class Keeper:
    """
    Watches over one workshop's folder for one computer.

    Args:
        computer: This one.
        folder: The workshop's.
        clock: Gives the instant now.
        entropy: Gives random bytes, for ids that are no part of the record.
    """

    def __init__(
        self,
        computer: Computer,
        folder: Path,
        *,
        clock: Callable[[], datetime],
        entropy: Callable[[int], bytes],
    ) -> None:
        self._computer = computer
        self._folder = folder
        self._clock = clock
        self._entropy = entropy
        # Two sums tell folders apart well enough, and need no cryptography: where two folders ever
        # had the same, each would merely remember nothing of the other.
        place = os.fsencode(folder.resolve())
        name = f"{crc32(place):08x}{crc32(place[::-1]):08x}.json"
        self._memory_path = computer.state / "workshops" / name

    def check_may_open(self, *, newest: int) -> None:
        """
        Raise where merely opening the database would write in another computer's folder.

        Args:
            newest: Number of the newest schema file; an older database would be brought up to it.

        Raises:
            StoreTrouble: If changes of another computer stand in a file beside the database.
            Refused: If the database is of an older version.
        """
        marker = self.marker
        if marker is None or marker.computer == self._id():
            return
        log, schema = _before_opening(self._folder / DATABASE_NAME)
        if not log and schema in (0, newest):
            return
        if schema < newest:
            raise Refused(
                f"this version would bring the workshop of another computer ({marker.label}) up to"
                " date",
                hint=f"update it there first; if it moved here for good: {TAKE_OVER}",
            )
        if log:
            raise StoreTrouble(
                f"the workshop in {self._folder} is open on another computer ({marker.label})"
                " or was not closed there",
                hint=f"close it there and wait until all files are here; if that computer is gone:"
                f" {TAKE_OVER}",
            )

    def check_may_write(self, conn: sqlite3.Connection) -> None:
        """
        Raise unless this computer is the one that writes here, on the newest state that it knows.

        Raises:
            Refused: If another computer wrote last, the database is older than what was written
                here, or a second database went another way.
        """
        marker = self.marker
        if marker and marker.computer != self._id():
            raise Refused(
                f"this workshop was last written on another computer ({marker.label})",
                hint="to work on both, let this one join: salvage device add, over there; if it"
                f" moved here for good: {TAKE_OVER}",
            )
        for fault in self._faults(conn, marker):
            raise Refused(fault.words, hint=fault.mend)

    def _faults(self, conn: sqlite3.Connection, marker: Marker | None) -> Iterator[Fault]:
        if marker and self._is_older(conn, marker):
            yield Fault(
                f"the database in {self._folder} is older than what this computer wrote",
                f"bring the newer {DATABASE_NAME} back, from the other computer, a bin or a copy;"
                f" to go on with the older one and lose what came after: {TAKE_OVER}",
            )
        yield from rival_faults(self._folder, conn)

    def _is_older(self, conn: sqlite3.Connection, marker: Marker) -> bool:
        memory = self._memory()
        if not memory.seq or memory.folder_id != marker.folder_id:
            return False
        row = conn.execute("SELECT hash FROM event WHERE seq = ?", (memory.seq,)).fetchone()
        return row is None or row[0] != memory.hash

    def note_written(self, conn: sqlite3.Connection) -> None:
        """Remember the newest event; a state folder that cannot be written is no trouble."""
        marker = self.marker or self._mark()
        if marker:
            self._remember(conn, marker)

    def take_over(self, conn: sqlite3.Connection) -> None:
        """
        Make this computer the one that writes, on the database as it stands.

        Raises:
            StoreTrouble: If that cannot be noted.
        """
        marker = self._mark()
        if marker is None:
            raise StoreTrouble(
                f"{self._computer.state} or {self._folder} cannot be written",
                hint="check the folders' permissions",
            )
        self._remember(conn, marker)

    def hints(self, conn: sqlite3.Connection, *, changing: bool) -> tuple[str, ...]:
        """
        What whoever works here should know.

        Args:
            conn: The workshop's open connection.
            changing: Whether something is about to be written; that is refused by itself, so only
                what is told once is given.
        """
        standing = () if changing else self.standing(conn)
        found = [f"{fault.words}: {fault.mend}" for fault in standing]
        memory = self._memory()
        share = self.share
        news = {share: share_words(share), **(self._late(conn) if changing else {})}
        fresh = [words for key, words in news.items() if key and key not in memory.told]
        if fresh:
            told = " ".join(key for key in (memory.told, *news) if key)[-500:]
            self._keep(Memory(memory.folder, memory.folder_id, memory.seq, memory.hash, told))
        return (*found, *fresh)

    def standing(self, conn: sqlite3.Connection) -> tuple[Fault, ...]:
        """What is wrong with the folder, each with its mend."""
        return tuple(self._faults(conn, self.marker))

    @property
    def share(self) -> str:
        """The type of the network share that the folder lies on; empty where it does not."""
        return shared_file_system(self._folder, self._computer.mounts())

    def _late(self, conn: sqlite3.Connection) -> dict[str, str]:
        """Words where the computer's clock is behind what was recorded last, by that instant."""
        row = conn.execute("SELECT at FROM event ORDER BY seq DESC LIMIT 1").fetchone()
        now = self._clock()
        if row is None or now + _LATE >= datetime.fromisoformat(row[0]):
            return {}
        newest = str(row[0])[:16].replace("T", " ")
        words = (
            f"the clock says {format_instant(now)[:16].replace('T', ' ')} UTC, and the newest event"
            f" was recorded at {newest}: set the clock; the order of the record is right all the"
            " same"
        )
        return {str(row[0]): words}

    @property
    def marker(self) -> Marker | None:
        """The note beside the database; None where there is none."""
        return read_note(self._folder / MARKER, Marker)

    def _mark(self) -> Marker | None:
        """Note this computer beside the database; None where that cannot be written."""
        computer = self._id(make=True)
        marker = Marker(
            computer,
            self._computer.name[:80],
            format_instant(self._clock()),
            self._entropy(8).hex(),
        )
        return marker if computer and write_note(self._folder / MARKER, marker) else None

    def _memory(self) -> Memory:
        return read_note(self._memory_path, Memory) or Memory(
            str(self._folder.resolve()), "", 0, "", ""
        )

    def _remember(self, conn: sqlite3.Connection, marker: Marker) -> None:
        seq, digest = conn.execute(
            "SELECT seq, hash FROM event ORDER BY seq DESC LIMIT 1"
        ).fetchone()
        memory = self._memory()
        self._keep(Memory(memory.folder, marker.folder_id, seq, digest, memory.told))

    def _keep(self, memory: Memory) -> None:
        with suppress(OSError):
            self._memory_path.parent.mkdir(parents=True, exist_ok=True)
        write_note(self._memory_path, memory)

    def _id(self, *, make: bool = False) -> str:
        """This computer's random id; empty where it has none yet."""
        path = self._computer.state / "computer-id"
        try:
            return path.read_text("ascii").strip()
        except (OSError, ValueError):
            if not make:
                return ""
        part = path.with_name(f".{path.name}-{os.getpid()}-{threading.get_ident()}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            part.write_text(self._entropy(16).hex(), encoding="ascii")
            with suppress(FileExistsError):  # another process was quicker
                os.link(part, path)
        except OSError:
            return ""
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)
        return self._id()


def _before_opening(path: Path) -> tuple[int, int]:
    """Bytes of the log beside a database, and its schema's number (SQLite file format, 1.3)."""
    log = 0
    with suppress(OSError):
        log = path.with_name(f"{path.name}-wal").stat().st_size
    try:
        head = read_raw(path, 0, 64)
    except OSError:
        return log, 0
    return log, int.from_bytes(head[60:64], "big")


def share_words(kind: str) -> str:
    """What to know of a network share of some type; empty for none."""
    if not kind:
        return ""
    return (
        f"the workshop lies on a network share ({kind}): let one computer alone use it, or move it"
        " to a disk of this computer (salvage backup, then salvage restore)"
    )
