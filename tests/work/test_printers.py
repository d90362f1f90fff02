"""Printers and label stock as the workshop keeps them."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, NotFound
from salvage.paper.correction import TRUE, Frame
from salvage.paper.sheet import TypedSheet, parse_sheet
from salvage.paper.stock import STOCKS
from salvage.work import printers
from salvage.work.history import undo
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop


def test_readings_stay_with_their_printer(empty_shop: Workshop) -> None:
    """What a ruler read corrects this printer's prints and no other's, however it is loaded."""
    counter = printers.describe_printer(empty_shop, name="counter", dpi=203, stock="a4-3x8")
    printers.describe_printer(empty_shop, name="attic", dpi=600)
    read = Frame(20.5, 19.0, 170.34, 257.0)
    printers.check_printer(empty_shop, printer=counter, paper="a4", read=read)
    kept = printers.describe_printer(empty_shop, name="COUNTER", dpi=300, stock="57x32mm")
    found = printers.correction_for(kept)

    assert (kept.name, kept.dpi, kept.stock) == ("counter", 300, "57x32mm")
    assert found.stretch == pytest.approx((1.002, 1.0))
    assert found.shift_mm == pytest.approx((0.46, -1.0))
    assert printers.correction_for(printers.find_printer(empty_shop, "attic")) == TRUE
    assert [printer.name for printer in printers.list_printers(empty_shop)] == ["attic", "counter"]


def test_a_wrong_reading_is_undone(empty_shop: Workshop) -> None:
    """Taking a reading back leaves the printer as it was before."""
    counter = printers.describe_printer(empty_shop, name="counter", dpi=600)
    printers.check_printer(empty_shop, printer=counter, read=Frame(21, 20, 170, 257))
    undo(empty_shop, why="held the ruler at the wrong edge")

    assert printers.find_printer(empty_shop, "counter") == counter


def test_the_usual_printer_is_one_that_is_known(empty_shop: Workshop) -> None:
    """The setting takes a known printer in any case, and none can be asked for."""
    printers.describe_printer(empty_shop, name="Counter", dpi=203)
    change_settings(empty_shop, typed={"printer": "counter"})
    chosen = printers.chosen_printer(empty_shop)

    assert chosen is not None
    assert chosen.name == "Counter"
    assert printers.chosen_printer(empty_shop, "none") is None
    with pytest.raises(NotFound, match="known: Counter"):
        change_settings(empty_shop, typed={"printer": "attic"})


@pytest.mark.parametrize(
    ("name", "dpi", "stock"),
    [("", 203, ""), ("x" * 41, 203, ""), ("none", 203, ""), ("c", 72, ""), ("c", 203, "cardboard")],
)
def test_a_printer_that_cannot_be_is_refused(
    empty_shop: Workshop, name: str, dpi: int, stock: str
) -> None:
    """No name, a resolution or a stock that nobody knows: nothing is noted."""
    with pytest.raises(BadValue):
        printers.describe_printer(empty_shop, name=name, dpi=dpi, stock=stock)

    assert printers.list_printers(empty_shop) == ()


def test_own_stock_is_kept_to_the_micrometre(empty_shop: Workshop) -> None:
    """A sheet described once is found by its name ever after, and described anew under it."""
    typed = TypedSheet("63.5x33.9", page="a4", grid="3x8", gap="2.5x0")
    kept = printers.describe_stock(empty_shop, stock=parse_sheet("Bins", typed))
    tag = parse_sheet("tags", TypedSheet("68x12", tail="36"), dpi=300)
    printers.describe_stock(empty_shop, stock=tag)

    assert kept == parse_sheet("Bins", typed)
    assert printers.find_stock(empty_shop, "bins") == kept
    assert printers.find_stock(empty_shop, "tags") == tag
    again = printers.describe_stock(empty_shop, stock=parse_sheet("bins", TypedSheet("40x30")))
    assert (again.name, again.count) == ("Bins", 1)
    assert [stock.name for stock in printers.list_stock(empty_shop)[:3]] == [
        "Bins",
        "tags",
        next(iter(STOCKS)),
    ]


def test_a_known_name_is_not_taken(empty_shop: Workshop) -> None:
    """The sheets that are always known stay what they are."""
    with pytest.raises(BadValue, match="already"):
        printers.describe_stock(empty_shop, stock=parse_sheet("A4-3x8", TypedSheet("40x30")))
