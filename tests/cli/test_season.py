"""
A season on the demo workshop, through the public commands only.

An order from request to hand-over, a fair on a second device without a network, a double sale that
the merge brings to light, returns and an exchange. What everything comes to is worked out here from
what was typed, with fractions, and compared to the cent and to the gram.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from demo_db.build import build_workshop
from tests.bench import SteppingClock
from tests.desk import Desk

TAX, FEE = Fraction(19, 100), Fraction(169, 10_000)
PRICES = (1850, 2450, 999, 1700, 3333, 2100, 1275, 1600)
GRAMS = ("4.2", "5.1", "3.3", "4.8", "6.0", "3.9", "4.4", "5.5")


def _cents(exact: Fraction) -> int:
    """The nearest cent; a half goes up. Not the program's own rounding."""
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


@dataclass
class Book:
    """The test's own book of what was typed."""

    paid: int = 0
    refunded: int = 0
    tax: int = 0
    fee: int = 0
    off: int = 0
    cash: int = 0
    sold: set[str] = field(default_factory=set)

    def sell(self, prices: list[int], *, by: str, off: int = 0, back: int = 0) -> None:
        """Note one slip."""
        total = sum(prices) - off
        self.paid += total
        self.off += off
        self.tax += _cents(total * TAX / (1 + TAX))
        if by == "card":
            self.fee += _cents(max(0, total - back) * FEE)
        if by == "cash":
            self.cash += total

    def give_back(self, amount: int, *, by: str) -> None:
        """Note one refund."""
        self.refunded += amount
        self.tax -= _cents(amount * TAX / (1 + TAX))
        if by == "cash":
            self.cash -= amount


@dataclass(frozen=True)
class Season:
    """
    The season when it is over.

    Args:
        home: The workshop's first device.
        outing: Code of the fair.
        book: The test's own book.
        fair_cash: Cash sales at the fair by the test's own book, less what was given back.
        pieces: Codes in the order of PRICES.
        before: What the ledger held before.
    """

    home: Desk
    outing: str
    book: Book
    fair_cash: int
    pieces: tuple[str, ...]
    before: dict[str, Any]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Season:
    """The season, played once for this file."""
    folder = tmp_path_factory.mktemp("season")
    build_workshop(folder / "shop")
    home = Desk(folder, clock=SteppingClock(datetime(2026, 9, 1, 8, 0, tzinfo=UTC)))
    home.do("setup tax-rate=19% card-fee=1.69% hourly-rate=24 selling-cost=1")
    before = home.do("sales totals --json").value[0]
    book = Book()
    pieces = _make(home)
    _order(home, book, pieces[7])
    outing = home.code('outing plan "Lantern Fair" 2026-09-05 --fee 35')
    home.do(f"outing pack {outing} {' '.join(pieces[:7])}")
    fair = _second_device(home, folder)
    fair_book = _fair(fair, outing, pieces)
    _at_home_meanwhile(home, book, pieces)
    fair.do("device export --out back.zip")
    home.run("device merge tablet/back.zip")
    home.do(f'piece return {pieces[6]} --reason "sold twice, money given back"')
    book.give_back(PRICES[6], by="")
    joined = Book(
        book.paid + fair_book.paid,
        book.refunded + fair_book.refunded,
        book.tax + fair_book.tax,
        book.fee + fair_book.fee,
        book.off + fair_book.off,
        sold=(book.sold | fair_book.sold),
    )
    return Season(home, outing, joined, fair_book.cash, tuple(pieces), before)


def _make(home: Desk) -> list[str]:
    """Eight pieces of a stock order, cut, priced, weighed and ready."""
    plan = home.code("plan order circle@14:8 --for stock --cleared --seconds 0")
    home.do(f"plan cut {plan} --yes")
    made = home.do("piece list --state rough --json").value
    codes = sorted(one["code"] for one in made if one["shape"] == "circle")
    assert len(codes) == len(PRICES)
    for code, price, grams in zip(codes, PRICES, GRAMS, strict=True):
        home.do(f"piece price {code} {price / 100:.2f}")
        home.do(f"piece weigh {code} {grams}g")
    home.do(f"piece stage {' '.join(codes)} ready")
    home.do(f"price time finishing 96 {' '.join(codes)}")
    return codes


def _order(home: Desk, book: Book, piece: str) -> None:
    """One piece from the shelf and one cut to order, paid by transfer."""
    order = home.code(
        'order take circle@14:1 oval@20:1 --customer "Mirren Faulds" --due 2026-09-20'
    )
    home.do(f"order quote {order} --each circle@14=18 --each oval@20=31.40")
    home.do(f"order accept {order}")
    home.do(f"order aside {order} {piece}")
    plan = home.code(f"order plan {order} --cleared --seconds 0")
    home.do(f"plan cut {plan} --yes")
    (oval,) = home.do(f"order show {order} --json").value["lines"][1]["pieces"]
    home.do(f"piece stage {oval['code']} ready")
    home.do(f"order handover {order} --paid transfer")
    book.sell([1800, 3140], by="transfer")
    book.sold |= {piece, oval["code"]}


def _second_device(home: Desk, folder: Path) -> Desk:
    home.do('device add "fair tablet" --out tablet.zip')
    (folder / "tablet").mkdir()
    fair = Desk(folder / "tablet", clock=home.clock)
    fair.do("device start ../tablet.zip")
    return fair


