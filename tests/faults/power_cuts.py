"""
The power goes at some moment of a workshop's life, again and again.

``python -m tests.faults.power_cuts --images 10000`` lives some lives on a disk that writes down all
that is done, rebuilds from each what the disk may hold at moments chosen by lot, and opens that as
its user would the next morning. It prints one JSON object; exit code 1 if anything is wrong.
"""

from __future__ import annotations

import argparse
import io
import json
import random
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from salvage.errors import SalvageError
from salvage.store.copies import read_copy
from salvage.store.files import FileStore
from salvage.store.journal import verify_chain
from salvage.work.copies import back_up, restore
from salvage.work.history import undo
from salvage.work.library import add_shape
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.setup import change_settings
from salvage.work.workshop import DATABASE_NAME, Workshop, open_workshop
from tests.bench import SteppingClock, add_cleared_board, add_drop_off, cut_circle, seeded_entropy
from tests.faults.disk import Disk, build, run_on_it
from tests.faults.errors import quick_folder
from tests.faults.power import Cut, Entry, Platter, read_log
from tests.faults.verdict import Beholder

LIVES = 24
"""Over how many recorded lives a long run is spread."""

Ends = set[int]


@dataclass(frozen=True)
class Promise:
    """
    What was acknowledged at some moment.

    Args:
        events: So many events of the workshop.
        copied: So many of them in the copy; below zero before there was one.
        restored: So many in the workshop restored from it; below zero before there was one.
    """

    events: int = -1
    copied: int = -1
    restored: int = -1

    def widened(self, words: bytes) -> Promise:
        """The promise after one more acknowledgement."""
        return Promise(**(vars(self) | json.loads(words)))


def live(folder: Path, disk: Disk, dice: random.Random, *, careless: bool = False) -> None:
    """
    A workshop begins, works, is closed and opened, copied and restored.

    Args:
        folder: Everything happens below it.
        disk: Writes it down, and what is acknowledged.
        dice: Decides what happens.
        careless: Do not wait for the disk, to see that such a thing is found.
    """
    clock, entropy = SteppingClock(), seeded_entropy(dice.randrange(1 << 30))

    def open_shop(place: Path) -> Workshop:
        return open_workshop(place, clock=clock, entropy=entropy, by="Maren")

    def told(shop: Workshop, name: str = "events") -> None:
        (count,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
        disk.mark(json.dumps({name: count}))

    shop = open_shop(folder / "shop")
    told(shop)
    for _ in range(dice.randint(3, 6)):
        if careless:
            shop.conn.execute("PRAGMA synchronous = OFF")
        if dice.random() < 0.5:  # the log is brought into the database every few pages
            shop.conn.execute(f"PRAGMA wal_autocheckpoint = {dice.choice((1, 10, 50))}")
        for deed in dice.sample(DEEDS, k=3):
            deed(shop, dice)
            told(shop)
        if dice.random() < 0.4:
            shop.close()
            shop = open_shop(folder / "shop")
        if dice.random() < 0.5:
            back_up(shop, folder=folder / "stick", keep=dice.choice((0, 1, 5)))
            told(shop, "copied")
    back_up(shop, folder=folder / "stick", keep=1)
    told(shop, "copied")
    shop.close()
    restore(folder / "stick", target=folder / "again", open_shop=open_shop)
    with open_shop(folder / "again") as again:
        told(again, "restored")


def _cut(shop: Workshop, dice: random.Random) -> None:
    cut_circle(shop, add_cleared_board(shop).code, 40, 40)
    undo(shop)


def _shape(shop: Workshop, dice: random.Random) -> None:
    width = dice.randint(9, 10_000_000)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        f'<desc>{width}</desc><polygon points="0,0 9,0 9,9"/></svg>'
    )
    add_shape(shop, name=f"kite-{width}", data=svg.encode(), file_name="k.svg")


def _noise(dice: random.Random) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.frombytes("L", (64, 64), dice.randbytes(64 * 64)).save(out, "PNG")
    return out.getvalue()


def _photo(shop: Workshop, dice: random.Random) -> None:
    board = add_cleared_board(shop).code
    add_photo(shop, code=board, new=NewPhoto(_noise(dice), "front.png"))


DEEDS: tuple[Callable[[Workshop, random.Random], object], ...] = (
    lambda shop, dice: add_drop_off(shop),
    lambda shop, dice: change_settings(shop, typed={"wall-mm": str(dice.randint(2, 9))}),
    _cut,
    _shape,
    _photo,
)


