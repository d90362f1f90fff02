"""What the season tells, against a small season that is worked out by hand."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue
from salvage.work.ledger import Period
from salvage.work.outing_day import bring_home
from salvage.work.pieces import sell, take_back
from salvage.work.season_report import report_season
from salvage.work.selling import SaleItem, Terms, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.times import note_time
from salvage.work.workshop import Workshop
from tests.desk import Desk, cut_piece
from tests.work.stall import CASH, DAY, make_pieces, open_stall


def test_a_small_season_is_told_as_by_hand(empty_shop: Workshop) -> None:
    """
    Four circles, 15 minutes each: three sold for 11.90, one of them came back; 19 % tax.

    Two stayed away: 23.80 less 3.80 tax are 20.00 for half an hour, which is 40.00 an hour. Two of
    four are in stock: half sold. Of three packed, one stayed away and one came back; the stall
    cost 35.00, so the outing earned 10.00 less 35.00.
    """
    change_settings(empty_shop, typed={"tax-rate": "19 %"})
    pieces = make_pieces(empty_shop, 1190, 1190, 1190, 1190)
    note_time(empty_shop, pieces=pieces, step="finishing", seconds=3600)
    outing = open_stall(empty_shop, pieces[:3])
    sell_pieces(empty_shop, items=[SaleItem(pieces[0]), SaleItem(pieces[1])], terms=CASH)
    take_back(empty_shop, piece=pieces[1], reason="pin loose")
    bring_home(empty_shop, outing=outing, pieces=pieces[1:3])
    sell(empty_shop, piece=pieces[3], venue="door")
    found = report_season(empty_shop)
    (circle,), (fair,) = found.shapes, found.outings

    assert (circle.net_sold, circle.stock, circle.sold_percent) == (2, 2, 50)
    assert (circle.earned_minor, circle.hourly_minor) == (2000, 4000)
    assert (fair.there, fair.earned_minor) == (3, 1000 - 3500)
    assert fair.sold_percent == pytest.approx(100 / 3)
    assert found.stock == (("circle", {"ready": 1, "returned": 1}),)
    assert [(month.key, month.net_minor) for month in found.months] == [("2026-05", 2380)]


def test_other_currencies_are_named_and_left_out(empty_shop: Workshop) -> None:
    """Amounts of two currencies are never added up."""
    (tern,) = make_pieces(empty_shop, 1850)
    change_settings(empty_shop, typed={"currency": "GBP"})
    sell(empty_shop, piece=tern)
    found = report_season(empty_shop)

    assert (found.whole, found.shapes, found.other_currencies) == (None, (), ("EUR",))


def test_a_part_of_the_ledger_is_reported(empty_shop: Workshop) -> None:
    """A season lies between two days; one outing has its own page."""
    sell_pieces(
        empty_shop,
        items=[SaleItem(words="kite", price_minor=1200)],
        terms=Terms(DAY, "cash", venue="door"),
    )
    (kite,) = report_season(empty_shop).shapes

    assert (kite.stock, kite.seconds, kite.hourly_minor) == (0, None, None)
    assert report_season(empty_shop, period=Period(last=date(2026, 5, 3))).whole is None
    with pytest.raises(BadValue, match="several outings"):
        report_season(empty_shop, period=Period(outing="UC0004K"))


def test_the_terminal_shows_bars_with_their_figures(tmp_path: object) -> None:
    """Each bar stands beside the figure, so that nothing rests on its length."""
    from pathlib import Path

    desk = Desk(Path(str(tmp_path)))
    piece = cut_piece(desk)
    empty = desk.do("sales report")
    desk.do(f"piece sell {piece} --price 20 --venue door")
    told = desk.do("sales report").out

    assert "1 sold, 0 given, 0 came back" in told
    assert "20.00 EUR, 100 % sold" in told
    assert "#" * 24 in told or "█" * 24 in told
    assert "on the shelf" in empty.out
    assert "nothing was sold" in empty.err
    assert desk.do("sales report --plain").first == "circle"
