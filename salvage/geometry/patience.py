"""
How long a search may go on.

The rooms ask no clock themselves: it is handed in. A search that ends by rounds gives the same
answer every time; one that ends by the clock may get further on another day.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Patience:
    """
    How long to search, and whom to tell.

    Args:
        seconds: Time to take.
        clock: Seconds from any start, such as ``time.monotonic``.
        rounds: Tries at most; the same number gives the same answer if time suffices.
        progress: Told after each better answer: how much is placed, and seconds since the start.
    """

    seconds: float
    clock: Callable[[], float]
    rounds: int = 1_000_000
    progress: Callable[[int, float], None] | None = None

    def start(self) -> Watch:
        """A watch that starts now."""
        return Watch(self, self.clock())


@dataclass(slots=True)
class Watch:
    """A search's own time; made by :meth:`Patience.start`."""

    patience: Patience
    started: float
    rounds: int = field(default=0)

    @property
    def spent_s(self) -> float:
        """Seconds since the start."""
        return self.patience.clock() - self.started

    def go_on(self) -> bool:
        """Whether there is time left."""
        return self.spent_s < self.patience.seconds

    def next_round(self) -> bool:
        """Count a try; False if there is no time or no try left."""
        self.rounds += 1
        return self.rounds <= self.patience.rounds and self.go_on()

    def tell(self, placed: int) -> None:
        """Pass a better answer on."""
        if self.patience.progress:
            self.patience.progress(placed, self.spent_s)
