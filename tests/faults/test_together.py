"""Several processes on one workshop at the same moment."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from tests.faults.children import Child, children_of, context, faults_of
from tests.faults.writer import begin_together, work_together


def test_two_may_begin_a_workshop_at_the_same_moment(tmp_path: Path) -> None:
    """Twenty times: both work, both write, and they agree on one device letter."""
    for number in range(20):
        folder = tmp_path / str(number)
        start = context().Barrier(2)
        both = (Child(begin_together, folder, seed, start) for seed in range(2))
        with children_of(*both) as children:
            for child in children:
                child.hear_out()
        told = [told for child in children for told in child.told]
        letters = {code for what, code in told if what == "opened"}
        codes = {code for what, code in told if what == "drop-off"}

        assert [child.process.exitcode for child in children] == [0, 0]
        assert (len(told), len(letters), len(codes)) == (4, 1, 2)
        assert faults_of(folder, told) == []


def test_four_at_once_lose_nothing(tmp_path: Path) -> None:
    """Four times forty operations: none is lost, none is refused as locked, the chain is whole."""
    start = context().Barrier(4)
    four = (Child(work_together, tmp_path / "shop", seed, start) for seed in range(4))
    with children_of(*four) as children:
        for child in children:
            child.hear_out()
    told = [told for child in children for told in child.told]
    codes = [code for what, code in told if what not in ("opened", "file")]

    assert [child.process.exitcode for child in children] == [0, 0, 0, 0]
    assert len(codes) == len(set(codes)) == 4 * 5 * 6
    assert faults_of(tmp_path / "shop", told) == []


def test_eight_write_a_thousand_times_each(tmp_path: Path) -> None:
    """Nothing is lost, nobody meets a lock, no code is given twice, and all checks are green."""
    words = [sys.executable, "-m", "tests.faults.crowding", "--place", str(tmp_path)]
    top = Path(__file__).resolve().parents[2]
    done = subprocess.run(words, cwd=top, capture_output=True, text=True, check=False)
    assert done.stdout, done.stderr
    told = json.loads(done.stdout)

    assert told["operations"] == [1000] * 8
    assert (told["troubles"], told["twice"], told["faults"]) == ([], [], [])
    assert told["codes"] > 1000
