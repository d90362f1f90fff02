"""Days in their order, on the workshop's own calendar."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from salvage.errors import BadValue
from salvage.ids import Code
from salvage.work.correct import DropOffCorrection, correct_drop_off
from salvage.work.day_order import local_day
from salvage.work.mass import NewConsignment, send_consignment
from salvage.work.pieces import sell, take_back
from salvage.work.workshop import Workshop, open_workshop
from tests.bench import (
    START,
    SteppingClock,
    add_cleared_board,
    add_drop_off,
    cut_circle,
    dump,
    seeded_entropy,
)


def _cut(shop: Workshop) -> Code:
    piece = cut_circle(shop, add_cleared_board(shop).code, 40, 40).piece
    assert piece is not None
    return piece.code


@pytest.fixture
def westward(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A workshop eight hours behind UTC, as the far coast is in winter."""
    monkeypatch.setenv("TZ", "PST8")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_a_piece_is_sold_after_it_was_made(empty_shop: Workshop) -> None:
    """On the same day is fine, the day before is a slip of the pen."""
    piece = _cut(empty_shop)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=f"2026-05-03 is before {piece} was made on 2026-05-04"):
        sell(empty_shop, piece=piece, price_minor=1, sold_on=date(2026, 5, 3))

    assert dump(empty_shop) == before
    assert sell(empty_shop, piece=piece, price_minor=1, sold_on=START.date()).sales


def test_a_piece_comes_back_after_its_sale_and_is_sold_again_after_that(tmp_path: Path) -> None:
    """A sale, a return and a second sale stand in their order."""
    clock = SteppingClock()
    with open_workshop(tmp_path / "shop", clock=clock, entropy=seeded_entropy()) as shop:
        piece = _cut(shop)
        clock.now = datetime(2026, 5, 9, 9, tzinfo=UTC)
        sell(shop, piece=piece, price_minor=1, sold_on=date(2026, 5, 6))
        with pytest.raises(BadValue, match=r"before .* was sold on 2026-05-06"):
            take_back(shop, piece=piece, reason="pin loose", returned_on=date(2026, 5, 5))
        take_back(shop, piece=piece, reason="pin loose", returned_on=date(2026, 5, 8))
        with pytest.raises(BadValue, match=r"before .* came back on 2026-05-08"):
            sell(shop, piece=piece, price_minor=1, sold_on=date(2026, 5, 7))

        assert len(sell(shop, piece=piece, price_minor=1, sold_on=date(2026, 5, 8)).sales) == 2


def test_nothing_is_sent_off_before_it_came(empty_shop: Workshop) -> None:
    """A consignment is not older than its drop-off, nor becomes so by a correction."""
    drop_off = add_drop_off(empty_shop)  # received on 2026-05-02
    early = NewConsignment("Recycler", "frames", 9.0, date(2026, 5, 1), drop_off=drop_off)
    with pytest.raises(BadValue, match=f"2026-05-01 is before {drop_off} came in on 2026-05-02"):
        send_consignment(empty_shop, new=early)
    good = NewConsignment("Recycler", "frames", 9.0, date(2026, 5, 2), drop_off=drop_off)
    send_consignment(empty_shop, new=good)
    later = DropOffCorrection(received_on=date(2026, 5, 3))
    with pytest.raises(BadValue, match=r"after a part of .* was sent off on 2026-05-02"):
        correct_drop_off(empty_shop, drop_off=drop_off, new=later, why="a slip")

    loose = NewConsignment("Recycler", "screws", 9.0, date(2026, 5, 1))

    assert send_consignment(empty_shop, new=loose).sent_on == "2026-05-01"


def test_the_wall_calendar_counts(westward: None, tmp_path: Path) -> None:
    """A piece cut in the evening of the 4th, when UTC already writes the 5th, is sold that day."""
    clock = SteppingClock(datetime(2026, 5, 5, 3, 0, tzinfo=UTC))
    with open_workshop(tmp_path / "shop", clock=clock, entropy=seeded_entropy()) as shop:
        piece = _cut(shop)
        view = sell(shop, piece=piece, price_minor=1)

        assert view.piece.made_at.startswith("2026-05-05")
        assert local_day(view.piece.made_at) == date(2026, 5, 4)
        assert view.sales[0].sold_on == "2026-05-04"
