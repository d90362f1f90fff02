"""Words of documents: ours are whole, and a workshop's own are looked over before they are kept."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadFile, NotFound
from salvage.paper.local import Local
from salvage.paper.wording import (
    DOCUMENTS,
    NEEDED,
    fill,
    parse_words,
    standard_words,
    whole_words,
    write_words,
)


@pytest.mark.parametrize("document", DOCUMENTS)
def test_our_words_are_good_words_of_their_own(document: str) -> None:
    """What is copied out can be set again and changes nothing; nothing needed is empty."""
    text = write_words(document, {})

    assert parse_words(document, text.encode()) == {}
    assert tomllib.loads(text) == standard_words(document)
    assert all(standard_words(document)[name] for name in NEEDED)


@pytest.mark.parametrize("document", ["receipt", "impact"])
def test_what_a_donor_gets_says_that_it_is_no_tax_receipt(document: str) -> None:
    """Nobody can take it for more than it is; no value, no charity."""
    statement = standard_words(document)["statement"]

    assert "not a tax receipt" in statement
    assert "not a charity" in statement


@given(st.text(st.characters(codec="utf-8"), max_size=60))
def test_words_come_back_as_they_were_written(text: str) -> None:
    """Quotes, braces, line ends, any script: a wording copied out reads back the same."""
    plain = text.replace("{", "(").replace("}", ")")
    own = {} if plain == standard_words("receipt")["thanks"] else {"thanks": plain}
    copied = write_words("receipt", own)

    assert parse_words("receipt", copied.encode("utf-8")) == own
    assert whole_words("receipt", own)["thanks"] == plain


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("thanks = ", "cannot be read"),
        ("\xff", "cannot be read"),
        ('thank = "x"', "no word 'thank'"),
        ("thanks = 3", "must be words in quotes"),
        ('statement = " "', "may not be empty"),
        ('thanks = "{donor}"', r"names \{donor\}"),
        ('boards_counted = "{number}"', "it may fill in: count"),
        ('language = "German"', "two or three small letters"),
        ('months = "a, b"', "twelve, with commas"),
        ('decimal_mark = "x"', "a point or a comma"),
    ],
)
def test_a_wording_that_would_fail_on_paper_is_refused(text: str, says: str) -> None:
    """The slip is named before anything is kept or printed."""
    with pytest.raises(BadFile, match=says):
        parse_words("receipt", text.encode("latin-1"))


def test_an_unknown_document_is_told() -> None:
    """With those that there are."""
    with pytest.raises(NotFound, match="one of: receipt, impact"):
        standard_words("invoice")


def test_what_is_filled_in_is_not_filled_again() -> None:
    """A donor's story with braces stands as it was told."""
    words = {"told": "“{story}” and {rest}"}

    assert fill(words, "told", story="{rest}", rest="x") == "“{rest}” and x"


@pytest.mark.parametrize(
    ("date_format", "told"),
    [("words", "4 May 2026"), ("iso", "2026-05-04"), ("dmy", "04.05.2026"), ("mdy", "05/04/2026")],
)
def test_a_day_is_put_as_the_place_puts_it(date_format: str, told: str) -> None:
    """One day, four ways."""
    assert Local(standard_words("year"), date_format).day("2026-05-04T10:00:00Z") == told


@pytest.mark.parametrize(
    ("units", "mg", "told"),
    [
        ("metric", 1_234_567, "1.23 kg"),
        ("metric", -20_400, "−20.4 g"),
        ("metric", 0, "0 g"),
        # One ounce is 28.349523125 g and one pound 453.59237 g, both exact by definition
        # (international yard and pound agreement, 1959; from memory).
        ("inch", 28_350, "1 oz"),
        ("inch", 453_593, "1 lb"),
        ("inch", 907_185, "2 lb"),
    ],
)
def test_a_mass_is_put_in_the_units_of_the_place(units: str, mg: int, told: str) -> None:
    """Grams and kilograms, or ounces and pounds."""
    assert Local(standard_words("year"), units=units).mass(mg) == told


def test_a_decimal_mark_and_months_follow_the_wording() -> None:
    """Another language needs no other program."""
    own = {"decimal_mark": ",", "months": ",".join(f"m{n}" for n in range(1, 13))}
    local = Local(whole_words("impact", own))

    assert local.mass(1500) == "1,5 g"
    assert local.day("2026-12-01") == "1 m12 2026"
    assert local.size(25.4, 50.8) == "25 × 51 mm"
    assert Local(whole_words("impact", own), units="inch").size(25.4, 12.7) == "1 × 0,5 in"
