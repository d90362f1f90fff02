"""Outings, orders and prices on the command line: what people read, and how slips are mended."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, cut_piece


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A workshop with one ready and priced piece, and an outing to come."""
    found = Desk(tmp_path)
    piece = cut_piece(found)
    found.do(f"piece stage {piece} ready")
    found.do(f"piece price {piece} 18.50")
    found.do('outing plan "Lantern Fair" 2026-05-09 --fee 35 --place Quay')
    return found


def test_a_day_reads_well_from_packing_to_count(desk: Desk) -> None:
    """The packing list, the box, the count: each figure stands beside its word."""
    packed = desk.do("outing pack lantern --ready").out
    desk.do("outing open --float 60")
    desk.do('outing cash in 5 --reason "change fetched"')
    sold = desk.do("outing sell bb --given 20").out
    shown = desk.do("outing show").out
    short = desk.run("outing close --cash 80")
    desk.do('outing close --cash 80 --reason "wrong change"')
    closed = desk.do("outing show lantern").out
    listed = desk.do("outing list").out

    assert "1 piece packed" in packed
    assert "to pay 18.50 EUR by cash; change 1.50 EUR" in sold
    assert "83.50 EUR (60.00 EUR to begin with, 5.00 EUR in (change fetched))" in shown
    assert short.code == 1
    assert "80.00 EUR were counted and 83.50 EUR expected" in short.err
    assert "counted 80.00 EUR (3.50 EUR short): wrong change" in closed
    assert "1 sold" in listed


def test_pieces_are_scanned_in_line_by_line(desk: Desk) -> None:
    """A scanner types a code and Enter; the list is read to its end."""
    piece = desk.do("piece list --plain").first
    desk.do("outing pack lantern", typed=f"{piece}\n")
    unpacked = desk.do("outing unpack lantern", typed="bb\n").out

    assert "0 pieces packed" in unpacked


def test_a_dry_run_packs_and_sells_nothing(desk: Desk) -> None:
    """Everything is told as if."""
    piece = desk.do("piece list --plain").first
    told = desk.do(f"outing sell {piece} --dry-run")

    assert "dry run:" in told.out
    assert desk.do("sales list --json").value == []


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("outing sell --card --paid cash ?kite=1", "give --card or --paid, not both"),
        ("outing sell ?kite", "needs words and a price"),
        ("outing sell XX", "no packed piece has the key XX"),
        ("outing close lantern", "say how much cash was counted"),
        ("outing pack PC0001D", "'PC0001D'\n  name the outing first, then its pieces"),
        ("outing open harbour", "there is no outing 'harbour'"),
        ('outing plan "" 2026-05-09', "an outing has a name"),
        ("outing plan Fair tomorrow", "is no date"),
        ("outing cash sideways 5 --reason x", "sideways"),
        ("sales show C1", "there is no slip C1"),
        ("sales totals --per moon", "no totals by 'moon'"),
        ("price show tern", "no hourly rate"),
        ("price time lunch 5 PC0001D", "lunch"),
        ("order take circle@20:2", "say whose order it is"),
        ("order take circle:2 --customer Ilva", "needs a width\n  such as circle@40:2"),
        ("order show NC0001U", "there is no order"),
        ("order handover NC0001U --paid bananas", "--paid: 'bananas' is not a choice here"),
        ("export sales --from spring", "is no date"),
    ],
)
def test_odd_words_are_refused_in_one_line(desk: Desk, line: str, words: str) -> None:
    """What is wrong, and the mend; nothing is written and no traceback is shown."""
    before = desk.do("journal --json").value
    told = desk.run(line)

    assert told.code in (1, 2)
    assert words in told.err
    assert "Traceback" not in told.err
    assert desk.do("journal --json").value == before


def test_an_order_reads_well(desk: Desk) -> None:
    """Who, what, how far, by when; after a day too many it is late."""
    order = desk.code('order take circle@30:2 --customer "Mirren Faulds" --due 2026-05-05')
    desk.do(f"order quote {order} --each circle@30=24 --notes 'with a ribbon'")
    desk.do(f"order accept {order}")
    piece = desk.do("piece list --plain").first
    desk.do(f"order aside {order} {piece}")
    shown = desk.do(f"order show {order}").out
    listed = desk.do("order list").out
    declined = desk.run(f"order decline {order}")

    assert f"{order}  partly planned, for Mirren Faulds (private)" in shown
    assert "2 x circle@30 at 24.00 EUR: 1 ready, 1 without a place" in shown
    assert "with a ribbon" in shown
    assert "in 1 day" in listed
    assert f"is accepted, not quoted\n  salvage order cancel {order}" in declined.err


def test_a_price_reads_part_by_part(desk: Desk) -> None:
    """Each step with its time and source, then what is suggested and what is marked."""
    desk.do("setup hourly-rate=24 selling-cost=1.25 tax-rate=19%")
    piece = desk.do("piece list --plain").first
    desk.do(f"price time finishing 25 {piece}")
    desk.do("price rate cutting 6 --tool router")
    shown = desk.do(f"price show {piece}").out
    rates = desk.do("price rates").out
    compared = desk.do("price compare").out
    desk.do("price rate cutting none --tool router")

    assert "10.00 EUR  25 min, measured on 1 piece" in shown
    assert "2.40 EUR  6 min, by rate" in shown
    assert "16.00 EUR" in shown  # 13.65 and 19 % are 16.24
    assert "every other" in rates
    assert "circle" in compared
    assert desk.do("price rates --json").value == []
