"""Whoever reads for long does not let SQLite's log grow without end."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from salvage.ids import Code
from salvage.store.connection import connect, log_bytes
from salvage.work.record import move_board
from salvage.work.workshop import Workshop
from tests.bench import add_board

BOUND = 40_000_000
"""Five steps: at the others somebody may just have been reading, on a busy machine more often."""

CHANGES = 2000
"""Some 78 MB of log, were it never begun anew."""


def _read_for(path: Path, seconds: float) -> None:
    """Keep one read transaction open for so long."""
    with closing(connect(path)) as conn:
        conn.execute("BEGIN")
        conn.execute("SELECT count(*) FROM event").fetchone()
        time.sleep(seconds)


@contextmanager
def _going_on(*works: Callable[[], None]) -> Iterator[None]:
    """Each is done over and over in a thread of its own, until the block ends."""
    ended = threading.Event()

    def over_and_over(work: Callable[[], None]) -> None:
        while not ended.is_set():
            work()

    threads = [threading.Thread(target=over_and_over, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
        time.sleep(0.02)  # so that one always reads while another leaves
    try:
        yield
    finally:
        ended.set()
        for thread in threads:
            thread.join()


def _move_about(shop: Workshop, board: Code, count: int) -> tuple[int, float]:
    """The longest that the log became, in bytes, and the longest that a change took, in seconds."""
    longest, slowest = 0, 0.0
    for number in range(count):
        begun = time.monotonic()
        move_board(shop, board=board, place=f"shelf {number}")
        slowest = max(slowest, time.monotonic() - begun)
        longest = max(longest, log_bytes(shop.path))
    return longest, slowest


def test_readers_that_take_turns_do_not_keep_the_log(empty_shop: Workshop) -> None:
    """Somebody is reading at every moment of the day, never the same; the log stays short."""
    board = add_board(empty_shop).code
    with _going_on(*[lambda: _read_for(empty_shop.path, 0.06)] * 3):
        longest, _ = _move_about(empty_shop, board, CHANGES)

    assert longest < BOUND


def test_behind_a_reader_that_stays_work_goes_on(empty_shop: Workshop) -> None:
    """Somebody left a list open: changes are kept, and the log is cut when it is closed."""
    board = add_board(empty_shop).code
    with closing(connect(empty_shop.path)) as stays:
        stays.execute("BEGIN")
        stays.execute("SELECT count(*) FROM event").fetchone()
        longest, slowest = _move_about(empty_shop, board, CHANGES // 2)

        assert longest > BOUND / 2
        assert slowest < 10
    _move_about(empty_shop, board, 1200)

    assert log_bytes(empty_shop.path) < BOUND
