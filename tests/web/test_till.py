"""The till on the page: taps make a basket, the sum is the ledger's, a slip is made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench import add_cleared_board, cut_circle, make_shop
from tests.browser import Browser


@pytest.fixture
def browser(tmp_path: Path) -> Browser:
    """The owner's browser, in a workshop with two priced pieces and an outing tomorrow."""
    from datetime import date

    from salvage.work.outings import NewOuting, plan_outing
    from salvage.work.pieces import set_price

    with make_shop(tmp_path / "shop") as shop:
        board = add_cleared_board(shop).code
        views = [cut_circle(shop, board, x, 40) for x in (25, 75)]
        codes = [view.piece.code for view in views if view.piece]
        set_price(shop, pieces=codes, price_minor=1200)
        new = NewOuting("Lantern Fair", date(2026, 5, 4))
        plan_outing(shop, new=new)
    return Browser(tmp_path / "shop")


def outing_of(browser: Browser) -> tuple[str, list[str]]:
    """The outing's address, and the pieces."""
    with browser.house.open() as shop:
        (code,) = shop.conn.execute("SELECT code FROM outing").fetchone()
        pieces = [piece for (piece,) in shop.conn.execute("SELECT code FROM piece ORDER BY code")]
    return f"/outing/{code}", pieces


def test_a_day_at_the_stall(browser: Browser) -> None:
    """Pack, open, see the sum before the sale, sell once though it was sent twice."""
    outing, pieces = outing_of(browser)
    browser.do(f"{outing}/pack", {"pieces": " ".join(pieces)})
    browser.do(f"{outing}/open", {"float": "50"})
    page = browser.get(outing)
    assert all(f'data-word="{piece}"' in page for piece in pieces)

    said = {"words": " ".join([*pieces, "-10%", "given:30"]), "paid-by": "cash"}
    asked = browser.do(f"{outing}/try", said)
    assert asked["words"] == "to pay 21.60 EUR, change 8.40 EUR"
    keys = browser.keys("/dropoff/new")
    first = browser.do(f"{outing}/sell", {**keys, **said})
    second = browser.do(f"{outing}/sell", {**keys, **said})

    assert "21.60" in first["words"]
    assert "recorded already" in second["words"]
    page = browser.get(outing)
    assert "21.60 EUR on 1 slips" in page
    assert "71.60 EUR expected" in page


def test_an_empty_basket_is_refused(browser: Browser) -> None:
    """A slip for nothing is not made, and the till says why."""
    outing, _ = outing_of(browser)
    browser.do(f"{outing}/open", {"float": ""})

    refused = browser.post(f"{outing}/sell", {"words": "", "paid-by": "cash"}, json=True)

    assert refused.status_code == 422
    assert refused.json()["error"] == "the basket is empty"


def test_a_helper_has_no_till(browser: Browser) -> None:
    """Prices and takings are for the owner."""
    helper = Browser(browser.house.folder, role="helper", house=browser.house)
    outing, _ = outing_of(browser)

    assert helper.client.get(outing).status_code == 409
    assert helper.client.get("/outing").status_code == 409


def test_the_season_stands_in_bars(browser: Browser) -> None:
    """What the fair brought is a bar and a figure; before the first sale it says so."""
    outing, pieces = outing_of(browser)
    assert "Nothing was sold yet" in browser.get("/season")
    browser.do(f"{outing}/pack", {"pieces": " ".join(pieces)})
    browser.do(f"{outing}/open", {"float": ""})
    browser.do(f"{outing}/sell", {"words": pieces[0], "paid-by": "cash"})

    page = browser.get("/season")
    assert "1 sold, 12.00 EUR after refunds" in page
    assert 'width="100.0"' in page
    assert "Lantern Fair" in page
