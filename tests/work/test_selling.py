"""Sales at the stall: several pieces on one slip, discounts, gifts, exchanges and returns."""

from __future__ import annotations

from datetime import timedelta

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.work.cutting import NewCut, record_cut
from salvage.work.history import undo
from salvage.work.pieces import sell, set_price, take_back, view_piece
from salvage.work.selling import Discount, SaleItem, Sold, Terms, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at, dump
from tests.work.stall import CARD, CASH, DAY, make_pieces, open_stall


def _sale(shop: Workshop, *items: SaleItem, **more: object) -> Sold:
    terms = more.pop("terms", CASH)
    return sell_pieces(shop, items=items, terms=terms, **more)  # type: ignore[arg-type]


def test_several_pieces_stand_on_one_slip(empty_shop: Workshop) -> None:
    """A buyer takes two pieces and pays once; each piece still has its own sale."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    sold = _sale(empty_shop, SaleItem(tern), SaleItem(kite), given_minor=5000)

    assert sold.to_pay_minor == 4300
    assert sold.change_minor == 700
    assert sold.sale is not None
    assert [line.piece for line in sold.sale.lines] == [tern, kite]
    assert view_piece(empty_shop.conn, kite).sales[0].price_minor == 2450
    assert view_piece(empty_shop.conn, tern).piece.stage == "sold"


def test_a_discount_is_shared_by_price_to_the_cent(empty_shop: Workshop) -> None:
    """10 % off 10.01 and 20.02 is 3.00: 1.00 and 2.00, which add up."""
    items = [SaleItem(code) for code in make_pieces(empty_shop, 1001, 2002)]
    sold = _sale(empty_shop, *items, discount=Discount(ppm=100_000))

    assert sold.sale is not None
    assert [line.discount_minor for line in sold.sale.lines] == [100, 200]
    assert sold.to_pay_minor == 2703


def test_a_gift_takes_no_share_of_the_discount(empty_shop: Workshop) -> None:
    """A small piece is thrown in for nothing; the discount is off what is paid."""
    tern, leaf = make_pieces(empty_shop, 2000, 500)
    sold = _sale(
        empty_shop, SaleItem(tern), SaleItem(leaf, is_gift=True), discount=Discount(minor=200)
    )

    assert sold.sale is not None
    assert [line.paid_minor for line in sold.sale.lines] == [1800, 0]
    assert [line.is_gift for line in sold.sale.lines] == [0, 1]
    assert view_piece(empty_shop.conn, leaf).piece.stage == "sold"


def test_an_exchange_is_one_step(empty_shop: Workshop) -> None:
    """A buyer brings a piece back and takes a dearer one: the difference is paid."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    _sale(empty_shop, SaleItem(tern))
    terms = Terms(DAY, "cash", notes="wished for the kite")
    sold = _sale(empty_shop, SaleItem(kite), back=[tern], terms=terms)

    assert sold.to_pay_minor == 600
    assert view_piece(empty_shop.conn, tern).piece.stage == "returned"
    undo(empty_shop)

    assert view_piece(empty_shop.conn, tern).piece.stage == "sold"
    assert view_piece(empty_shop.conn, kite).piece.stage == "ready"


def test_a_return_gives_back_what_was_paid_with_its_tax(empty_shop: Workshop) -> None:
    """After a discount, the discounted price comes back, and the tax that it held."""
    change_settings(empty_shop, typed={"tax-rate": "19 %"})
    (tern,) = make_pieces(empty_shop, 2380)
    sale = _sale(empty_shop, SaleItem(tern), discount=Discount(minor=1190)).sale
    back = _sale(empty_shop, back=[tern], terms=Terms(DAY, "cash", notes="pin loose"))

    assert sale is not None
    assert sale.lines[0].tax_minor == 190  # 11.90 holds 10.00 and 1.90
    assert back.to_pay_minor == -1190
    assert back.refunds[0].lines[0].tax_minor == 190


def test_a_part_of_the_price_may_be_given_back(empty_shop: Workshop) -> None:
    """A maker keeps something for the wear; more than was paid is never given back."""
    (tern,) = make_pieces(empty_shop, 2000)
    sell(empty_shop, piece=tern)
    with pytest.raises(BadValue, match=r"only 20\.00 EUR was paid"):
        take_back(empty_shop, piece=tern, reason="worn", refund_minor=2001)
    take_back(empty_shop, piece=tern, reason="worn", refund_minor=1500, paid_by="cash")
    row = empty_shop.conn.execute(
        "SELECT paid_by, paid_minor FROM slip JOIN slip_line ON slip = number WHERE kind = 'refund'"
    ).fetchall()

    assert row == [("cash", 1500)]


