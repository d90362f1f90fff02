"""Some devices of one workshop, for tests."""

from __future__ import annotations

import random
from contextlib import ExitStack
from itertools import permutations
from pathlib import Path

from salvage.errors import BadValue, NoRoom, Refused
from salvage.ids import Code
from salvage.store.projection import filled_tables
from salvage.work.cutting import NewCut, record_cut, reserve
from salvage.work.devices import add_device, begin_device, merge_bundle, write_for_others
from salvage.work.history import undo
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell, set_price, take_back
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at, make_shop
from tests.faces.step import photo_bytes
from tests.work.stock import last_operation


class Fleet:
    """Some devices of one workshop, the first of which began it, with one board of a kind."""

    def __init__(
        self, folder: Path, stack: ExitStack, *, count: int, kind: str = "expansion-card"
    ) -> None:
        first = stack.enter_context(make_shop(folder / "first", seed=1))
        self.board = add_cleared_board(first, kind=kind)
        self.shops = [first]
        for number in range(1, count):
            bundle = add_device(first, name=f"tablet {number}").data
            self.shops.append(stack.enter_context(self._begin(first, folder, number, bundle)))
        self.exchange_all()

    @staticmethod
    def _begin(first: Workshop, folder: Path, number: int, bundle: bytes) -> Workshop:
        place = folder / f"tablet {number}"
        begin_device(
            place,
            data=bundle,
            name="tablet.zip",
            open_shop=lambda at, conn: Workshop(at, conn, clock=first.clock, by="Ilva"),
        )
        return make_shop(place, seed=number + 1)

    def hand(self, giver: Workshop, taker: Workshop, *, everything: bool = False) -> int:
        """Hand a bundle over; gives the number of events that it brought."""
        data = write_for_others(giver, everything=everything).data
        return merge_bundle(taker, data=data, name="bundle.zip").events

    def exchange_all(self) -> None:
        """Hand everything round until nobody learns anything new."""
        for _ in range(10):
            pairs = list(permutations(self.shops, 2))
            if not sum(self.hand(giver, taker) for giver, taker in pairs):
                return
        raise AssertionError("the devices never come to rest")

    def records(self) -> list[dict[str, list[tuple[object, ...]]]]:
        """What each device has on record, its own counting of rows and letters left out."""
        return [record_of_shop(shop) for shop in self.shops]


def record_of_shop(shop: Workshop) -> dict[str, list[tuple[object, ...]]]:
    """All that a device has on record in tables with rows, but for its own counting of rows."""
    rows: dict[str, list[tuple[object, ...]]] = {
        table: sorted(shop.conn.execute(f"SELECT * FROM {table}"), key=repr)
        for table in filled_tables(shop.conn)
        if table != "event_item"
    }
    rows["event"] = sorted(shop.conn.execute("SELECT id, body, hash FROM event"))
    rows["sealed"] = sorted(shop.conn.execute("SELECT * FROM private_field"))
    rows["event_item"] = sorted(
        shop.conn.execute("SELECT code, event.id, made FROM event_item JOIN event USING (seq)")
    )
    return rows


def do_something(shop: Workshop, chance: random.Random) -> None:
    """One act of the job, as far as the record allows it."""
    boards = [code for (code,) in shop.conn.execute("SELECT code FROM board ORDER BY code")]
    pieces = [code for (code,) in shop.conn.execute("SELECT code FROM piece ORDER BY code")]
    acts = ["cut", "cut", "reserve", "price", "sell", "return", "undo", "photo", "board"]
    spot = circle_at(shop, chance.randrange(16, 104), chance.randrange(16, 64))
    try:
        match chance.choice(acts):
            case "cut" if boards:
                record_cut(shop, new=NewCut(Code(chance.choice(boards)), spot))
            case "reserve" if boards:
                reserve(shop, board=Code(chance.choice(boards)), spot=spot, for_whom="order 9")
            case "price" if pieces:
                codes = (Code(chance.choice(pieces)),)
                set_price(shop, pieces=codes, price_minor=chance.randrange(100, 9000))
            case "sell" if pieces:
                sell(shop, piece=Code(chance.choice(pieces)), price_minor=1200)
            case "return" if pieces:
                take_back(shop, piece=Code(chance.choice(pieces)), reason="changed mind")
            case "undo":
                undo(shop, operation=last_operation(shop))
            case "photo" if boards:
                photo = NewPhoto(photo_bytes(), "front.png", "front")
                add_photo(shop, code=Code(chance.choice(boards)), new=photo)
            case "board":
                add_cleared_board(shop)
    except (Refused, NoRoom, BadValue):
        pass  # the record does not allow it, which is as good an act as any
