"""A search ends by the clock or by its rounds, whichever comes first."""

from __future__ import annotations

from salvage.geometry.patience import Patience


def test_time_ends_a_search() -> None:
    """Three looks at a clock that moves by a second, from its start on."""
    ticks = iter(range(100))
    watch = Patience(3, lambda: float(next(ticks))).start()

    assert [watch.go_on() for _ in range(4)] == [True, True, False, False]


def test_rounds_end_a_search() -> None:
    """With a clock that stands still."""
    watch = Patience(1, lambda: 0.0, rounds=2).start()

    assert [watch.next_round() for _ in range(3)] == [True, True, False]
    assert watch.go_on()


def test_no_time_means_not_one_round() -> None:
    """Not even the first."""
    assert not Patience(0, lambda: 5.0).start().next_round()


def test_progress_is_told_with_the_time_since_the_start() -> None:
    """And nobody is told if nobody asked."""
    told: list[tuple[int, float]] = []
    clock = iter([10.0, 12.5])
    watch = Patience(9, lambda: next(clock), progress=lambda n, s: told.append((n, s))).start()

    watch.tell(7)
    Patience(9, lambda: 0.0).start().tell(7)

    assert told == [(7, 2.5)]
