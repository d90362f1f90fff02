"""The two things an operation takes from the outside world: the time and randomness."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime


def system_clock() -> datetime:
    """The instant now, in UTC."""
    return datetime.now(UTC)


def system_entropy(count: int) -> bytes:
    """Fresh random bytes from the operating system."""
    return os.urandom(count)


def stopwatch() -> float:
    """Seconds that go on evenly, whatever happens to the clock on the wall."""
    return time.monotonic()
