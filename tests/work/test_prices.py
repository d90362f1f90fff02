"""What a piece costs and what its price should be, worked out by hand beside the program."""

from __future__ import annotations

from decimal import Decimal

import pytest

from salvage.errors import BadValue, NotFound, Refused
from salvage.ids import Code
from salvage.work.cutting import NewCut, record_cut
from salvage.work.materials import NewBatch, Use, add_batch, use_batches
from salvage.work.pieces import sell
from salvage.work.prices import cost_of_piece, cost_of_shape
from salvage.work.setup import change_settings
from salvage.work.times import list_rates, note_time, parse_minutes, rate_step
from salvage.work.tool_comparison import compare_tools
from salvage.work.workshop import Workshop
from tests.bench import add_cleared_board, circle_at
from tests.work.stall import make_pieces

RULE = {"hourly-rate": "24", "material-factor": "2", "selling-cost": "1.25", "price-step": "0.5"}


@pytest.fixture
def rated_shop(empty_shop: Workshop) -> Workshop:
    """A workshop with a rule for prices."""
    change_settings(empty_shop, typed=RULE)
    return empty_shop


def test_a_price_follows_from_the_makers_numbers(rated_shop: Workshop) -> None:
    """
    Worked by hand: 25 min at 24.00 an hour are 10.00; 6 min cutting are 2.40.

    With 1.25 for selling that is 13.65, and 13.50 is the nearest half.
    """
    (tern,) = make_pieces(rated_shop, 1850)
    note_time(rated_shop, pieces=[tern], step="finishing", seconds=1500)
    rate_step(rated_shop, step="cutting", seconds=360)
    cost = cost_of_piece(rated_shop, piece=tern)

    assert [(one.time.step, one.minor, one.time.source) for one in cost.steps] == [
        ("cutting", 240, "rate"),
        ("finishing", 1000, "measured"),
    ]
    assert (cost.cost_minor, cost.suggested_minor) == (1365, 1350)
    assert cost.marked_minor == 1850


def test_tax_stands_on_top_of_the_rule(rated_shop: Workshop) -> None:
    """12.40 and 1.25 with 20 % are 16.38, which is 16.50 to the half."""
    change_settings(rated_shop, typed={"tax-rate": "20 %"})
    rate_step(rated_shop, step="cutting", seconds=1860)
    cost = cost_of_shape(rated_shop, shape="tern")

    assert (cost.labour_minor, cost.tax_minor, cost.suggested_minor) == (1240, 273, 1650)


def test_a_batch_shares_its_time_to_the_second(rated_shop: Workshop) -> None:
    """Ten minutes over three pieces: 200 s each; ten seconds: 4, 3 and 3."""
    pieces = make_pieces(rated_shop, 1, 2, 3)
    even = note_time(rated_shop, pieces=pieces, step="finishing", seconds=600)
    odd = note_time(rated_shop, pieces=pieces, step="packing", seconds=10)

    assert [share for _, share in even.shares] == [200, 200, 200]
    assert [share for _, share in odd.shares] == [4, 3, 3]


def test_the_nearest_rate_counts_where_nothing_was_measured(rated_shop: Workshop) -> None:
    """Shape and tool, then shape, then tool, then any."""
    for seconds, shape, tool in (
        (100, "", ""),
        (200, "", "shears"),
        (300, "tern", ""),
        (400, "tern", "shears"),
    ):
        rate_step(rated_shop, step="cutting", seconds=seconds, shape=shape, tool=tool)
    found = {
        (shape, tool): cost_of_shape(rated_shop, shape=shape, tool=tool).seconds
        for shape in ("tern", "kite")
        for tool in ("router", "shears")
    }
    rate_step(rated_shop, step="cutting", seconds=None)

    assert found == {
        ("tern", "router"): 300,
        ("tern", "shears"): 400,
        ("kite", "router"): 100,
        ("kite", "shears"): 200,
    }
    assert len(list_rates(rated_shop)) == 3


def test_consumables_count_with_their_part_of_the_pack(rated_shop: Workshop) -> None:
    """A 50 ml pack at 10.00: 2 ml on each of two pieces are 0.40 each, 0.80 by the factor."""
    pieces = make_pieces(rated_shop, 1850, 2450)
    new = NewBatch("sealant", "clear sealant", pack_milli=50_000, unit="ml", cost_minor=1000)
    batch = add_batch(rated_shop, new=new).batch.code
    use_batches(rated_shop, batches=[batch], pieces=pieces, use=Use(each_milli=2000))
    cost = cost_of_piece(rated_shop, piece=pieces[0])

    assert (cost.material_minor, cost.material_priced_minor) == (40, 80)


def test_hand_and_router_are_compared_by_shape(rated_shop: Workshop) -> None:
    """
    Two circles by router, one of them sold for 12.00; one by shears, and one spoilt.

    The router's took 20 minutes, so an hour brings 36.00.
    """
    board = add_cleared_board(rated_shop).code
    made = []
    for place, (tool, outcome, reason) in enumerate(
        (
            ("router", "piece", ""),
            ("router", "piece", ""),
            ("shears", "piece", ""),
            ("shears", "scrap", "cracked"),
        )
    ):
        spot = circle_at(rated_shop, 15 + 25 * place, 40, width_mm=16)
        kerf = 2.0 if tool == "router" else 0.0
        new = NewCut(board, spot, tool=tool, kerf_mm=kerf, outcome=outcome, reason=reason)
        view = record_cut(rated_shop, new=new)
        made += [view.piece.code] if view.piece else []
    note_time(rated_shop, pieces=made[:2], step="cutting", seconds=2400)
    sell(rated_shop, piece=made[0], price_minor=1200)
    router, shears = compare_tools(rated_shop, shape="circle")

    assert (router.tool, router.made, router.spoilt, router.measured) == ("router", 2, 0, True)
    assert (router.seconds, router.hourly_minor) == (Decimal(1200), 3600)
    assert (shears.made, shears.spoilt, shears.hourly_minor) == (1, 1, None)
    assert shears.spoilt_percent == 50


def test_odd_times_are_refused(rated_shop: Workshop) -> None:
    """No step, no time, no piece, no tool; and without an hourly rate nothing is reckoned."""
    (tern,) = make_pieces(rated_shop, 1850)
    for attempt, kind, words in (
        (lambda: note_time(rated_shop, pieces=[tern], step="lunch", seconds=60), BadValue, "step"),
        (
            lambda: note_time(rated_shop, pieces=[tern], step="cutting", seconds=0),
            BadValue,
            "no time",
        ),
        (
            lambda: note_time(rated_shop, pieces=[Code("PC0001D")], step="cutting", seconds=60),
            NotFound,
            "no piece",
        ),
        (lambda: rate_step(rated_shop, step="cutting", seconds=6, tool="saw"), BadValue, "tool"),
        (lambda: rate_step(rated_shop, step="cutting", seconds=-1), BadValue, "no time"),
    ):
        with pytest.raises(kind, match=words):
            attempt()
    change_settings(rated_shop, typed={"hourly-rate": ""})
    with pytest.raises(Refused, match="no hourly rate"):
        cost_of_piece(rated_shop, piece=tern)


@pytest.mark.parametrize("text", ["", "abc", "1:75", "0.0001", "-5", "1h"])
def test_what_is_no_time_is_refused(text: str) -> None:
    """'1h' is one hour; the others are slips of the pen."""
    if text == "1h":
        assert parse_minutes(text) == 3600
        return
    with pytest.raises(BadValue, match="is no time"):
        parse_minutes(text)
