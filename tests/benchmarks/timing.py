"""Timing for the benchmarks: processor time, interleaved, medians, ratios to a named baseline."""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Callable, Mapping


def interleave(tasks: Mapping[str, Callable[[], object]], *, rounds: int) -> dict[str, float]:
    """
    Median processor time of each task in milliseconds.

    The tasks take turns, so that a busy moment of the machine falls on all of them.

    Args:
        tasks: What to time, by name.
        rounds: How often; one more round goes before, untimed.
    """
    spent: dict[str, list[float]] = {name: [] for name in tasks}
    for turn in range(rounds + 1):
        for name, task in tasks.items():
            start = time.process_time()
            task()
            if turn:
                spent[name].append((time.process_time() - start) * 1000)
    return {name: statistics.median(times) for name, times in spent.items()}


def report(
    title: str, times_ms: Mapping[str, float], *, baseline: str, more: Mapping[str, object]
) -> dict[str, object]:
    """The result as a record with stable keys: milliseconds, ratios, further figures."""
    base = times_ms[baseline]
    return {
        "benchmark": title,
        "baseline": baseline,
        "ms": {name: round(value, 2) for name, value in times_ms.items()},
        "ratio": {name: round(value / base, 2) for name, value in times_ms.items()},
        **more,
    }


def show(result: Mapping[str, object], *, as_json: bool) -> None:
    """Print a result for people or as JSON."""
    if as_json:
        print(json.dumps(result, indent=2))
        return
    print(f"{result['benchmark']}, baseline: {result['baseline']}")
    times, ratios = result["ms"], result["ratio"]
    assert isinstance(times, dict)
    assert isinstance(ratios, dict)
    for name, value in times.items():
        print(f"  {name:32} {value:10.2f} ms   {ratios[name]:8.2f} x")


def parse_arguments(words: str, *, rounds: int) -> argparse.Namespace:
    """The benchmark's own command line: ``--json`` and ``--rounds``."""
    parser = argparse.ArgumentParser(description=words)
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--rounds", type=int, default=rounds, help="timed rounds of each task")
    return parser.parse_args()
