"""Yields of boards and donors, against a small season that is worked out by hand."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest

from salvage.paper.plots import Plot
from salvage.work.articles import assemble
from salvage.work.donors import NewDonor
from salvage.work.ledger import Period
from salvage.work.mass import NewConsignment, account_mass, send_consignment
from salvage.work.materials import NewBatch, Use, add_batch, use_batches
from salvage.work.pieces import sell, take_back
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.season_figures import figure_season
from salvage.work.season_plots import MOST_ROWS, plot_season
from salvage.work.selling import SaleItem, Terms, sell_pieces
from salvage.work.setup import change_settings
from salvage.work.times import note_time
from salvage.work.workshop import Workshop
from tests.bench import add_board
from tests.work.stall import DAY, make_pieces

SECRET = NewDonor(
    "Dunlin Row Infirmary",
    source_kind="public body",
    naming="anonymous",
    naming_how="said at the counter",
    described_as="",
)


def test_a_boards_yield_is_its_pieces_by_its_outline(empty_shop: Workshop) -> None:
    """Three circles of 12 mm out of 120 x 80 mm; two sold at 10.00, one came back."""
    pieces = make_pieces(empty_shop, 1000, 1000, 1000)
    sell(empty_shop, piece=pieces[0])
    sell(empty_shop, piece=pieces[1])
    take_back(empty_shop, piece=pieces[1], reason="pin loose")
    figures = figure_season(empty_shop)
    (board,), (donor,) = figures.boards, figures.donors

    # Circles are drawn with straight edges, a little inside the true circle.
    assert board.pieces_percent == pytest.approx(300 * math.pi * 36 / 9600, rel=0.01)
    assert (board.pieces, board.sold, board.net_minor) == (3, 1, 1000)
    assert (donor.boards, donor.pieces, donor.sold, donor.net_minor) == (1, 3, 1, 1000)
    assert (donor.words, donor.received_mg, donor.unweighed) == ("a planetarium", 6_200_000, 0)
    assert figures.remnants == figures.boards
    assert 0 < board.usable_um2 < board.outline_um2 - board.pieces_um2


def test_what_was_kept_is_all_of_some_board_or_untraced(empty_shop: Workshop) -> None:
    """An article of two boards is shared to the cent; a lost label's money is named apart."""
    first, second = make_pieces(empty_shop, 500)[0], make_pieces(empty_shop, 500)[0]
    article = assemble(empty_shop, parts=(first, second), name="earrings")
    sell(empty_shop, piece=article.piece.code, price_minor=2501)
    lost = SaleItem(words="kite", price_minor=777)
    sell_pieces(empty_shop, items=[lost], terms=Terms(DAY, "cash"))
    figures = figure_season(empty_shop)

    assert sorted(one.net_minor for one in figures.boards) == [1250, 1251]
    assert [one.sold for one in figures.boards] == [1, 1]
    assert figures.untraced_minor == 777
    assert figure_season(empty_shop, period=Period(last=date(2026, 5, 3))).untraced_minor == 0


def test_a_refund_is_shared_as_the_sale_was(empty_shop: Workshop) -> None:
    """In a period with the return alone, what was given back stands below zero, to the cent."""
    parts = (make_pieces(empty_shop, 500)[0], make_pieces(empty_shop, 500)[0])
    article = assemble(empty_shop, parts=parts, name="earrings").piece.code
    item = SaleItem(article, price_minor=2501)
    sell_pieces(empty_shop, items=[item], terms=Terms(DAY, "cash"))
    later = DAY + timedelta(days=1)
    take_back(empty_shop, piece=article, reason="hook loose", returned_on=later)
    figures = figure_season(empty_shop, period=Period(first=later))

    assert sorted(one.net_minor for one in figures.boards) == [-1251, -1250]
    assert [one.sold for one in figures.boards] == [-1, -1]
    assert [one.net_minor for one in figure_season(empty_shop).boards] == [0, 0]


def test_another_currency_is_left_out_of_yields(empty_shop: Workshop) -> None:
    """Euros are never told as pounds."""
    (piece,) = make_pieces(empty_shop, 1850)
    change_settings(empty_shop, typed={"currency": "GBP"})
    sell(empty_shop, piece=piece)
    (board,) = figure_season(empty_shop).boards

    assert (board.sold, board.net_minor) == (0, 0)


