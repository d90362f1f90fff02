"""
Tampering: a workshop is changed behind its back in every way we know, and the check must see it.

``python -m tests.benchmarks.tamper --json``

Bits are flipped in bytes that are not zero. A change counts when it changes an answer: any row of
the record, or any byte of a kept file. What changes none is counted apart.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from salvage.errors import SalvageError
from salvage.store.projection import TABLES
from salvage.work.cards import print_card
from salvage.work.check import rebuild_tables, run_checks
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.workshop import DATABASE_NAME, Workshop, open_workshop
from tests.bench import make_shop
from tests.faces.step import photo_bytes
from tests.work.harms import rechain, sql, without_guards
from tests.work.snapshots import phone_jpeg
from tests.work.stock import Stock

RECORD = ("event", "private_field", *TABLES)
"""Tables whose rows are answers."""

Rows = dict[str, list[tuple[object, ...]]]


@dataclass
class Tally:
    """
    What became of the changes.

    Args:
        tried: Changes made.
        harmless: Those that changed no answer and that nothing noticed.
        noticed: Number noticed, by kind.
        missed: Those that changed an answer and that nothing noticed, in words.
    """

    tried: int = 0
    harmless: int = 0
    noticed: dict[str, int] = field(default_factory=dict)
    missed: list[str] = field(default_factory=list)


def make_template(folder: Path) -> None:
    """A workshop in which one of everything has happened, signed at its end and closed."""
    with make_shop(folder) as shop:
        stock = Stock(shop)
        add_photo(shop, code=stock.board, new=NewPhoto(phone_jpeg(), "front.jpg"))
        add_photo(shop, code=stock.board, new=NewPhoto(photo_bytes(), "slope.png"))
        print_card(shop, piece=stock.piece)
        sign_checkpoint(shop)


def answers(folder: Path) -> tuple[Rows, dict[str, bytes]]:
    """Every row of the record and every byte of the kept files."""
    with closing(sqlite3.connect(folder / DATABASE_NAME)) as conn:
        conn.text_factory = bytes  # a flipped bit may leave no UTF-8
        rows = {name: sorted(conn.execute(f"SELECT * FROM {name}"), key=repr) for name in RECORD}
    return rows, {path.name: path.read_bytes() for path in _kept(folder)}


def _kept(folder: Path) -> list[Path]:
    return sorted(path for path in (folder / "files").rglob("*") if path.is_file())


def _flip(path: Path, dice: random.Random) -> None:
    """Flip one bit of a byte that is not zero: most of a small database is pages not yet used."""
    data = bytearray(path.read_bytes())
    place = dice.choice([place for place, byte in enumerate(data) if byte])
    data[place] ^= 1 << dice.randrange(8)
    path.write_bytes(data)


def _flip_database(folder: Path, dice: random.Random) -> None:
    _flip(folder / DATABASE_NAME, dice)


def _flip_file(folder: Path, dice: random.Random) -> None:
    _flip(dice.choice(_kept(folder)), dice)


def _replace_file(folder: Path, dice: random.Random) -> None:
    one, other = dice.sample(_kept(folder), 2)
    one.write_bytes(other.read_bytes())


def _remove_file(folder: Path, dice: random.Random) -> None:
    dice.choice(_kept(folder)).unlink()


def _in_shop(
    change: Callable[[Workshop, random.Random], None],
) -> Callable[[Path, random.Random], None]:
    def tamper(folder: Path, dice: random.Random) -> None:
        with open_workshop(folder) as shop:
            change(shop, dice)

    return tamper


def _any_row(shop: Workshop, dice: random.Random) -> tuple[str, list[str], tuple[object, ...]]:
    filled = [
        name
        for name in RECORD[1:]
        if shop.conn.execute(f"SELECT count(*) FROM {name}").fetchone()[0]
    ]
    table = dice.choice(filled)
    rows = shop.conn.execute(f"SELECT * FROM {table}")
    columns = [name for name, *_ in rows.description]
    return table, columns, dice.choice(rows.fetchall())


def _edit_row(shop: Workshop, dice: random.Random) -> None:
    """One value of one row becomes another."""
    sql()(shop)
    while True:
        table, columns, row = _any_row(shop, dice)
        place = dice.randrange(len(columns))
        old = row[place]
        new = old + 1 if isinstance(old, int) else f"{str(old or '')[:-1]}~"
        same = " AND ".join(f"{name} IS ?" for name in columns)
        try:
            shop.conn.execute(f"UPDATE {table} SET {columns[place]} = ? WHERE {same}", (new, *row))
        except sqlite3.IntegrityError:  # a key that is taken, or of another type
            continue
        return


def _drop_row(shop: Workshop, dice: random.Random) -> None:
    sql()(shop)
    table, columns, row = _any_row(shop, dice)
    same = " AND ".join(f"{name} IS ?" for name in columns)
    shop.conn.execute(f"DELETE FROM {table} WHERE {same}", row)


def _two_events(shop: Workshop, dice: random.Random) -> tuple[int, int]:
    (count,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
    one, other = dice.sample(range(1, count + 1), 2)
    return one, other


def _swap_events(shop: Workshop, dice: random.Random) -> None:
    one, other = _two_events(shop, dice)
    without_guards(
        f"UPDATE event SET seq = -1 WHERE seq = {one}",
        f"UPDATE event SET seq = {one} WHERE seq = {other}",
        f"UPDATE event SET seq = {other} WHERE seq = -1",
    )(shop)


def _swap_bodies(shop: Workshop, dice: random.Random) -> None:
    one, other = _two_events(shop, dice)
    without_guards(
        f"CREATE TEMP TABLE b AS SELECT seq, body FROM event WHERE seq IN ({one}, {other})",
        f"UPDATE event SET body = (SELECT body FROM b WHERE seq = {other}) WHERE seq = {one}",
        f"UPDATE event SET body = (SELECT body FROM b WHERE seq = {one}) WHERE seq = {other}",
    )(shop)


def _edit_event(shop: Workshop, dice: random.Random) -> None:
    """One letter of one event becomes another, with the tables as they were."""
    seq, _ = _two_events(shop, dice)
    (body,) = shop.conn.execute("SELECT body FROM event WHERE seq = ?", (seq,)).fetchone()
    place = dice.randrange(len(body))
    letter = "x" if body[place] != "x" else "y"
    changed = (body[:place] + letter + body[place + 1 :]).replace("'", "''")
    without_guards(f"UPDATE event SET body = '{changed}' WHERE seq = {seq}")(shop)


def _cut_tail(shop: Workshop, dice: random.Random) -> None:
    """The newest events go, and the tables are made anew from what is left."""
    (count,) = shop.conn.execute("SELECT count(*) FROM event").fetchone()
    last = count - dice.randint(1, 12)
    without_guards(
        f"DELETE FROM event_item WHERE seq > {last}", f"DELETE FROM event WHERE seq > {last}"
    )(shop)
    rebuild_tables(shop)


def _recompute(shop: Workshop, dice: random.Random) -> None:
    """One event is forged, every hash is made to fit again, and the tables are made anew."""

    def change(bodies: list[dict[str, object]]) -> None:
        dice.choice(bodies)["by"] = "somebody else"

    rechain(shop, change)


KINDS: dict[str, Callable[[Path, random.Random], None]] = {
    "bit flipped in the database": _flip_database,
    "bit flipped in a photo or drawing": _flip_file,
    "photo or drawing replaced": _replace_file,
    "photo or drawing removed": _remove_file,
    "value of a row changed": _in_shop(_edit_row),
    "row removed": _in_shop(_drop_row),
    "two events swapped": _in_shop(_swap_events),
    "two events' texts swapped": _in_shop(_swap_bodies),
    "letter of an event changed": _in_shop(_edit_event),
    "tail cut off, tables made anew": _in_shop(_cut_tail),
    "all hashes worked out anew": _in_shop(_recompute),
}
"""Every way of tampering, by its words."""


def is_noticed(folder: Path) -> bool:
    """Whether opening or checking the workshop tells that something is wrong."""
    try:
        with open_workshop(folder, create=False) as shop:
            return not all(line.ok for line in run_checks(shop))
    except (SalvageError, sqlite3.Error):
        return True


def _has_changed(folder: Path, before: tuple[Rows, dict[str, bytes]]) -> bool:
    try:
        return answers(folder) != before
    except (sqlite3.Error, UnicodeDecodeError):  # an error's own words may hold the flipped byte
        return True


def tamper(folder: Path, *, count: int, seed: int) -> Tally:
    """
    Change fresh copies of one workshop in every way in turn.

    Args:
        folder: An empty folder to work in.
        count: Number of changes.
        seed: Of the dice.
    """
    dice = random.Random(seed)
    make_template(folder / "template")
    before = answers(folder / "template")
    tally = Tally()
    for number, kind in zip(range(count), _in_turn(), strict=False):
        copy = folder / "copy"
        shutil.copytree(folder / "template", copy)
        KINDS[kind](copy, dice)
        has_changed = _has_changed(copy, before)
        tally.tried += 1
        if is_noticed(copy):
            tally.noticed[kind] = tally.noticed.get(kind, 0) + 1
        elif has_changed:
            tally.missed.append(f"{number}: {kind}")
        else:
            tally.harmless += 1
        shutil.rmtree(copy)
    return tally


def _in_turn() -> Iterator[str]:
    while True:
        yield from KINDS


def main() -> None:
    """Print the tally."""
    parser = argparse.ArgumentParser(description="Tampering that the check must notice.")
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--count", type=int, default=1000, help="changes to try")
    parser.add_argument("--seed", type=int, default=20260504, help="of the dice")
    asked = parser.parse_args()
    start = time.process_time()
    with tempfile.TemporaryDirectory() as name:
        tally = tamper(Path(name), count=asked.count, seed=asked.seed)
    result = {
        "benchmark": "tamper",
        "tried": tally.tried,
        "changed an answer or noticed": tally.tried - tally.harmless,
        "noticed": sum(tally.noticed.values()),
        "missed": tally.missed,
        "harmless": tally.harmless,
        "noticed by kind": tally.noticed,
        "seconds": round(time.process_time() - start, 1),
    }
    print(json.dumps(result, indent=2) if asked.json else "\n".join(map(str, result.items())))


if __name__ == "__main__":
    main()
