"""A message that arrives twice is done once: the key of each is kept in the same transaction."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.change import Change
from salvage.store.journal import read_operation
from salvage.units import format_instant
from salvage.work.workshop import Workshop

Result = TypeVar("Result")


class DoneBefore(Refused):
    """
    The very same message was done already.

    Args:
        operation: Id of the operation that it made.
        codes: What that operation concerned, what it made last.
    """

    def __init__(self, operation: str, codes: tuple[Code, ...]) -> None:
        self.operation = operation
        self.codes = codes
        super().__init__("this was recorded already", hint="it was not recorded twice")


class OnceWorkshop(Workshop):
    """
    An open workshop for one message: its operation is done at most once.

    Args:
        shop: The open workshop whose connection is used.
        key: SHA-256 that is the same whenever the same message is sent again.
    """

    def __init__(self, shop: Workshop, *, key: str) -> None:
        super().__init__(shop.folder, shop.conn, clock=shop.clock, entropy=shop.entropy, by=shop.by)
        self.keeper = shop.keeper
        self._key = key

    def commit(
        self, act: str, steps: Callable[[Change], Result], *, dry_run: bool = False
    ) -> Result:
        """
        Run an operation's steps in one transaction, unless the message was done before.

        Raises:
            DoneBefore: If it was; with what it made then.
        """

        def once(change: Change) -> Result:
            if not dry_run:
                self._check_new(change)
            result = steps(change)
            if change.events and not dry_run:
                change.conn.execute(
                    "INSERT INTO page_deed (key, operation, at) VALUES (?, ?, ?)",
                    (self._key, change.operation, format_instant(change.author.at)),
                )
            return result

        return super().commit(act, once, dry_run=dry_run)

    def _check_new(self, change: Change) -> None:
        row = change.conn.execute(
            "SELECT operation FROM page_deed WHERE key = ?", (self._key,)
        ).fetchone()
        if row is None:
            return
        events = read_operation(change.conn, row[0])
        codes = [code for event in events for code in (*event.about, *event.made)]
        raise DoneBefore(row[0], tuple(dict.fromkeys(codes)))
