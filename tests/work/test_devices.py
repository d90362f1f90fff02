"""Two devices and three: whatever was done apart, all come to one record, and clashes are told."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from salvage.errors import BadFile, BadValue, NoRoom, Refused, SalvageError
from salvage.ids import LETTERS, Code
from salvage.store.journal import read_events, verify_chain
from salvage.store.lookup import load_board, load_piece
from salvage.work.check import run_checks
from salvage.work.clashes import list_clashes, settle_clash
from salvage.work.cutting import NewCut, record_cut, release, reserve
from salvage.work.devices import (
    add_device,
    begin_device,
    list_devices,
    merge_bundle,
    write_for_others,
)
from salvage.work.history import undo
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell, set_price, take_back
from salvage.work.recall import open_recall
from salvage.work.record import NewKeepOut, add_keep_outs
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, circle_at, cut_circle, make_shop
from tests.faces.step import photo_bytes
from tests.work.stock import last_operation


class Fleet:
    """Some devices of one workshop, the first of which began it."""

    def __init__(self, folder: Path, stack: ExitStack, *, count: int) -> None:
        first = stack.enter_context(make_shop(folder / "first", seed=1))
        self.board = add_cleared_board(first)
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
        return [_record(shop) for shop in self.shops]


def _record(shop: Workshop) -> dict[str, list[tuple[object, ...]]]:
    from salvage.store.projection import TABLES

    rows: dict[str, list[tuple[object, ...]]] = {
        table: sorted(shop.conn.execute(f"SELECT * FROM {table}"), key=repr)
        for table in TABLES
        if table != "event_item"
    }
    rows["event"] = sorted(shop.conn.execute("SELECT id, body, hash FROM event"))
    rows["sealed"] = sorted(shop.conn.execute("SELECT * FROM private_field"))
    rows["event_item"] = sorted(
        shop.conn.execute("SELECT code, event.id, made FROM event_item JOIN event USING (seq)")
    )
    return rows


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Closes every workshop that a test opens."""
    with ExitStack() as opened:
        yield opened


@pytest.fixture
def two(tmp_path: Path, stack: ExitStack) -> Fleet:
    """A laptop and a tablet with one cleared board on record."""
    return Fleet(tmp_path, stack, count=2)


def test_a_tablet_begins_with_the_whole_record(two: Fleet) -> None:
    """Boards, donors' names and photos are there, and its codes bear a letter of its own."""
    laptop, tablet = two.shops
    letters = [view.device.letter for view in list_devices(tablet)]
    drop_off = add_drop_off(tablet)

    assert letters[1] == tablet.settings.device != laptop.settings.device == letters[0]
    assert drop_off[1] == tablet.settings.device
    assert two.records()[0]["board"] == two.records()[1]["board"]
    assert all(line.ok for line in run_checks(tablet))


def test_what_was_done_apart_comes_together(two: Fleet) -> None:
    """Cuts, photos and keep-outs of both are on both, and so is the area that is left."""
    laptop, tablet = two.shops
    code = two.board.code
    cut_circle(laptop, code, 30, 40)
    cut_circle(tablet, code, 95, 40)
    for shop in two.shops:
        add_photo(shop, code=code, new=NewPhoto(photo_bytes(), "front.png", "front"))
        keep = NewKeepOut(circle_at(shop, 62, 70, width_mm=9).region(), "connector")
        add_keep_outs(shop, board=code, keep_outs=[keep])
    two.exchange_all()
    first, second = two.records()

    assert first == second
    assert load_board(tablet.conn, code).cut_count == 2
    assert len(first["photo"]) == 2
    assert len(first["keep_out"]) == 2
    assert list_clashes(tablet) == ()
    assert all(line.ok for shop in two.shops for line in run_checks(shop))


def test_taking_in_twice_changes_nothing(two: Fleet) -> None:
    """A bundle that is taken in again brings no event and alters no row."""
    laptop, tablet = two.shops
    cut_circle(tablet, two.board.code, 30, 40)
    bundle = write_for_others(tablet, everything=True).data
    merge_bundle(laptop, data=bundle, name="a.zip")
    before = _record(laptop)
    again = merge_bundle(laptop, data=bundle, name="a.zip")

    assert (again.events, again.files) == (0, 0)
    assert _record(laptop) == before


def test_only_what_the_other_lacks_is_handed_over(two: Fleet) -> None:
    """After an exchange a bundle holds the new events alone."""
    laptop, tablet = two.shops
    add_drop_off(tablet)
    handed = write_for_others(tablet)

    assert handed.events == 2  # a donor and a drop-off
    assert two.hand(tablet, laptop) == 2


