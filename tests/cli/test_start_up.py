"""Starting fast is a feature: help and a look-up cost at most two starts of a bare program."""

from __future__ import annotations

from tests.benchmarks.startup import HELP, HISTORY, TRACE, measure

# The bare program has the same library and one command that does nothing.
MOST = 2.0


def test_the_start_is_light() -> None:
    """The answer is there before the hand is back from the key."""
    found = measure(rounds=7)
    ratios = {name: found[name]["ratio"] for name in (HELP, HISTORY, TRACE)}

    assert all(ratio <= MOST for ratio in ratios.values()), ratios
