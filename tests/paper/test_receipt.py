"""The receipt for a drop-off, as printed and read back."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from salvage.errors import BadValue
from salvage.paper.receipt import STATEMENT, print_receipt
from salvage.paper.stock import A5_MM
from tests.paper import printed
from tests.paper.samples import DAY, receipt

GOLDEN = Path(__file__).parents[1] / "golden" / "paper" / "receipt.txt"


@pytest.mark.parametrize("dpi", [150, 203, 300])
def test_the_code_on_a_receipt_reads_back(dpi: int) -> None:
    """Both readers find the drop-off's code."""
    (page,) = printed.pages_of(print_receipt(receipt(), made_on=DAY), dpi)

    assert printed.read_by_zxing(page) == ["DC0004F"]
    assert printed.read_by_zbar(page) == ["DC0004F"]


def test_a_receipt_is_a5_and_its_symbol_true_to_size() -> None:
    """ISO 216 A5; 21 modules of 0.75 mm measure 15.75 mm."""
    pdf = print_receipt(receipt(), made_on=DAY)
    with printed.opened(pdf) as document:
        left, top, right, bottom = printed.symbol_box_mm(document.pages[0])

    assert printed.sizes_mm(pdf) == [A5_MM]
    assert (right - left, bottom - top) == pytest.approx((15.75, 15.75), abs=0.1)


def test_a_receipt_says_that_it_is_no_tax_receipt() -> None:
    """Nobody can take it for more than it is."""
    text = " ".join(printed.lines_of(print_receipt(receipt(), made_on=DAY)))

    assert STATEMENT in text
    assert "not a charity" in STATEMENT
    assert "not a tax receipt" in STATEMENT


def test_what_is_unknown_is_said_plainly() -> None:
    """Not weighed, no part with data listed, no record count: said or left out, never invented."""
    bare = replace(receipt(), weight="", data_parts=(), terms=(), journal_count=0, naming="")
    text = " ".join(printed.lines_of(print_receipt(bare, made_on=DAY)))

    assert "not weighed" in text
    assert "None was listed at the drop-off." in text
    assert "Record" not in text
    assert "Agreed" not in text
    assert "On cards" not in text


def test_a_long_list_goes_on_to_numbered_pages() -> None:
    """Sixty crates need more than a page; none is lost."""
    crates = tuple(f"Crate {n} of mixed boards" for n in range(60))
    pdf = print_receipt(replace(receipt(), contents=crates), made_on=DAY)
    lines = printed.lines_of(pdf)
    pages = len(printed.sizes_mm(pdf))

    assert pages > 1
    assert any(f"Page {pages} of {pages}" in line for line in lines)
    assert [crate for crate in crates if not any(crate in line for line in lines)] == []


def test_an_empty_drop_off_has_no_receipt() -> None:
    """A receipt lists what arrived."""
    with pytest.raises(BadValue, match="DC0004F"):
        print_receipt(replace(receipt(), contents=("", " ")), made_on=DAY)


def test_the_words_of_a_receipt_stand_where_they_stood() -> None:
    """
    The printed lines are those of the golden file.

    SALVAGE_GOLDEN=write rewrites it; review the difference as code.
    """
    lines = printed.lines_of(print_receipt(receipt(), made_on=DAY))
    if os.environ.get("SALVAGE_GOLDEN") == "write":
        GOLDEN.write_text("\n".join(lines) + "\n", encoding="utf-8")

    assert GOLDEN.read_text(encoding="utf-8").splitlines() == lines
