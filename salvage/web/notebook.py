"""
Who was let in: pairing tokens and sessions, in a small database of their own.

``page.db`` is no part of the record: deleted, everybody pairs anew. Tokens are kept as hashes only.
"""

from __future__ import annotations

import hmac
import os
import secrets
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from salvage.canonical import sha256_hex
from salvage.errors import BadValue, Refused
from salvage.units import format_instant

ROLES = ("owner", "helper")
"""What a guest may see: a helper sees no donor's own name or contact, and no prices."""

TOKEN_MINUTES = 10
"""How long a pairing code is good."""

SESSION_DAYS = 30
"""How long a browser stays paired without a visit."""

MOST_TRIES = 8
"""Wrong codes from all sides within a code's lifetime before pairing rests."""

# Read aloud and typed on a phone: no vowels, no look-alikes. 8 of 24 letters are 36 bits, of which
# eight tries in ten minutes guess one in eight thousand million.
_LETTERS = "BCDFGHJKLMNPQRSTVWXZ2479"
_LENGTH = 8

_TABLES = """
CREATE TABLE IF NOT EXISTS token (
    hash TEXT PRIMARY KEY, role TEXT NOT NULL, name TEXT NOT NULL,
    expires_at TEXT NOT NULL, used INTEGER NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS session (
    hash TEXT PRIMARY KEY, n INTEGER NOT NULL UNIQUE, role TEXT NOT NULL, name TEXT NOT NULL,
    form_key TEXT NOT NULL, since TEXT NOT NULL, seen_at TEXT NOT NULL, revoked INTEGER NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS wrong_try (at TEXT NOT NULL) STRICT;
PRAGMA user_version = 1;
"""


@dataclass(frozen=True, slots=True)
class Guest:
    """
    A browser that was let in.

    Args:
        n: Its number in the notebook.
        hash: Hash of its cookie.
        role: One of :data:`ROLES`.
        name: Who works there; empty for this computer's own person.
        form_key: Must come back with every form, so that no other page can send one.
        since, seen_at: When it was paired and when it last came.
    """

    n: int
    hash: str
    role: str
    name: str
    form_key: str
    since: str
    seen_at: str

    @property
    def is_owner(self) -> bool:
        """Whether prices and donors' own names may be seen."""
        return self.role == "owner"


class Notebook:
    """
    The door's book.

    Args:
        path: The database, made on first use, readable by its owner only.
        clock: Gives the instant now.
    """

    def __init__(self, path: Path, *, clock: Callable[[], datetime]) -> None:
        self._path = path
        self._clock = clock

    def invite(self, *, role: str, name: str = "") -> str:
        """
        A one-time code that lets one browser in.

        Raises:
            BadValue: If there is no such role.
        """
        if role not in ROLES:
            raise BadValue(f"'{role}' is no role", hint="owner or helper", field="role")
        token = "".join(secrets.choice(_LETTERS) for _ in range(_LENGTH))
        with self._open() as conn:
            conn.execute(
                "INSERT INTO token VALUES (?, ?, ?, ?, 0)",
                (_hash(token), role, name, self._later(minutes=TOKEN_MINUTES)),
            )
        return token

    def admit(self, token: str, *, name: str = "") -> tuple[str, Guest]:
        """
        Let a browser in for a one-time code; gives its cookie and the guest.

        Raises:
            Refused: If the code is wrong, used or too old, or too many wrong ones came.
        """
        tidy = "".join(token.upper().replace("-", " ").split())
        with self._open() as conn:
            self._check_tries(conn)
            row = conn.execute(
                "SELECT role, name FROM token WHERE hash = ? AND used = 0 AND expires_at > ?",
                (_hash(tidy), self._now()),
            ).fetchone()
            if row is not None:
                conn.execute("UPDATE token SET used = 1 WHERE hash = ?", (_hash(tidy),))
                return self._begin(conn, row[0], name.strip()[:40] or row[1])
            conn.execute("INSERT INTO wrong_try VALUES (?)", (self._now(),))
        raise Refused(
            "this pairing code is not good (any more)",
            hint=f"each is good once, for {TOKEN_MINUTES} minutes; ask for a new one",
        )

    def _begin(self, conn: sqlite3.Connection, role: str, name: str) -> tuple[str, Guest]:
        cookie, now = secrets.token_urlsafe(32), self._now()
        (n,) = conn.execute("SELECT coalesce(max(n), 0) + 1 FROM session").fetchone()
        guest = Guest(n, _hash(cookie), role, name, secrets.token_urlsafe(24), now, now)
        conn.execute(
            "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, ?, 0)",
            (guest.hash, n, role, name, guest.form_key, now, now),
        )
        return cookie, guest

    def guest_of(self, cookie: str) -> Guest | None:
        """The guest whose cookie this is, unless it was revoked or stayed away too long."""
        if not cookie:
            return None
        with self._read() as conn:
            row = conn.execute(
                "SELECT n, hash, role, name, form_key, since, seen_at FROM session"
                " WHERE hash = ? AND revoked = 0 AND seen_at > ?",
                (_hash(cookie), self._later(days=-SESSION_DAYS)),
            ).fetchone()
        guest = Guest(*row) if row else None
        if guest and guest.seen_at < self._later(minutes=-10):
            with self._open() as conn:
                conn.execute("UPDATE session SET seen_at = ? WHERE n = ?", (self._now(), guest.n))
        return guest

    def guests(self) -> tuple[Guest, ...]:
        """All browsers that are let in, newest first."""
        with self._read() as conn:
            rows = conn.execute(
                "SELECT n, hash, role, name, form_key, since, seen_at FROM session"
                " WHERE revoked = 0 ORDER BY n DESC"
            ).fetchall()
        return tuple(Guest(*row) for row in rows)

    def revoke(self, n: int) -> None:
        """Shut a browser out, and make every unused code worthless."""
        with self._open() as conn:
            conn.execute("UPDATE session SET revoked = 1 WHERE n = ?", (n,))
            conn.execute("UPDATE token SET used = 1")

    def _check_tries(self, conn: sqlite3.Connection) -> None:
        conn.execute("DELETE FROM wrong_try WHERE at < ?", (self._later(minutes=-TOKEN_MINUTES),))
        (tries,) = conn.execute("SELECT count(*) FROM wrong_try").fetchone()
        if tries >= MOST_TRIES:
            raise Refused(
                "too many wrong pairing codes",
                hint=f"pairing rests for {TOKEN_MINUTES} minutes",
            )

    def _now(self) -> str:
        return format_instant(self._clock())

    def _later(self, *, minutes: int = 0, days: int = 0) -> str:
        return format_instant(self._clock() + timedelta(minutes=minutes, days=days))

    @contextmanager
    def _read(self) -> Iterator[sqlite3.Connection]:
        """A connection to look something up."""
        if not self._path.exists():
            os.close(os.open(self._path, os.O_CREAT | os.O_RDWR, 0o600))
        with closing(sqlite3.connect(self._path, isolation_level=None, timeout=10)) as conn:
            (ready,) = conn.execute("PRAGMA user_version").fetchone()
            if not ready:
                conn.executescript(_TABLES)
            yield conn

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        """One short transaction."""
        with self._read() as conn:
            conn.execute("BEGIN IMMEDIATE")
            try:
                yield conn
            except BaseException:
                conn.execute("ROLLBACK")
                raise
            conn.execute("COMMIT")


def same(given: str, expected: str) -> bool:
    """Whether two secrets are the same, in a time that tells nothing."""
    return hmac.compare_digest(given.encode(), expected.encode())


def _hash(secret: str) -> str:
    return sha256_hex(b"salvage page 1\n", secret.encode())
