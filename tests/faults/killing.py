"""
Kill what works on a workshop, at any moment, again and again, and look at what is left.

    python -m tests.faults.killing --kills 10000 --seed 7

Two writers do everything that a workshop does, by lot, while a third process makes one backup after
the other. By lot one, two or all of them are killed with SIGKILL: anywhere in their work, or just
as they commit. The others stand still while all is looked at, then go on; the dead ones are begun
anew. Nothing is repaired in between.
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
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from salvage.errors import SalvageError, StoreTrouble
from salvage.work.copies import back_up
from salvage.work.workshop import open_workshop
from tests.faults.deeds import BENCH
from tests.faults.deeds_selling import SELLING
from tests.faults.forks import Forked, Tell, end_all
from tests.faults.left import Left, can_be_read
from tests.faults.telling import TellingWorkshop

DEEDS = {**BENCH, **SELLING}

KILLS_PER_WORKSHOP = 16
"""A workshop lives through so many kills: recovery after recovery, and small enough to check."""


_LONGEST_S = {"anywhere": 0.12, "commit": 0.002, "start": 0.01}


def play(folder: Path, seed: int, tell: Tell, *, turns: int | None = None) -> None:
    """
    Do one deed after the other, without end or so many.

    Args:
        folder: The workshop's.
        seed: Of the lot.
        tell: Told each operation, and how each deed ended.
        turns: How many; None for no end.
    """
    dice = random.Random(seed)
    names, weights = list(DEEDS), [weight for weight, _ in DEEDS.values()]
    with open_workshop(folder, by=f"writer {seed}") as opened:
        tell("opened")
        shop = TellingWorkshop(opened, tell)
        while turns is None or turns > 0:
            turns = None if turns is None else turns - 1
            name = dice.choices(names, weights)[0]
            try:
                DEEDS[name][1](shop, dice)
            except StoreTrouble as error:
                tell("trouble", name, *str(error).split())
            except SalvageError:
                tell("refused", name.replace(" ", "_"))
            else:
                tell("deed", name.replace(" ", "_"))


def copy_on(folder: Path, stick: Path, seed: int, tell: Tell) -> None:
    """Make one backup after the other without end, telling each once it is made."""
    dice = random.Random(seed)
    with open_workshop(folder, by="copier") as shop:
        tell("opened")
        while True:
            head = back_up(shop, folder=stick, keep=2, progress=lambda words: tell("about"))
            tell("copied", head.events, *head.heads)
            time.sleep(dice.uniform(0, 0.03))


@dataclass
class Tally:
    """What was done in all, and every fault that was found."""

    kills: Counter[str] = field(default_factory=Counter)
    moments: Counter[str] = field(default_factory=Counter)
    at_once: Counter[int] = field(default_factory=Counter)
    deeds: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    operations: int = 0
    copies: int = 0
    restored: int = 0
    workshops: int = 0
    faults: list[str] = field(default_factory=list)

    @property
    def killed(self) -> int:
        """Processes that were killed."""
        return sum(self.kills.values())


class Scene:
    """
    One workshop with two writers and a copier on it.

    Args:
        place: An empty folder.
        dice: The lot.
        tally: Where all is counted.
        template: A workshop to begin with; None to begin with nothing.
    """

    def __init__(
        self, place: Path, dice: random.Random, tally: Tally, *, template: Path | None
    ) -> None:
        self.shop, self.stick = place / "shop", place / "stick"
        if template:
            shutil.copytree(template, self.shop)
        self._dice, self._tally = dice, tally
        self._left = Left(self.shop, self.stick)
        self._alive: dict[str, Forked] = {}
        self._work: dict[str, Callable[[int, Tell], None]] = {
            "writer 1": lambda seed, tell: play(self.shop, seed, tell),
            "writer 2": lambda seed, tell: play(self.shop, seed, tell),
            "copier": lambda seed, tell: copy_on(self.shop, self.stick, seed, tell),
        }

    def begin(self) -> None:
        """Begin whoever is not at work."""
        for name, work in self._work.items():
            if name not in self._alive:
                seed = self._dice.randrange(10**9)
                self._alive[name] = Forked(lambda tell, s=seed, w=work: w(s, tell))  # type: ignore[misc]

    def kill_some(self, *, everyone: bool = False) -> list[str]:
        """Kill one, two or all at moments of their own; the others stand still afterwards."""
        number = 3 if everyone else self._dice.choices((1, 2, 3), (5, 2, 3))[0]
        victims = self._dice.sample(list(self._alive), number)
        for name in victims:
            child = self._alive.pop(name)
            self._tally.moments[self._await_moment(child)] += 1
            child.kill()
            self._tally.kills[name] += 1
            self._hear(name, child)
        self._tally.at_once[number] += 1
        self._stand_still()
        return victims

    def _stand_still(self) -> None:
        """Stop whoever is at work, but nobody in the blink in which not even a reader gets in."""
        for _ in range(200):
            for name, child in self._alive.items():
                child.stop()
                self._hear(name, child)
            if not self._alive or can_be_read(self.shop):
                return
            for child in self._alive.values():
                child.go_on()
            time.sleep(0.005)
        self._tally.faults.append("nobody can read what a killed process left behind")

    def _await_moment(self, child: Forked) -> str:
        """Wait until the lot's moment; gives what kind it was."""
        kind = self._dice.choices(("anywhere", "commit", "start"), (3, 4, 1))[0]
        if kind == "commit" and not child.wait_for("about", seconds=0.3):
            kind = "anywhere"
        time.sleep(self._dice.uniform(0, _LONGEST_S[kind]))
        return kind

    def _hear(self, name: str, child: Forked) -> None:
        lines, child.told = child.told, []
        if child.code not in (None, -9):
            self._tally.faults.append(f"{name} ended by itself with {child.code}")
        for word, *rest in lines:
            if word in ("deed", "refused"):
                (self._tally.deeds if word == "deed" else self._tally.refused)[rest[0]] += 1
            elif word == "trouble":
                self._tally.faults.append(f"{name}: {' '.join(rest)}")
            elif word != "opened":
                self._left.hear(word, rest)
                self._tally.operations += word == "done"
                self._tally.copies += word == "copied"

    def look(self, *, copier_died: bool) -> list[str]:
        """Every fault that is left, with whoever still lives standing still."""
        faults = self._left.faults()
        if copier_died:
            faults += self._left.faults_of_copies(older=not self._alive)
        self._tally.restored += self._left.restored
        self._left.restored = 0
        for child in self._alive.values():
            child.go_on()
        return faults

    def end(self) -> None:
        """Let nobody outlive the scene."""
        end_all(list(self._alive.values()))