def test_no_donor_is_named_without_consent(empty_shop: Workshop) -> None:
    """Neither figures nor any picture holds the name of who wished to stay unnamed."""
    for day in (1, 2):
        new = NewDropOff(date(2026, 5, day), "a box", board_count=1)
        code = log_drop_off(empty_shop, donor=SECRET, new=new).drop_off.code
        add_board(empty_shop, drop_off=code)
    make_pieces(empty_shop, 1000)
    figures, plots = figure_season(empty_shop), plot_season(empty_shop)

    assert "Dunlin" not in repr(figures) + repr(plots)
    assert "Kelpie" not in repr(figures) + repr(plots)
    assert len({one.words for one in figures.donors}) == len(figures.donors) >= 2


def _plots(shop: Workshop) -> dict[str, Plot]:
    return {plot.name: plot for plot in plot_season(shop)}


def test_time_and_margin_are_those_of_paper_and_pencil(empty_shop: Workshop) -> None:
    """
    20.00 for 15 minutes are 80.00 an hour; at 24.00 an hour the work is 6.00.

    One of the two circles took 2 ml of a varnish of 10.00 for 100 ml, which is 0.10 on each: 13.90
    is left.
    """
    change_settings(empty_shop, typed={"hourly-rate": "24"})
    piece, other = make_pieces(empty_shop, 2000, 2000)
    note_time(empty_shop, pieces=[piece, other], step="finishing", seconds=1800)
    new = NewBatch("varnish", "clear", pack_milli=100_000, unit="ml", cost_minor=1000)
    batch = add_batch(empty_shop, new=new).batch.code
    use_batches(empty_shop, batches=[batch], pieces=[other], use=Use(each_milli=2000))
    sell(empty_shop, piece=piece)
    sell_pieces(
        empty_shop, items=[SaleItem(words="kite", price_minor=900)], terms=Terms(DAY, "cash")
    )
    plot = _plots(empty_shop)["time"]
    work, hour, margin = plot.panels

    assert [panel.bars[0].value for panel in (work, hour, margin)] == [15, 8000, 1390]
    assert [panel.bars[0].told for panel in (hour, margin)] == ["80.00 EUR", "13.90 EUR"]
    assert plot.rows == ("circle",)
    assert plot.note.startswith("Shapes whose time is not known: 1")
    assert (hour.mark, hour.mark_words) == (2400, "your rate, 24.00 EUR")


def test_diversion_is_what_became_pieces_or_left_for_recyclers(empty_shop: Workshop) -> None:
    """Of 6.2 kg, 3.1 kg went to a recycler; with a drop-off of no weight no share is told."""
    (piece,) = make_pieces(empty_shop, 2000)
    send_consignment(empty_shop, new=NewConsignment("a smelter", "offcuts", 3100.0))
    found = account_mass(empty_shop)
    mass = _plots(empty_shop)["mass"]
    log_drop_off(empty_shop, donor=SECRET, new=NewDropOff(DAY, "a box", board_count=1))

    assert piece
    assert found.diverted_percent == pytest.approx(100 * (3.1 + found.pieces_g / 1000) / 6.2)
    assert sum(bar.value or 0 for bar in mass.panels[1].bars) == pytest.approx(100, abs=0.01)
    assert account_mass(empty_shop).diverted_percent is None


def test_an_empty_workshop_has_pictures_that_say_so(empty_shop: Workshop) -> None:
    """The first January: nine pictures without a row, and none that fails."""
    plots = plot_season(empty_shop)

    assert len(plots) == 9
    assert all(plot.rows == () and plot.empty for plot in plots)


def test_what_does_not_fit_is_told(empty_shop: Workshop) -> None:
    """Of many shapes the best are drawn, and the number of the others stands below."""
    for n in range(MOST_ROWS + 3):
        item = SaleItem(words=f"shape {n}", price_minor=1000 + n)
        sell_pieces(empty_shop, items=[item], terms=Terms(DAY, "cash"))
    shapes = _plots(empty_shop)["shapes"]

    assert shapes.rows[0] == f"shape {MOST_ROWS + 2}"
    assert len(shapes.rows) == MOST_ROWS
    assert shapes.note.startswith("3 more not drawn")
