"""The two things an operation takes from the outside world: the time and randomness."""

from __future__ import annotations

import os
from datetime import UTC, datetime


def system_clock() -> datetime:
    """The instant now, in UTC."""
    return datetime.now(UTC)


def system_entropy(count: int) -> bytes:
    """Fresh random bytes from the operating system."""
    return os.urandom(count)
