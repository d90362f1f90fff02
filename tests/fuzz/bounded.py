"""One call in a process of its own with bounded memory, and what it took."""

from __future__ import annotations

import json
import os
import resource
import time
from collections.abc import Callable
from dataclasses import dataclass

from salvage.errors import SalvageError
from tests.fuzz.child import MOST_MEMORY, peak_kb
from tests.fuzz.target import Finding, judge


@dataclass(frozen=True)
class Taken:
    """
    What a call took.

    Args:
        told: ``done``, our own words, or a traceback.
        is_ours: Whether it ended in done or in our own words.
        grown_mb: How much more memory its process held at most.
        cpu_s: Its processor time.
    """

    told: str
    is_ours: bool
    grown_mb: float
    cpu_s: float


def take(call: Callable[[], object]) -> Taken:
    """Run a call in a forked process; one that dies or wants more memory is none of ours."""
    ear, mouth = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.write(mouth, json.dumps(_measure(call)).encode())
        finally:
            os._exit(0)
    os.close(mouth)
    with os.fdopen(ear, "rb") as stream:
        told = stream.read()
    os.waitpid(child, 0)
    return Taken(*json.loads(told)) if told else Taken("the process died", False, 0.0, 0.0)


def _measure(call: Callable[[], object]) -> tuple[str, bool, float, float]:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    before, start = peak_kb(), time.process_time()
    words: list[str] = []

    def importer(data: bytes) -> None:
        del data
        try:
            call()
        except SalvageError as error:
            words.append(str(error))
            raise

    outcome = judge("", importer, b"")
    is_ours = not isinstance(outcome, Finding)
    told = outcome.trace if isinstance(outcome, Finding) else "".join(words) or outcome
    return told[:2000], is_ours, (peak_kb() - before) / 1000, time.process_time() - start