def test_the_bank_keeps_its_part_of_a_card_payment(empty_shop: Workshop) -> None:
    """1.69 % of 43.00 is 0.7267, which is 0.73; it is shared over the two pieces."""
    change_settings(empty_shop, typed={"card-fee": "1.69 %"})
    items = [SaleItem(code) for code in make_pieces(empty_shop, 1850, 2450)]
    sold = _sale(empty_shop, *items, terms=CARD)

    assert sold.sale is not None
    assert sum(line.fee_minor for line in sold.sale.lines) == 73


def test_a_piece_without_a_label_is_noted_by_its_words(empty_shop: Workshop) -> None:
    """The tag fell off: the money is in the ledger, though no piece is."""
    sold = _sale(empty_shop, SaleItem(words="small kite", price_minor=1200))

    assert sold.sale is not None
    assert sold.sale.lines[0].words == "small kite"
    assert sold.sale.lines[0].piece == ""


def test_what_is_not_for_sale_stops_the_whole_slip(empty_shop: Workshop) -> None:
    """One of two pieces is sold already: nothing is written, the other stays on the stall."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    _sale(empty_shop, SaleItem(tern))
    before = dump(empty_shop)
    with pytest.raises(Refused, match="is sold already"):
        _sale(empty_shop, SaleItem(kite), SaleItem(tern))

    assert dump(empty_shop) == before


def test_odd_sales_are_refused_in_plain_words(empty_shop: Workshop) -> None:
    """Nothing, twice the same, too little money, too much off, a day before it was made."""
    (tern,) = make_pieces(empty_shop, 1850)
    view = record_cut(
        empty_shop,
        new=NewCut(add_cleared_board(empty_shop).code, circle_at(empty_shop, 60, 40)),
    )
    assert view.piece is not None
    bare = view.piece.code
    cases = (
        ({"items": ()}, BadValue, "say what is sold"),
        ({"items": (SaleItem(tern), SaleItem(tern))}, Refused, "comes twice"),
        ({"items": (SaleItem(tern),), "given_minor": 1000}, BadValue, "less than the 18.50"),
        (
            {"items": (SaleItem(tern),), "discount": Discount(minor=1851)},
            BadValue,
            "more than the whole",
        ),
        (
            {"items": (SaleItem(tern),), "discount": Discount(minor=1, ppm=1)},
            BadValue,
            "not both",
        ),
        ({"items": (SaleItem(bare),)}, BadValue, "has no price"),
        ({"items": (SaleItem(words="kite"),)}, BadValue, "words and a price"),
        ({"items": (), "back": [tern]}, BadValue, "say why it came back"),
        (
            {"items": (SaleItem(tern),), "terms": Terms(DAY, "shells")},
            BadValue,
            "no way to pay",
        ),
        (
            {"items": (SaleItem(tern),), "terms": Terms(DAY - timedelta(days=9), "cash")},
            BadValue,
            "before",
        ),
        (
            {"items": (SaleItem(tern),), "terms": Terms(DAY, "cash", outing="UC0004K")},
            NotFound,
            "no outing",
        ),
    )
    for case, kind, words in cases:
        with pytest.raises(kind, match=words):
            sell_pieces(empty_shop, **{"terms": CASH, **case})  # type: ignore[arg-type]

    assert empty_shop.conn.execute("SELECT count(*) FROM slip").fetchone() == (0,)


def test_two_currencies_cannot_stand_on_one_slip(empty_shop: Workshop) -> None:
    """A piece that was priced before the workshop changed its currency is sold by itself."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    change_settings(empty_shop, typed={"currency": "GBP"})
    set_price(empty_shop, pieces=[kite], price_minor=2200)
    with pytest.raises(BadValue, match="EUR and GBP"):
        _sale(empty_shop, SaleItem(tern), SaleItem(kite))
    sold = _sale(empty_shop, SaleItem(tern))

    assert sold.currency == "EUR"


def test_a_sale_without_more_words_goes_to_the_open_stall(empty_shop: Workshop) -> None:
    """Whoever sells at the bench while the stall is open on this device sells at the stall."""
    tern, kite = make_pieces(empty_shop, 1850, 2450)
    outing = open_stall(empty_shop, [tern, kite])
    view = sell(empty_shop, piece=tern)
    sell(empty_shop, piece=kite, venue="at the door")
    rows = empty_shop.conn.execute("SELECT outing, venue, paid_by FROM slip ORDER BY at").fetchall()

    assert view.sales[0].venue == "Lantern Fair"
    assert rows == [(outing, "Lantern Fair", "cash"), ("", "at the door", "")]
