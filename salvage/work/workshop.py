"""The open workshop: its database, files, settings, clock and randomness."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

from salvage.errors import NotFound, StoreTrouble
from salvage.ids import LETTERS
from salvage.store import connection
from salvage.store.connection import BUSY_MS, connect, plain_errors
from salvage.store.durable import make_folder
from salvage.store.files import FileStore
from salvage.store.migrations import migrate, schema_number
from salvage.units import ClockDay, format_instant
from salvage.work.clock import system_clock, system_entropy
from salvage.work.settings import NOBODY, Settings, read_settings

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path
    from types import TracebackType

    from salvage.store.change import Change
    from salvage.store.keeper import Keeper

Result = TypeVar("Result")

DATABASE_NAME = connection.DATABASE_NAME
"""The database's name inside the workshop's folder."""

FIRST_DEVICE = "the first device"
"""What the device is called on which a workshop began."""


class Workshop:
    """
    An open workshop; every operation takes one as its first argument.

    Args:
        folder: Where the database, files and backups lie.
        conn: Open connection with the newest schema.
        clock: Gives the instant now, in UTC.
        entropy: Gives random bytes.
        by: Who works; the setting ``operator`` stands in for an empty one.

    Attributes:
        keeper: Watches that one computer alone writes in the folder; None where nobody does.
    """

    def __init__(
        self,
        folder: Path,
        conn: sqlite3.Connection,
        *,
        clock: Callable[[], datetime] = system_clock,
        entropy: Callable[[int], bytes] = system_entropy,
        by: str = "",
    ) -> None:
        self.folder = folder
        self.conn = conn
        self.clock = clock
        self.entropy = entropy
        self.files = FileStore(folder / "files")
        self.keeper: Keeper | None = None
        self._by = by

    @property
    def path(self) -> Path:
        """The database file."""
        return self.folder / DATABASE_NAME

    @property
    def settings(self) -> Settings:
        """The settings as they stand."""
        return read_settings(self.conn)

    @property
    def is_named(self) -> bool:
        """Whether somebody gave it a name."""
        found = self.conn.execute("SELECT 1 FROM setting WHERE name = 'name'").fetchone()
        return found is not None

    @property
    def by(self) -> str:
        """Who works now."""
        return self._by or self.settings.operator or NOBODY

    @property
    def today(self) -> date:
        """The date now, in the computer's own time zone."""
        now = self.clock().astimezone()
        day = ClockDay(now.year, now.month, now.day)
        day.newest = self._newest_day
        return day

    def _newest_day(self) -> date:
        """The newest day of any event; the clock may have been set back since."""
        (newest,) = self.conn.execute("SELECT max(at) FROM event").fetchone()
        return datetime.fromisoformat(newest).astimezone().date()

    def commit(
        self, act: str, steps: Callable[[Change], Result], *, dry_run: bool = False
    ) -> Result:
        """
        Run an operation's steps in one transaction.

        Args:
            act: The operation's name, as the history shows it.
            steps: Reads and appends events.
            dry_run: Do everything, then roll back.

        Raises:
            Refused: If another computer keeps this folder.
        """
        # What only reads does without the rules by which events become rows.
        from salvage.store.change import Authorship, run_change

        self.check_may_write()
        author = Authorship(act, self.by, self.settings.device, self.clock())
        result = run_change(
            self.conn, author, steps, path=self.path, draw=self.entropy, dry_run=dry_run
        )
        if self.keeper and not dry_run:
            self.keeper.note_written(self.conn)
        return result

    def check_may_write(self) -> None:
        """
        Raise where another computer keeps this folder.

        Raises:
            Refused: With what to do.
        """
        if self.keeper:
            with plain_errors(self.path):
                self.keeper.check_may_write(self.conn)

    def close(self) -> None:
        """Close the database."""
        self.conn.close()

    def __enter__(self) -> Workshop:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def open_workshop(
    folder: Path,
    *,
    clock: Callable[[], datetime] = system_clock,
    entropy: Callable[[int], bytes] = system_entropy,
    by: str = "",
    create: bool = True,
    busy_ms: int = BUSY_MS,
    device: str = "",
) -> Workshop:
    """
    Open the workshop in *folder*, bringing an older database up to date first.

    Args:
        folder: The workshop's folder.
        clock: Gives the instant now.
        entropy: Gives random bytes.
        by: Who works.
        create: Begin a new workshop where there is none.
        busy_ms: How long to wait for another writer.
        device: Letter of the first device of a new workshop; drawn by lot if empty.

    Raises:
        NotFound: If there is no workshop and *create* is false.
        StoreTrouble: If the folder or database cannot be used.
    """
    path = folder / DATABASE_NAME
    if not path.exists():
        if not create:
            raise NotFound(
                f"there is no workshop in {folder}",
                hint="begin one with 'salvage setup', or name another folder with --shop",
            )
        _make_folder(folder)
    conn = connect(path, busy_ms=busy_ms)
    try:
        with plain_errors(path):
            _check_not_lost(folder, conn)
            migrate(conn, path, now=format_instant(clock()))
            shop = Workshop(folder, conn, clock=clock, entropy=entropy, by=by)
            if not shop.settings.device:
                _choose_device(shop, device)
    except BaseException:
        conn.close()
        raise
    return shop


def _check_not_lost(folder: Path, conn: sqlite3.Connection) -> None:
    """Raise where a database is empty or gone although a workshop was here."""
    if schema_number(conn) == 0 and any((folder / "files").glob("??/*")):
        raise StoreTrouble(
            f"{folder / DATABASE_NAME} is empty or gone, although photos lie beside it",
            hint="restore the last backup, or name another folder with --shop",
        )


def _make_folder(folder: Path) -> None:
    try:
        make_folder(folder)
    except OSError as error:
        raise StoreTrouble(
            f"the folder {folder} cannot be made: {error.strerror}",
            hint="name another with --shop",
        ) from error


def _choose_device(shop: Workshop, device: str) -> None:
    """Give a new workshop's device its letter, so that two workshops seldom share one."""
    from salvage.store.change import Authorship, run_change

    letter = device or LETTERS[shop.entropy(1)[0] % len(LETTERS)]
    author = Authorship("begin", shop.by, letter, shop.clock())

    def steps(change: Change) -> None:
        if not read_settings(change.conn).device:
            change.append("device.joined", (), {"letter": letter, "name": FIRST_DEVICE})
            change.conn.execute("INSERT INTO this_device VALUES (1, ?)", (letter,))

    run_change(shop.conn, author, steps, path=shop.path, draw=shop.entropy)