def test_a_piece_sold_twice_is_told_and_paid_back(two: Fleet) -> None:
    """No sale is dropped: both stand until a buyer has got the money back."""
    laptop, tablet = two.shops
    piece = cut_circle(laptop, two.board.code, 40, 40).piece
    assert piece is not None
    set_price(laptop, pieces=(piece.code,), price_minor=2400)
    two.exchange_all()
    for shop in two.shops:
        sell(shop, piece=piece.code, venue=f"stall of {shop.settings.device}")
    two.exchange_all()
    (clash,) = list_clashes(laptop)
    take_back(tablet, piece=piece.code, reason="sold twice, money given back")
    two.exchange_all()

    assert clash.codes == (piece.code,)
    assert "sold twice" in clash.words
    assert f"stall of {tablet.settings.device}" in clash.words
    assert list_clashes(laptop) == list_clashes(tablet) == ()
    assert load_piece(laptop.conn, piece.code).stage == "sold"
    assert two.records()[0] == two.records()[1]


def test_a_place_cut_on_both_devices_is_told_and_settled(two: Fleet) -> None:
    """Somebody looks at the board and says what is so; the record keeps both and the answer."""
    laptop, tablet = two.shops
    cut_circle(laptop, two.board.code, 40, 40)
    cut_circle(tablet, two.board.code, 45, 40)
    two.exchange_all()
    (clash,) = list_clashes(tablet)
    settled = settle_clash(laptop, clash=clash.name.lower(), how="at another board")
    two.exchange_all()

    assert f"{two.board.code} was cut in the same place on two devices" in clash.words
    assert settled.settled == "at another board"
    assert list_clashes(tablet) == (settled,)
    assert two.records()[0] == two.records()[1]


def test_a_held_place_cut_elsewhere_is_told(two: Fleet) -> None:
    """The place is let go, and the clash is gone."""
    laptop, tablet = two.shops
    spot = circle_at(laptop, 40, 40)
    held = reserve(laptop, board=two.board.code, spot=spot, for_whom="order 9")
    cut_circle(tablet, two.board.code, 40, 40)
    two.exchange_all()
    (clash,) = list_clashes(tablet)
    release(tablet, reservation=held.code, reason="cut elsewhere")
    two.exchange_all()

    assert "held for order 9" in clash.words
    assert clash.mend == f"salvage release {held.code}"
    assert list_clashes(laptop) == ()


def test_work_on_what_was_taken_back_elsewhere_is_told(two: Fleet) -> None:
    """A cut on a board whose record was undone on the other device is not lost from sight."""
    laptop, tablet = two.shops
    board = add_cleared_board(laptop)
    two.exchange_all()
    cut_circle(tablet, board.code, 40, 40)
    for _ in range(2):  # the clearing, then the record
        undo(laptop, operation=last_operation_about(laptop, board.code))
    two.exchange_all()
    clashes = list_clashes(laptop)

    assert clashes == list_clashes(tablet)
    assert any("which another device has taken back" in clash.words for clash in clashes)
    assert two.records()[0] == two.records()[1]


def last_operation_about(shop: Workshop, code: Code) -> str:
    """The newest operation on a thing that still counts."""
    gone = {row[0] for row in shop.conn.execute("SELECT event_id FROM undone")}
    found = [
        event.operation
        for event in read_events(shop.conn)
        if code in event.about and event.id not in gone and event.kind != "correction.undone"
    ]
    return found[-1]


def test_a_recall_reaches_what_was_made_meanwhile(two: Fleet) -> None:
    """A piece cut at the fair from a board that was recalled at home is called back too."""
    laptop, tablet = two.shops
    open_recall(laptop, subject=two.board.code, reason="mercury switch found")
    piece = cut_circle(tablet, two.board.code, 40, 40).piece
    assert piece is not None
    two.exchange_all()

    for shop in two.shops:
        assert load_piece(shop.conn, piece.code).recalled == 1
        with pytest.raises(Refused, match="recalled"):
            sell(shop, piece=piece.code, price_minor=100)


def test_any_order_of_exchange_comes_to_one_record(tmp_path: Path) -> None:
    """Three devices work and meet as chance will have it; in the end all have the same record."""
    for seed in range(3):
        with ExitStack() as stack:
            fleet = Fleet(tmp_path / str(seed), stack, count=3)
            chance = random.Random(seed)
            for _ in range(25):
                shop, other = chance.sample(fleet.shops, 2)
                if chance.random() < 0.25:
                    fleet.hand(shop, other)
                else:
                    _do_something(shop, chance)
            fleet.exchange_all()
            records = fleet.records()

            assert records[0] == records[1] == records[2]
            for one in fleet.shops:
                assert len(verify_chain(one.conn)) >= 2
                red = {line.name for line in run_checks(one) if not line.ok}

                assert red <= {"devices do not stand against one another"}
                assert bool(red) == any(not clash.settled for clash in list_clashes(one))


def _do_something(shop: Workshop, chance: random.Random) -> None:
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


