"""The plan of a label: the largest module, on whole dots, words apart from the symbol."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.paper.placing import Box, place_on_label
from salvage.paper.stock import STOCKS, Stock, parse_stock, roll

SYMBOLS = st.sampled_from([(29, 29), (14, 14), (33, 33), (132, 24)])


def inside(box: Box, stock: Stock) -> bool:
    """Whether a box lies on the label."""
    width, height = stock.label_mm
    return (
        box.left_mm >= 0
        and box.top_mm >= 0
        and box.left_mm + box.width_mm <= width + 1e-9
        and box.top_mm + box.height_mm <= height + 1e-9
    )


@given(
    width=st.integers(20, 110),
    height=st.integers(12, 80),
    dpi=st.sampled_from([203, 300, 600]),
    modules=SYMBOLS,
    alert=st.booleans(),
)
def test_symbol_and_words_share_a_label_without_touching(
    width: int, height: int, dpi: int, modules: tuple[int, int], alert: bool
) -> None:
    """Whatever the label, both boxes lie on it and apart, or it is refused as too small."""
    stock = roll(width, height, dpi=dpi)
    try:
        plan = place_on_label(stock, modules, "BC0002J", alert=alert)
    except BadValue:
        assume(False)
    dots = plan.module_mm / stock.dot_mm
    on_grid = [plan.symbol.left_mm / stock.dot_mm, plan.symbol.top_mm / stock.dot_mm, dots]

    assert inside(plan.symbol, stock)
    assert inside(plan.words, stock)
    assert on_grid == pytest.approx([round(value) for value in on_grid])
    assert plan.symbol.width_mm == pytest.approx(modules[0] * plan.module_mm)
    if plan.beside:
        assert plan.symbol.left_mm + plan.symbol.width_mm < plan.words.left_mm
    else:
        assert plan.symbol.top_mm + plan.symbol.height_mm < plan.words.top_mm


@pytest.mark.parametrize(
    ("name", "module_mm"),
    [
        ("roll-50x25", 0.75),
        ("roll-57x32", 0.875),
        ("a4-3x8", 1.125),
        ("a4-3x7", 1.0),
        ("letter-3x10", 0.75),
    ],
)
def test_known_stock_takes_a_large_module_and_a_large_code(name: str, module_mm: float) -> None:
    """A version 1 QR code has modules of 0.75 mm and more, its characters 14 point and more."""
    plan = place_on_label(STOCKS[name], (29, 29), "BC0002J")

    assert plan.module_mm == module_mm
    assert plan.code_pt >= 14
    assert plan.beside


def test_bars_stand_above_the_words() -> None:
    """Code 128 needs the label's width: 132 modules of two or three dots."""
    plan = place_on_label(STOCKS["roll-57x32"], (132, 24), "BC0002J")

    assert not plan.beside
    assert plan.module_mm in (0.25, 0.375)


def test_a_larger_label_never_gets_a_smaller_symbol() -> None:
    """Growing a label in both directions lets the symbol grow or stay."""
    modules = [
        place_on_label(parse_stock(f"{side * 2}x{side}mm"), (29, 29), "BC0002J").module_mm
        for side in range(16, 60)
    ]

    assert modules == sorted(modules)


def test_a_label_too_small_says_its_size() -> None:
    """The refusal names the label and the code."""
    with pytest.raises(BadValue, match=r"12 x 10 mm.*BC0002J"):
        place_on_label(roll(12, 10), (29, 29), "BC0002J")
