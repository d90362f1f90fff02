"""A process killed at any moment loses nothing that it had told, and leaves nothing half done."""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

from tests.faults.children import Child, children_of, faults_of
from tests.faults.writer import Told, work_until_killed

ROUNDS = int(os.environ.get("SALVAGE_KILLS", "25"))
"""How often to kill; a long run before a release takes thousands."""

# A workshop lives through so many kills before a new one is begun: recovery after recovery.
KILLS_PER_WORKSHOP = 5


def _kill_round(folder: Path, dice: random.Random, *, writers: int) -> list[Told]:
    """Let writers work to a random moment, kill them, and give all that they told."""
    seeds = [dice.randrange(10**9) for _ in range(writers)]
    children = [Child(work_until_killed, folder, seed) for seed in seeds]
    with children_of(*children):
        for child in children:
            child.listen(least=dice.choice((0, 1, 1, 3, 5, 8)))
        # Up to here all is acknowledged; the moment itself falls anywhere in the next operation.
        time.sleep(dice.uniform(0, 0.04))
        for child in children:
            child.kill()
    return [told for child in children for told in child.told]


def test_a_killed_writer_loses_nothing_that_it_told(tmp_path: Path) -> None:
    """After each kill: every code is there, all checks are green, and the next writer goes on."""
    dice = random.Random(20260504)
    told: list[Told] = []
    in_all = 0
    for number in range(ROUNDS):
        folder = tmp_path / f"shop-{number // KILLS_PER_WORKSHOP}"
        if number % KILLS_PER_WORKSHOP == 0:
            told = []
        told += _kill_round(folder, dice, writers=2 if number % 4 == 3 else 1)
        faults = faults_of(folder, told)
        in_all += len(told)

        assert faults == [], f"after kill {number}"
    assert in_all > ROUNDS  # the writers did get to work


def test_orphans_are_named_and_do_no_harm(tmp_path: Path) -> None:
    """A part file of a writer killed while saving is no file, and no check stumbles over it."""
    with children_of(Child(work_until_killed, tmp_path / "shop", 1)) as (child,):
        child.listen(least=4)
        child.kill()
    part = tmp_path / "shop" / "files" / "ab" / ".part-x"
    part.parent.mkdir(parents=True, exist_ok=True)
    part.write_bytes(b"half a pho")

    assert faults_of(tmp_path / "shop", child.told) == []
