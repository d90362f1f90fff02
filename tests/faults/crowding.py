"""
Many processes that write to one workshop at the same moment, each as fast as it can.

    python -m tests.faults.crowding --processes 8 --writes 1000
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from salvage.errors import SalvageError, StoreTrouble
from salvage.work.check import run_checks
from salvage.work.workshop import open_workshop
from tests.faults.deeds import BENCH
from tests.faults.deeds_selling import SELLING
from tests.faults.forks import Forked, Tell, end_all, hear_all
from tests.faults.killing import play
from tests.faults.left import Left
from tests.faults.telling import TellingWorkshop

# None of these is dear by itself, so that what is tried is the waiting for one another.
_LIGHT = (
    ("log drop-off", 3),
    ("move board", 3),
    ("correct board", 2),
    ("search for data", 1),
    ("settle data part", 1),
    ("name place", 1),
    ("change settings", 1),
    ("weigh board", 2),
    ("finish", 2),
    ("price", 4),
    ("sell", 2),
    ("sell several", 1),
    ("take back", 4),
    ("note time", 2),
    ("take order", 1),
    ("set aside", 1),
    ("free", 1),
    ("add batch", 1),
    ("log hours", 1),
    ("put in container", 2),
    ("set naming", 1),
)


@dataclass
class Crowd:
    """
    What a crowd did.

    Args:
        operations: How many each process told as done.
        refused: Deeds that the record did not allow when their turn came.
        troubles: What was told to the user as the store's trouble, such as a lock.
        codes: Codes that were given.
        twice: Codes that were given twice.
        longest_s: The longest that anybody waited for one deed.
        faults: What is not as it must be afterwards.
    """

    operations: list[int] = field(default_factory=list)
    refused: int = 0
    troubles: list[str] = field(default_factory=list)
    codes: int = 0
    twice: list[str] = field(default_factory=list)
    longest_s: float = 0.0
    faults: list[str] = field(default_factory=list)


def write_on(folder: Path, seed: int, writes: int, tell: Tell) -> None:
    """Do light deeds until so many operations are committed."""
    dice, deeds = random.Random(seed), {**BENCH, **SELLING}
    names, weights = zip(*_LIGHT, strict=True)
    done = 0

    def count(*words: object) -> None:
        nonlocal done
        done += words[0] == "done"
        tell(*words)

    with open_workshop(folder, by=f"writer {seed}") as opened:
        shop = TellingWorkshop(opened, count)
        longest_s = 0.0
        while done < writes:
            name = dice.choices(names, weights)[0]
            begun = time.monotonic()
            try:
                deeds[name][1](shop, dice)
            except StoreTrouble as error:
                tell("trouble", name, error)
            except SalvageError:
                tell("refused", name)
            longest_s = max(longest_s, time.monotonic() - begun)
        tell("longest", longest_s)


def crowd(place: Path, *, processes: int, writes: int, seed: int) -> Crowd:
    """
    Let so many processes write at once, and look at what is left.

    Args:
        place: An empty folder.
        processes: How many.
        writes: How many operations each commits.
        seed: Of what they do.
    """
    shop = place / "shop"
    play(shop, seed, lambda *words: None, turns=120)
    left, found = Left(shop, place / "stick"), Crowd()
    works = [
        lambda tell, n=number: write_on(shop, seed + 1 + n, writes, tell)
        for number in range(processes)
    ]
    children = [Forked(work) for work in works]
    try:
        hear_all(children)
    finally:
        end_all(children)
    codes: Counter[str] = Counter()
    for child in children:
        if child.code:
            found.faults.append(f"a writer ended with {child.code}")
        for word, *rest in child.told:
            left.hear(word, rest)
            found.refused += word == "refused"
            if word == "trouble":
                found.troubles.append(" ".join(rest))
            elif word == "longest":
                found.longest_s = max(found.longest_s, float(rest[0]))
            elif word == "done":
                codes.update(rest[1:])
        found.operations.append(sum(line[0] == "done" for line in child.told))
    found.codes = codes.total()
    found.twice = [code for code, times in codes.items() if times > 1]
    found.faults += left.faults()
    with open_workshop(shop) as opened:
        found.faults += [f"{line.name}: red" for line in run_checks(opened) if not line.ok]
    return found


def main(words: Sequence[str]) -> int:
    """The command line; 1 where something was lost, locked or wrong."""
    parser = argparse.ArgumentParser(description="Many writers at once.")
    parser.add_argument("--processes", type=int, default=8)
    parser.add_argument("--writes", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--place", type=Path, default=None)
    asked = parser.parse_args(words)
    begun = time.time()
    place = Path(tempfile.mkdtemp(prefix="crowd-", dir=asked.place))
    found = crowd(place, processes=asked.processes, writes=asked.writes, seed=asked.seed)
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    cpu_s = sum(one.ru_utime + one.ru_stime for one in used)
    told = {**vars(found), "cpu_s": round(cpu_s, 1), "wall_s": round(time.time() - begun, 1)}
    sys.stdout.write(json.dumps(told) + "\n")
    shutil.rmtree(place)
    return int(bool(found.troubles or found.twice or found.faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
