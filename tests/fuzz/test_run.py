"""Ten thousand inputs over all importers, chosen by the branches that they reach."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.fuzz.run import MOST_SECONDS, fuzz, has_guide, share_out
from tests.fuzz.target import Target
from tests.fuzz.targets import TARGETS

INPUTS = int(os.environ.get("SALVAGE_FUZZ_INPUTS", "9000"))
"""The replayed seeds and their likes are the rest of ten thousand."""

MOST_MB = 1500
"""No process held more: a picture of a hundred million pixels is held up to three times."""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the command tells of a run."""
    found = tmp_path_factory.mktemp("found")
    words = ["--inputs", str(INPUTS), "--seed", "10", "--json", "--found", str(found)]
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz.run", *words],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        timeout=1500,
        check=False,
    )
    result: dict[str, Any] = json.loads(done.stdout)
    traces = [json.loads(path.read_text())["trace"] for path in sorted(found.glob("*-*.json"))]
    return {**result, "traces": traces}


def test_no_input_ends_in_a_traceback(told: dict[str, Any]) -> None:
    """Whatever comes in is taken, or refused in one line; no process dies or hangs."""
    assert told["traces"] == []
    assert told["tracebacks"] == 0
    assert told["inputs"] >= INPUTS
    assert {one["target"] for one in told["targets"]} == TARGETS.keys()


def test_memory_and_time_are_bounded(told: dict[str, Any]) -> None:
    """No small input makes the computer of a workshop crawl."""
    assert told["largest_mb"] < MOST_MB
    assert told["slowest_ms"] < MOST_SECONDS * 1000


def test_new_branches_are_looked_for(told: dict[str, Any]) -> None:
    """Where the guide is installed, inputs that reach something new are kept."""
    kept = sum(one["kept"] for one in told["targets"])

    assert (told["engine"] == "atheris") == has_guide()
    assert (kept > 500) == has_guide()


def _open_harmful(folder: Path) -> Any:
    del folder

    def importer(data: bytes) -> None:
        if data[:1] == b"k":
            os.kill(os.getpid(), 9)
        if data[:1] == b"t":
            raise KeyError(data)

    return importer


def test_a_traceback_and_a_death_are_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fuzzer that would not see a crash proves nothing."""
    seeds = (b"fine", b"trace", b"kill")
    harmful = Target("harmful", _open_harmful, lambda rng, data: data, 1, 10, lambda _: seeds)
    monkeypatch.setattr("tests.fuzz.run.load_targets", lambda guided: {"harmful": harmful})

    (outcome,) = fuzz(40, seed=1, found=tmp_path / "found", guided=False)

    found = [json.loads(p.read_text()) for p in (tmp_path / "found").glob("harmful-*.json")]
    assert outcome.findings > 0
    assert outcome.died > 0
    assert {one["what"].split(" at ")[0] for one in found} == {
        "KeyError",
        "the process ended with -9",
    }


def test_every_importer_has_its_share() -> None:
    """Slow doors are tried seldom, but none never."""
    shares = share_out(TARGETS, 1000)

    assert sum(shares.values()) >= 1000
    assert min(shares.values()) >= 1
