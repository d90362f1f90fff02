"""Workshops that share a hub: the same letter and codes, other things behind them."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg

from salvage.geometry.outline import rectangle
from salvage.ids import Code
from salvage.work.checkpoints import sign_checkpoint
from salvage.work.pieces import sell, set_price, set_stage, take_back
from salvage.work.record import set_outline
from salvage.work.selling import SaleItem, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.slips import Discount
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import SteppingClock, add_board, add_cleared_board, cut_circle, seeded_entropy
from tests.benchmarks.trace_world import World, build
from tests.faces.scenario import STEPS
from tests.faces.step import Memory
from tests.work.pair import Pair
from tests.work.stall import CARD, DAY, make_pieces, open_stall

# Steps of the whole job that look at photos: they cost seconds and leave nothing for the hub.
_LONG = frozenset(
    {"measure_two_boards", "measure_board", "keep_back", "record_gone", "write_dossiers"}
)


def open_hub_shop(folder: Path, *, seed: int, device: str = "C") -> Workshop:
    """A workshop whose device has a letter that others have as well."""
    entropy = seeded_entropy(seed)
    return open_workshop(folder, clock=SteppingClock(), entropy=entropy, by="Maren", device=device)


def play_the_job(shop: Workshop) -> None:
    """Nearly every operation of the program once."""
    memory = Memory()
    for step in STEPS:
        if step.operation not in _LONG:
            made = step.python(shop, memory)
            if step.made:
                memory[step.made] = Code(str(made))


def fill(shop: Workshop, *, seed: int, boards: int, pieces: int) -> None:
    """A season: many pieces, articles of two donors, a stall, discounts, returns, gifts."""
    dice = random.Random(seed)
    build(shop, World(boards, pieces, seed), most_s=60)
    for serial in ("MC1", "MC12", "MC1"):
        told = f"photo on mat {serial}"
        set_outline(shop, board=add_board(shop).code, outline=rectangle(100, 60), outline_from=told)
    pair = Pair(shop)
    articles = [pair.assemble(), pair.assemble(pair.middle, pair.cut(pair.second, 80))]
    for article, paid in zip(articles, (1999, 3001), strict=True):
        set_stage(shop, pieces=[article], stage="ready")
        sell(shop, piece=article, price_minor=paid)
    take_back(shop, piece=articles[1], reason="clasp bent", refund_minor=1000)
    stall = make_pieces(shop, *(dice.randrange(500, 4000) for _ in range(8)))
    outing = open_stall(shop, stall[:6])
    terms = CARD.__class__(DAY, "card", outing=outing)
    sell_pieces(
        shop, items=[SaleItem(code) for code in stall[:3]], terms=terms, discount=Discount(350)
    )
    take_back(shop, piece=stall[0], reason="a gift twice")
    sell(shop, piece=stall[7], price_minor=777, venue="Quay Market")
    set_price(shop, pieces=[stall[6]], price_minor=dice.randrange(900, 2000))


@contextmanager
def two_workshops(folder: Path) -> Iterator[tuple[Workshop, Workshop]]:
    """Two full workshops with overlapping codes, each with a key."""
    with (
        open_hub_shop(folder / "tidewrack", seed=71) as first,
        open_hub_shop(folder / "saltmarsh", seed=72) as second,
    ):
        play_the_job(first)
        fill(first, seed=5, boards=12, pieces=60)
        change_settings(second, typed={"name": "Saltmarsh Benches"})
        fill(second, seed=6, boards=9, pieces=45)
        for shop in (first, second):
            sign_checkpoint(shop)
        yield first, second


ROWS = ("piece", "board", "donor", "drop_off", "cut", "projected")
"""Tables of the hub that are compared as a whole."""


def ask(address: str, query: str, *values: object) -> list[tuple[Any, ...]]:
    """The rows that the hub answers."""
    with psycopg.connect(address) as conn:
        return conn.execute(query.encode(), values).fetchall()


def make_piece(shop: Workshop) -> Code:
    """A piece of a new board."""
    piece = cut_circle(shop, add_cleared_board(shop).code, 30, 40).piece
    assert piece is not None
    return piece.code


def events_of(shop: Workshop) -> list[tuple[Any, ...]]:
    """The workshop's journal as the hub is to hold it."""
    return shop.conn.execute(
        "SELECT device, n, clock, id, kind, operation, at, body, prev, hash FROM event"
        " ORDER BY device, n"
    ).fetchall()


def at_hub(address: str, first: str) -> dict[str, list[tuple[Any, ...]]]:
    """All that the hub holds of the workshop of that first event, signatures left out."""
    query = "SELECT ws FROM salvage.workshop WHERE first_hash = %s"
    ((ws,),) = ask(address, query, first)
    found = {
        table: sorted(ask(address, f"SELECT * FROM salvage.{table} WHERE ws = %s", ws), key=repr)
        for table in ROWS
    }
    found["event"] = ask(
        address,
        "SELECT device, n, clock, id, kind, operation, at, body, prev, hash FROM salvage.event"
        " WHERE ws = %s ORDER BY device, n",
        ws,
    )
    return found


def first_of(shop: Workshop) -> str:
    """What tells the workshop from others."""
    (digest,) = shop.conn.execute("SELECT hash FROM event WHERE clock = 1").fetchone()
    return str(digest)
