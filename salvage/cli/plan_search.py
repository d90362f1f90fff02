"""The wait while a plan is sought: what is placed so far, and Ctrl-C that keeps it."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Any

from salvage.cli.session import Session
from salvage.work.clock import stopwatch

if TYPE_CHECKING:
    from salvage.work.plan_search import Search

# A clock that has gone on so far ends any search.
_FAR_S = 1e9
_EVERY_S = 0.2


class SearchWatch:
    """
    The clock of a search, which shows how far it is, on a terminal only.

    Args:
        session: The run.
        wanted: How many pieces are wanted.
    """

    def __init__(self, session: Session, wanted: int) -> None:
        shown = session.world.stderr_is_terminal and not session.form
        self._stream = session.world.stderr if shown else None
        self._wanted = wanted
        self._placed = 0
        self._started = self._told = stopwatch()
        self.stopped = False

    def clock(self) -> float:
        """Seconds; far ahead once somebody asked to stop."""
        now = stopwatch()
        if self._stream and now - self._told >= _EVERY_S:
            self._show(now)
        return now + _FAR_S if self.stopped else now

    def tell(self, placed: int, seconds: float) -> None:
        """Take note of a better plan."""
        del seconds
        self._placed = placed
        if self._stream:
            self._show(stopwatch())

    def _show(self, now: float) -> None:
        assert self._stream is not None
        self._told = now
        placed = f"{self._placed} of {self._wanted} pieces placed" if self._placed else "looking"
        spent = f"{now - self._started:.1f} s"
        self._stream.write(f"\rplanning: {placed}, {spent}; Ctrl-C keeps the best so far \x1b[K")
        self._stream.flush()

    def finish(self) -> None:
        """Take the line of progress away."""
        if self._stream:
            self._stream.write("\r\x1b[K")
            self._stream.flush()


def search_of(watch: SearchWatch, given: Mapping[str, Any]) -> Search:
    """
    The search that a command's options ask for.

    Args:
        watch: Its clock, and whom to tell.
        given: The options by name; a command without a tool of its own leaves it out.

    Raises:
        BadValue: If tool or angles do not parse.
    """
    from salvage.records.choices import parse_choice
    from salvage.work.plan_search import Search
    from salvage.work.wishes import parse_turns

    return Search(
        given["seconds"],
        watch.clock,
        watch.tell,
        parse_choice(given.get("tool", "router"), ("router", "shears"), field="--tool"),
        given.get("anyway", False),
        parse_turns(given["angles"], any_angle=given["any_angle"]),
        given["either_face"],
    )


@contextmanager
def searching(session: Session, wanted: int) -> Iterator[SearchWatch]:
    """
    A watch for one search; a first Ctrl-C ends the search with the best so far, a second all.

    Args:
        session: The run.
        wanted: How many pieces are wanted.
    """
    watch = SearchWatch(session, wanted)

    def stop(number: int, frame: FrameType | None) -> None:
        del number, frame
        if watch.stopped:
            raise KeyboardInterrupt
        watch.stopped = True

    if threading.current_thread() is not threading.main_thread():  # signals are the main one's
        yield watch
        return
    before = signal.signal(signal.SIGINT, stop)
    try:
        yield watch
    finally:
        signal.signal(signal.SIGINT, before)
        watch.finish()
