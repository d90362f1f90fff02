"""Two devices and three: whatever was done apart, all come to one record, and clashes are told."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.journal import read_events, verify_chain
from salvage.store.lookup import load_board, load_piece
from salvage.work.check import run_checks
from salvage.work.clashes import list_clashes, settle_clash
from salvage.work.cutting import release, reserve
from salvage.work.devices import (
    list_devices,
    merge_bundle,
    write_for_others,
)
from salvage.work.history import short_id, undo
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import sell, set_price, set_stage, take_back
from salvage.work.recall import open_recall
from salvage.work.record import NewKeepOut, add_keep_outs
from salvage.work.trace import where_now
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, add_drop_off, circle_at, cut_circle
from tests.faces.step import photo_bytes
from tests.work.fleet import Fleet, do_something, record_of_shop


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Closes every workshop that a test opens."""
    with ExitStack() as opened:
        yield opened


@pytest.fixture
def two(tmp_path: Path, stack: ExitStack) -> Fleet:
    """A laptop and a tablet with one cleared board on record."""
    return Fleet(tmp_path, stack, count=2)


def test_a_tablet_begins_with_the_wholerecord_of_shop(two: Fleet) -> None:
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
    before = record_of_shop(laptop)
    again = merge_bundle(laptop, data=bundle, name="a.zip")

    assert (again.events, again.files) == (0, 0)
    assert record_of_shop(laptop) == before


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
    left = load_piece(laptop.conn, piece.code)
    (still,) = laptop.conn.execute("SELECT venue FROM sale WHERE returned_on = ''").fetchone()
    assert left.stage == "sold"
    assert still in where_now(laptop.conn, left)
    assert two.records()[0] == two.records()[1]


def test_a_sale_stands_whatever_stage_was_set_meanwhile(two: Fleet) -> None:
    """A piece sold at the fair is not unsold because it was sanded on the record at home."""
    laptop, tablet = two.shops
    piece = cut_circle(laptop, two.board.code, 40, 40).piece
    assert piece is not None
    two.exchange_all()
    sell(tablet, piece=piece.code, price_minor=2400)
    set_price(laptop, pieces=(piece.code,), price_minor=2600)  # so that its clock is the later one
    set_stage(laptop, pieces=(piece.code,), stage="sanded")
    two.exchange_all()

    assert [load_piece(shop.conn, piece.code).stage for shop in two.shops] == ["sold", "sold"]
    with pytest.raises(Refused, match="is sold already"):
        sell(laptop, piece=piece.code)
    assert take_back(laptop, piece=piece.code, reason="sold by mistake").piece.stage == "returned"


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
    made = next(one for one in read_events(tablet.conn) if clash.codes[1] in one.made)
    assert short_id(made.operation) in clash.mend
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
                    do_something(shop, chance)
            fleet.exchange_all()
            records = fleet.records()

            assert records[0] == records[1] == records[2]
            for one in fleet.shops:
                assert len(verify_chain(one.conn)) >= 2
                red = {line.name for line in run_checks(one) if not line.ok}

                assert red <= {"devices do not stand against one another"}
                assert bool(red) == any(not clash.settled for clash in list_clashes(one))
