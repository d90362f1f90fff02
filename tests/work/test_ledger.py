"""The ledger: every sale and refund, those of the time before slips too, and the CSV file of it."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest

from salvage.errors import BadValue, NotFound
from salvage.work.export_sales import COLUMNS, export_sales
from salvage.work.ledger import GROUPS, Period, list_sales, show_slip, total_sales
from salvage.work.pieces import sell, take_back
from salvage.work.selling import Discount, SaleItem, Terms, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.work.stall import CASH, DAY, make_pieces, open_stall


def _rows(shop: Workshop) -> list[dict[str, str]]:
    text = export_sales(shop).decode("utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def test_refunds_are_below_zero(empty_shop: Workshop) -> None:
    """A sale and its return cancel one another, line by line."""
    change_settings(empty_shop, typed={"tax-rate": "7 %"})
    (tern,) = make_pieces(empty_shop, 1850)
    sell(empty_shop, piece=tern, venue="door")
    take_back(empty_shop, piece=tern, reason="pin loose")
    lines = list_sales(empty_shop)
    (total,) = total_sales(empty_shop)

    assert [line.paid_minor for line in lines] == [1850, -1850]
    assert sum(line.tax_minor for line in lines) == 0
    assert (total.sold, total.returned, total.net_minor) == (1, 1, 0)


def test_sales_of_the_time_before_slips_are_there(empty_shop: Workshop) -> None:
    """An older record has no slips: its sales and returns count all the same, at full price."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    sell(empty_shop, piece=tern, venue="door")
    sell(empty_shop, piece=kite, venue="door")
    take_back(empty_shop, piece=kite, reason="pin loose")
    now = [(line.kind, line.piece, line.paid_minor) for line in list_sales(empty_shop)]
    empty_shop.conn.execute("DELETE FROM slip_line")
    empty_shop.conn.execute("DELETE FROM slip")
    older = [(line.kind, line.piece, line.paid_minor) for line in list_sales(empty_shop)]

    assert sorted(older) == sorted(now)
    assert {line.slip for line in list_sales(empty_shop)} == {""}


def test_totals_are_taken_by_many_things(empty_shop: Workshop) -> None:
    """Gifts are counted apart; currencies are never added up."""
    tern, kite, leaf = make_pieces(empty_shop, 1850, 2450, 900)
    outing = open_stall(empty_shop, [tern])
    items = [SaleItem(tern), SaleItem(leaf, is_gift=True)]
    sell_pieces(empty_shop, items=items, terms=CASH, discount=Discount(minor=50))
    change_settings(empty_shop, typed={"currency": "GBP"})
    sell(empty_shop, piece=kite, venue="door", price_minor=2000)
    totals = {total.currency: total for total in total_sales(empty_shop)}

    assert (totals["EUR"].sold, totals["EUR"].given) == (1, 1)
    assert (totals["EUR"].list_minor, totals["EUR"].discount_minor) == (1850, 50)
    assert totals["GBP"].net_minor == 2000
    assert [total.key for total in total_sales(empty_shop, by="outing")] == ["", outing]
    for by in GROUPS:
        assert sum(total.net_minor for total in total_sales(empty_shop, by=by)) == 3800
    with pytest.raises(BadValue, match="no totals by 'moon'"):
        total_sales(empty_shop, by="moon")


def test_a_period_is_a_part_of_the_ledger(empty_shop: Workshop) -> None:
    """Days at both ends belong to it."""
    (tern,) = make_pieces(empty_shop, 1850)
    sell(empty_shop, piece=tern)

    assert len(list_sales(empty_shop, period=Period(DAY, DAY))) == 1
    assert list_sales(empty_shop, period=Period(first=date(2026, 5, 5))) == ()
    assert list_sales(empty_shop, period=Period(last=date(2026, 5, 3))) == ()
    assert list_sales(empty_shop, period=Period(outing="UC0004K")) == ()


def test_a_slip_is_found_by_number_or_piece(empty_shop: Workshop) -> None:
    """However it is typed; a piece names its newest slip."""
    (tern,) = make_pieces(empty_shop, 1850)
    sell(empty_shop, piece=tern)
    take_back(empty_shop, piece=tern, reason="pin loose")
    slip = show_slip(empty_shop, number=tern)
    number = slip.slip.number

    assert slip.slip.kind == "refund"
    assert show_slip(empty_shop, number=f"{number[0].lower()}-{number[1:]}") == slip
    with pytest.raises(NotFound, match="no slip C9999"):
        show_slip(empty_shop, number="C9999")


def test_the_file_is_exact_and_harmless(empty_shop: Workshop) -> None:
    """Decimals without rounding, ISO days, CRLF, and no cell that a spreadsheet would run."""
    change_settings(empty_shop, typed={"tax-rate": "19 %", "tax-note": "=HYPERLINK(1)"})
    (tern,) = make_pieces(empty_shop, 1190)
    sell_pieces(
        empty_shop,
        items=[SaleItem(tern), SaleItem(words="+kite", price_minor=5)],
        terms=Terms(DAY, "cash", venue="@door"),
    )
    take_back(empty_shop, piece=tern, reason="-1")
    rows = _rows(empty_shop)

    assert tuple(rows[0]) == COLUMNS
    assert [row["paid"] for row in rows] == ["11.90", "0.05", "-11.90"]
    assert [row["tax"] for row in rows] == ["1.90", "0.01", "-1.90"]
    assert [row["net"] for row in rows] == ["10.00", "0.04", "-10.00"]
    assert rows[0]["tax_rate_percent"] == "19"
    assert rows[0]["tax_note"] == "'=HYPERLINK(1)"
    assert rows[1]["description"] == "'+kite"
    assert rows[1]["venue"] == "'@door"
    assert rows[2]["note"] == "'-1"
    assert rows[0]["day"] == "2026-05-04"
    assert export_sales(empty_shop).count(b"\r\n") == 4


def test_a_currency_without_cents_has_none_in_the_file(empty_shop: Workshop) -> None:
    """ISO 4217 gives the yen no minor unit (from memory)."""
    change_settings(empty_shop, typed={"currency": "JPY"})
    (tern,) = make_pieces(empty_shop, 3000)
    sell(empty_shop, piece=tern)

    assert _rows(empty_shop)[0]["paid"] == "3000"
