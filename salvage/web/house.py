"""What the page takes from outside: the workshop's folder, time, randomness, and who may knock."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from salvage.store.connection import BUSY_MS
from salvage.store.keeper import Keeper
from salvage.web.notebook import Notebook
from salvage.work.clock import system_clock, system_entropy
from salvage.work.workshop import Workshop, open_workshop

LOOPBACK = "127.0.0.1"
"""The address that only this computer reaches."""


@dataclass(frozen=True)
class House:
    """
    Everything that one running page knows; tests hand in their own.

    Args:
        folder: The workshop's folder.
        hosts: Names and ports by which the page may be called, such as ``127.0.0.1:8417``.
        clock: Gives the instant now, in UTC.
        entropy: Gives the workshop's random bytes; keys of the door never come from it.
        by: Who works at this computer; empty for the workshop's own setting.
        phones: Address that phones reach; empty where the page is for this computer only.
        scheme: ``http``, or ``https`` with a certificate of the workshop's own.
        keeper: Watches that this computer alone writes in the folder; None where nobody does.
    """

    folder: Path
    hosts: frozenset[str]
    clock: Callable[[], datetime] = system_clock
    entropy: Callable[[int], bytes] = system_entropy
    by: str = ""
    phones: str = ""
    scheme: str = "http"
    busy_ms: int = BUSY_MS
    keeper: Keeper | None = None
    told: dict[str, str] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def notebook(self) -> Notebook:
        """Who has been let in."""
        return Notebook(self.folder / "page.db", clock=self.clock)

    @property
    def cookie(self) -> str:
        """The cookie's name; each port has one of its own, since browsers share them over ports."""
        port = min(self.hosts, key=len, default="").rpartition(":")[2]
        return f"bench{port}"

    def open(self, *, by: str = "", create: bool = False) -> Workshop:
        """
        The open workshop, for one visit.

        Args:
            by: Who works; this computer's own person if empty.
            create: Begin a new workshop where there is none.
        """
        shop = open_workshop(
            self.folder,
            clock=self.clock,
            entropy=self.entropy,
            by=by or self.by,
            create=create,
            busy_ms=self.busy_ms,
        )
        shop.keeper = self.keeper
        return shop

    def say(self, session: str, words: str) -> None:
        """Keep words for the next page that a session asks for."""
        with self.lock:
            self.told[session] = words

    def hear(self, session: str) -> str:
        """The words that were kept for a session, once."""
        with self.lock:
            return self.told.pop(session, "")


def fresh_key() -> str:
    """A random text that nobody guesses."""
    return secrets.token_urlsafe(24)