def _fair(fair: Desk, outing: str, pieces: list[str]) -> Book:
    """The day at the stall: keys, codes, discount, gift, exchange, return, a lost label."""
    book = Book()
    fair.do(f"outing open {outing} --float 60")
    fair.do('outing cash out 35 --reason "stall fee"')
    fair.do("outing sell BB BC --discount 10% --given 50")
    book.sell([1850, 2450], by="cash", off=_cents(Fraction(4300, 10)))
    fair.do(f"outing sell {pieces[2]} BE=gift --card")
    book.sell([999, 0], by="card")
    fair.do('outing sell BF --back BB --reason "wished for another" --card')
    first = 1850 - _share(430, 1850, [1850, 2450])
    book.give_back(first, by="card")
    book.sell([3333], by="card", back=first)
    fair.do("outing till", typed="BG\n-1.00\nc\n?small_kite=12.50 k\nq\n")
    book.sell([2100], by="cash", off=100)
    book.sell([1250], by="card")
    fair.do(f"outing sell {pieces[6]}")
    book.sell([1275], by="cash")
    fair.do(f"piece return {pieces[5]} --reason cracked --refund 15 --paid cash")
    book.give_back(1500, by="cash")
    fair.do(f"outing home {outing} {pieces[0]} {pieces[5]}")
    cash = 6000 - 3500 + book.cash
    fair.do(f"outing close {outing} --cash {cash / 100:.2f}")
    book.sold |= {pieces[1], pieces[2], pieces[3], pieces[4], pieces[6]}
    return book


def _share(total: int, part: int, parts: list[int]) -> int:
    """A fair share rounded to the nearest cent; two shares sum to the whole."""
    return _cents(Fraction(total * part, sum(parts)))


def _at_home_meanwhile(home: Desk, book: Book, pieces: list[str]) -> None:
    """Somebody at home sells a piece that lies on the stall: a double sale, told by the merge."""
    home.do(f"piece sell {pieces[6]} --venue door")
    book.sell([PRICES[6]], by="")


def test_totals_are_those_of_the_tests_own_book(season: Season) -> None:
    """Paid, given back, taken off, tax and fees: each to the cent."""
    (total,) = season.home.do("sales totals --json").value
    old, book = season.before, season.book

    assert total["paid_minor"] - old["paid_minor"] == book.paid
    assert total["refunded_minor"] - old["refunded_minor"] == book.refunded
    assert total["discount_minor"] - old["discount_minor"] == book.off
    assert total["tax_minor"] - old["tax_minor"] == book.tax
    assert total["fee_minor"] - old["fee_minor"] == book.fee


@pytest.mark.parametrize("per", ["day", "month", "outing", "venue", "shape", "paid", "tax"])
def test_parts_sum_to_the_whole(season: Season, per: str) -> None:
    """However the ledger is cut up, its parts add up to it."""
    (whole,) = season.home.do("sales totals --json").value
    parts = season.home.do(f"sales totals --per {per} --json").value

    for name in ("sold", "paid_minor", "refunded_minor", "tax_minor", "fee_minor", "net_minor"):
        assert sum(part[name] for part in parts) == whole[name], name


def test_the_accountants_file_says_the_same(season: Season) -> None:
    """Every amount of the CSV file is exact, and their sum is the ledger's."""
    season.home.do("export sales --out sales.csv --force")
    text = (season.home.folder / "sales.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    (total,) = season.home.do("sales totals --json").value

    assert sum(Fraction(row["paid"]) for row in rows) * 100 == total["net_minor"]
    assert sum(Fraction(row["tax"]) for row in rows) * 100 == total["tax_minor"]
    for row in rows:
        assert Fraction(row["net"]) + Fraction(row["tax"]) == Fraction(row["paid"])
    assert "Mirren" not in text


def test_the_box_held_what_was_counted(season: Season) -> None:
    """Float, stall fee out, cash sales and refunds: counted and expected are one."""
    view = season.home.do(f"outing show {season.outing} --json").value

    assert view["state"] == "closed"
    assert view["cash_sales_minor"] == season.fair_cash
    assert view["counted_minor"] == view["expected_minor"] == 6000 - 3500 + season.fair_cash
    assert {one["code"]: one["state"] for one in view["pieces"]} == {
        season.pieces[0]: "home",
        season.pieces[1]: "sold",
        season.pieces[2]: "sold",
        season.pieces[3]: "given",
        season.pieces[4]: "sold",
        season.pieces[5]: "home",
        season.pieces[6]: "sold",
    }


def test_the_grams_that_left_are_those_of_the_pieces_that_left(season: Season) -> None:
    """What was weighed and sold, in milligrams, and nothing of it lost in the account of mass."""
    pieces = season.home.do("piece list --state all --most 1000 --json").value
    ours = {one["code"]: one for one in pieces if one["code"] in season.pieces}
    gone_mg = sum(one["weight_mg"] for one in ours.values() if one["stage"] == "sold")
    typed_mg = sum(
        round(Fraction(grams) * 1000)
        for code, grams in zip(season.pieces, GRAMS, strict=True)
        if code in season.book.sold
    )
    account = season.home.do("mass --json").value
    weighed_g = sum(one["weight_g"] or 0 for one in pieces)

    assert gone_mg == typed_mg
    assert account["pieces_g"] >= weighed_g


def test_the_double_sale_was_told_and_is_settled(season: Season) -> None:
    """The piece was sold on two devices: after one return it is sold once."""
    piece = season.home.do(f"piece show {season.pieces[6]} --json").value
    standing = [sale for sale in piece["sales"] if not sale["returned_on"]]

    assert len(piece["sales"]) == 2
    assert len(standing) == 1
    assert season.home.do("device clashes --json").value == []


def test_the_record_is_sound_after_the_season(season: Season) -> None:
    """Every line of the self-check holds, and a rebuild gives the same ledger."""
    before = season.home.do("sales totals --per month --json").value
    season.home.do("check")
    season.home.do("rebuild")

    assert season.home.do("sales totals --per month --json").value == before