@pytest.mark.parametrize(
    ("harm", "says"),
    [
        (lambda data: b"no zip at all", "no zip file"),
        (lambda data: data[: len(data) // 2], "no zip file"),
    ],
)
def test_a_damaged_bundle_is_refused_whole(two: Fleet, harm: object, says: str) -> None:
    """Nothing of it is taken, and the line says what to do."""
    laptop, tablet = two.shops
    add_drop_off(tablet)
    data = write_for_others(tablet).data
    before = _record(laptop)
    assert callable(harm)

    with pytest.raises(BadFile, match=says):
        merge_bundle(laptop, data=harm(data), name="b.zip")

    assert _record(laptop) == before


def test_a_byte_changed_on_the_way_never_does_harm(two: Fleet) -> None:
    """Wherever it lies, the bundle is refused in one line or means what it meant."""
    laptop, tablet = two.shops
    add_drop_off(tablet)
    data = write_for_others(tablet).data
    refused = 0
    for place in range(0, len(data), 7):
        wrong = data[:place] + bytes([data[place] ^ 0x41]) + data[place + 1 :]
        try:
            merged = merge_bundle(laptop, data=wrong, name="b.zip", dry_run=True)
        except SalvageError:
            refused += 1
        else:
            assert merged.events == 2

    assert refused > len(data) / 7 / 2


def test_forged_events_are_refused(two: Fleet) -> None:
    """An event that was altered on the way, hash and all, does not fit the chain after it."""
    from salvage.store.exchange import Bundle, Line, write_bundle
    from salvage.store.journal import link

    laptop, tablet = two.shops
    add_drop_off(tablet)
    bundle = Bundle(write_for_others(tablet, everything=True).data, name="b.zip")
    lines = list(bundle.lines())
    altered = lines[-1].body.replace("2026", "2025")
    forged = [*lines[:-1], replace(lines[-1], body=altered)]
    rehashed = [*lines[:-1], Line(altered, link("0" * 64, altered.encode()))]
    before = _record(laptop)

    for wrong in (forged, rehashed):
        data = write_bundle(bundle.head, wrong, [], [])
        with pytest.raises(SalvageError, match="hash does not fit"):
            merge_bundle(laptop, data=data, name="b.zip")

        assert _record(laptop) == before


def test_a_gap_in_the_events_is_told(two: Fleet) -> None:
    """A bundle that begins later than what is known asks for everything."""
    from salvage.store.exchange import Bundle, write_bundle

    laptop, tablet = two.shops
    add_drop_off(tablet)
    bundle = Bundle(write_for_others(tablet).data, name="b.zip")
    data = write_bundle(bundle.head, list(bundle.lines())[1:], [], [])

    with pytest.raises(BadFile, match=r"begins at event .*--all"):
        merge_bundle(laptop, data=data, name="b.zip")


def test_a_copied_workshop_is_found_out(two: Fleet, tmp_path: Path, stack: ExitStack) -> None:
    """Two computers that work on with one letter write two histories; that is refused."""
    import shutil

    laptop, tablet = two.shops
    shutil.copytree(tablet.folder, tmp_path / "copy")
    copy = stack.enter_context(make_shop(tmp_path / "copy", seed=77))
    for shop in (tablet, copy):
        add_drop_off(shop)
    two.hand(tablet, laptop)

    with pytest.raises(Refused, match="wrote two histories"):
        two.hand(copy, laptop)


def test_another_workshops_bundle_is_refused(two: Fleet, tmp_path: Path, stack: ExitStack) -> None:
    """A stranger's record is not mixed into ours."""
    stranger = stack.enter_context(make_shop(tmp_path / "stranger", seed=5))
    add_drop_off(stranger)

    with pytest.raises((Refused, BadFile), match=r"another workshop|two histories|begins at event"):
        two.hand(stranger, two.shops[0], everything=True)


def test_a_bundle_begins_one_device_in_an_empty_folder(two: Fleet, tmp_path: Path) -> None:
    """An ordinary bundle begins nothing, and a folder with a workshop is left alone."""
    laptop = two.shops[0]

    def open_shop(folder: Path, conn: object) -> Workshop:
        raise AssertionError("nothing may be opened")

    data = write_for_others(laptop, everything=True).data
    with pytest.raises(BadFile, match="not a bundle to begin with"):
        begin_device(tmp_path / "x", data=data, name="b.zip", open_shop=open_shop)
    data = add_device(laptop, name="phone").data
    with pytest.raises(Refused, match="is a workshop in"):
        begin_device(laptop.folder, data=data, name="b.zip", open_shop=open_shop)
    with pytest.raises(BadValue, match="a device has a name"):
        add_device(laptop, name="  ")


def test_there_are_as_many_devices_as_letters(tmp_path: Path, stack: ExitStack) -> None:
    """Sixteen letters, sixteen devices; the next is refused, and none is used twice."""
    shop = stack.enter_context(make_shop(tmp_path / "shop"))
    for number in range(len(LETTERS) - 1):
        add_device(shop, name=f"device {number}")
    with pytest.raises(Refused, match="all 16 letters"):
        add_device(shop, name="one more")

    assert len({view.device.letter for view in list_devices(shop)}) == len(LETTERS)