class Trial:
    """
    One life, and what the disk may hold at moments of it.

    Args:
        folder: Scratch; it is there and empty.
        disk: The disk that writes down.
        seed: Of the life and of the cuts.
        careless: As for :func:`live`.
    """

    def __init__(self, folder: Path, disk: Disk, seed: int, *, careless: bool = False) -> None:
        self._folder, self._beholder = folder, Beholder()
        self._dice = random.Random(seed)
        stage, log = folder / "stage", folder / "log"
        stage.mkdir()
        disk.record(stage, log)
        live(stage, disk, self._dice, careless=careless)
        disk.rest()
        self._root = str(stage)
        self._entries: list[Entry] = list(read_log(log))
        with open_workshop(stage / "shop", clock=SteppingClock()) as shop:
            rows = shop.conn.execute("SELECT operation, hash FROM event ORDER BY seq")
            self._events: tuple[tuple[str, str], ...] = tuple(rows)
        self._ends = {
            n
            for n, (operation, _) in enumerate(self._events, 1)
            if n == len(self._events) or self._events[n][0] != operation
        }

    @property
    def length(self) -> int:
        """How many operations were written down."""
        return len(self._entries)

    def images(self, count: int) -> Iterator[tuple[str, list[str]]]:
        """So many images: what was acknowledged then, and what is wrong."""
        moments = Counter(self._dice.choices(range(1, len(self._entries) + 1), k=count))
        platter, promise = Platter(self._root), Promise()
        for n, entry in enumerate(self._entries, 1):
            platter.do(entry)
            if entry.what == "A":
                promise = promise.widened(entry.data)
            for _ in range(moments[n]):
                with tempfile.TemporaryDirectory(dir=self._folder) as name:
                    place = Path(name)
                    platter.lay_out(Cut.by_lot(self._dice), place)
                    what = f"after {n} of {len(self._entries)}, {entry.what} {entry.first}"
                    yield what, list(self._faults(place, promise))

    def _faults(self, place: Path, promise: Promise) -> Iterator[str]:
        yield from self._copy_faults(place / "stick", promise.copied)
        found = self._beholder.look(place)
        yield from found.faults
        for name, least in (("shop", promise.events), ("again", promise.restored)):
            record = found.records.get(name)
            events = record.events if record else ()
            if len(events) < least:
                yield f"{name}: {least - len(events)} of {least} acknowledged events are lost"
            yield from (f"{name}: {fault}" for fault in self._odd(events))

    def _odd(self, events: tuple[tuple[str, str], ...]) -> Iterator[str]:
        if events != self._events[: len(events)]:
            yield "it holds events that were never written"
        elif events and len(events) not in self._ends:
            yield "an operation is there by half"

    def _copy_faults(self, folder: Path, least: int) -> Iterator[str]:
        path = folder / DATABASE_NAME
        if not path.exists():
            if least >= 0:
                yield "a copy that was told as made is gone"
            return
        try:
            with closing(sqlite3.connect(f"{path.as_uri()}?immutable=1", uri=True)) as conn:
                verify_chain(conn)
                for (verdict,) in conn.execute("PRAGMA integrity_check"):
                    if verdict != "ok":
                        yield f"the copy: {verdict}"
                events = tuple(conn.execute("SELECT operation, hash FROM event ORDER BY seq"))
                for (sha256,) in conn.execute("SELECT sha256 FROM file"):
                    FileStore(folder / "files").load(sha256)
            if least >= 0:
                read_copy(folder)
        except (SalvageError, sqlite3.Error) as error:
            yield f"the copy: {error}"
        else:
            if len(events) < least:
                yield f"the copy lacks {least - len(events)} of {least} acknowledged events"
            yield from (f"the copy: {fault}" for fault in self._odd(events))


def main(words: list[str]) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--images", type=int, default=300)
    parser.add_argument("--lives", type=int, default=LIVES)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--careless", action="store_true", help="do not wait for the disk")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args(words)
    with tempfile.TemporaryDirectory(dir=quick_folder()) as folder:
        if not asked.inside:
            library = build(Path(folder))
            ran = run_on_it(library, __spec__.name, [*words, "--inside"], listen=False)
            return ran.returncode
        told = cut_power(Path(folder), asked)
    sys.stdout.write(json.dumps(told, indent=1) + "\n")
    return 1 if told["wrong"] else 0


def cut_power(folder: Path, asked: argparse.Namespace) -> dict[str, Any]:
    """Live and cut, and give the sums, and the first of what is wrong."""
    disk, sums = Disk(), Counter[str]()
    faults: list[str] = []
    for life in range(asked.lives):
        place = folder / str(life)
        place.mkdir()
        trial = Trial(place, disk, asked.seed * 1000 + life, careless=asked.careless)
        sums["operations"] += trial.length
        share = asked.images // asked.lives + (life < asked.images % asked.lives)
        for where, found in trial.images(share):
            sums["images"] += 1
            sums["wrong"] += bool(found)
            sums["lost"] += any("lost" in fault or "gone" in fault for fault in found)
            faults += [f"life {life}, {where}: {fault}" for fault in found]
        shutil.rmtree(place)
    return {"lives": asked.lives, **sums, "faults": faults[:20]}


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
