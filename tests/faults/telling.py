"""An open workshop that tells of each operation, so that what was told can be looked for later."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from salvage.store.change import Change
from salvage.work.workshop import Workshop

Result = TypeVar("Result")


class TellingWorkshop(Workshop):
    """
    An open workshop that tells of each operation before and after it is committed.

    Args:
        shop: The open workshop whose connection is used.
        tell: Told ``about``, the operation's id, the number of its events and the hash of its
            last just before COMMIT; ``done`` and the codes that it made once COMMIT has returned.
    """

    def __init__(self, shop: Workshop, tell: Callable[..., None]) -> None:
        super().__init__(shop.folder, shop.conn, clock=shop.clock, entropy=shop.entropy, by=shop.by)
        self._tell = tell

    def commit(
        self, act: str, steps: Callable[[Change], Result], *, dry_run: bool = False
    ) -> Result:
        """Run an operation's steps in one transaction, and tell of it."""
        told: list[Change] = []

        def listened(change: Change) -> Result:
            result = steps(change)
            if change.events:
                told[:] = [change]
                last = change.events[-1].hash
                self._tell("about", change.operation, len(change.events), last)
            return result

        result = super().commit(act, listened, dry_run=dry_run)
        for change in told:
            made = [code for event in change.events for code in event.made]
            self._tell("done", change.operation, *made)
        return result