def kill_on(kills: int, seed: int, place: Path, *, until: float | None = None) -> Tally:
    """
    Kill so many processes, and look after each time.

    Args:
        kills: How many at least.
        seed: Of everything that goes by lot.
        place: An empty folder.
        until: Moment of the wall clock at which to stop early.
    """
    dice, tally = random.Random(seed), Tally()
    template = place / "template"
    play(template, seed, lambda *words: None, turns=120)
    while tally.killed < kills and not (until and time.time() > until):
        tally.workshops += 1
        folder = place / f"scene-{tally.workshops}"
        folder.mkdir()
        scene = Scene(folder, dice, tally, template=template if dice.random() < 0.7 else None)
        before, faults_before = tally.killed, len(tally.faults)
        try:
            while tally.killed - before < KILLS_PER_WORKSHOP:
                scene.begin()
                last = tally.killed - before >= KILLS_PER_WORKSHOP - 3
                victims = scene.kill_some(everyone=last)
                found = scene.look(copier_died="copier" in victims)
                for fault in found:
                    tally.faults.append(f"{folder.name}, {', '.join(victims)}: {fault}")
                    sys.stderr.write(f"{tally.faults[-1]}\n")
        finally:
            scene.end()
        if len(tally.faults) == faults_before:
            shutil.rmtree(folder)
    return tally


def told(tally: Tally, begun: float) -> dict[str, object]:
    """Everything that was counted, for people and programs."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return {
        "kills": tally.killed,
        "killed": dict(tally.kills),
        "moments": dict(tally.moments),
        "at_once": dict(tally.at_once),
        "workshops": tally.workshops,
        "operations_told": tally.operations,
        "backups_told": tally.copies,
        "backups_restored": tally.restored,
        "deeds": dict(sorted(tally.deeds.items())),
        "refused": sum(tally.refused.values()),
        "faults": tally.faults,
        "cpu_s": round(sum(one.ru_utime + one.ru_stime for one in used), 1),
        "wall_s": round(time.time() - begun, 1),
    }


def main(words: Sequence[str]) -> int:
    """The command line; 1 where a fault was found, and the folder is left to be looked at."""
    parser = argparse.ArgumentParser(description="Kill writers and backups, and look.")
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--place", type=Path, default=None)
    parser.add_argument("--minutes", type=float, default=None, help="stop early after so long")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    begun = time.time()
    until = begun + 60 * asked.minutes if asked.minutes else None
    place = Path(tempfile.mkdtemp(prefix="kills-", dir=asked.place))
    tally = kill_on(asked.kills, asked.seed, place, until=until)
    found = told(tally, begun)
    if asked.json:
        sys.stdout.write(json.dumps(found) + "\n")
    else:
        for name, value in found.items():
            sys.stdout.write(f"{name}: {value}\n")
    if not tally.faults:
        shutil.rmtree(place)
    return int(bool(tally.faults))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
