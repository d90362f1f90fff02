"""Which limits bind which pieces where; and a result held against them, strictly."""

from __future__ import annotations

from datetime import date

import pytest

from salvage.errors import BadValue
from salvage.knowledge.amounts import parse_amount
from salvage.knowledge.limits import find_limit, limits
from salvage.knowledge.product_rules import (
    PARTS,
    PRODUCTS,
    is_skin_contact,
    judge,
    jurisdictions,
    parse_markets,
    product_rules,
    rules_of,
)

TODAY = date(2026, 5, 4)


def test_no_voluntary_standard_and_no_rohs_row_clears_a_piece() -> None:
    """ASTM F2999 allows thirty times the lead of EU and California; RoHS speaks of equipment."""
    used = {rule.limit.jurisdiction for rule in product_rules()}
    topics = {rule.limit.topic for rule in product_rules()}

    assert "US voluntary" not in used
    assert topics == {"jewellery", "ornament", "children"}
    assert {limit.jurisdiction for limit in limits(topic="jewellery")} - used == {"US voluntary"}


def test_every_upper_limit_for_products_is_a_rule() -> None:
    """No row of jewellery, ornament or children with a figure in a known unit is forgotten."""
    ours = {rule.limit.slug for rule in product_rules()}
    rows = {
        limit.slug
        for topic in ("jewellery", "ornament", "children")
        for limit in limits(topic=topic)
        if limit.jurisdiction != "US voluntary"
        and limit.unit in ("ppm", "% w/w", "ug/cm2/week", "ug/cm2/h")
        and limit.state_on(TODAY) == "in force"
    }

    assert rows <= ours


@pytest.mark.parametrize(
    ("result", "slug", "word"),
    [
        ("499 ppm", "eu-jewellery-lead", "meets"),
        ("0.05 %", "eu-jewellery-lead", "exceeds"),  # below, so the figure itself is too much
        ("100 ppm", "us-children-lead", "meets"),  # at most
        ("101 mg/kg", "us-children-lead", "exceeds"),
        ("0.5 ug/cm2/week", "eu-skin-nickel", "meets"),
        ("0.2 ug/cm2/week", "eu-post-nickel", "exceeds"),
        ("<10 ppm", "us-children-lead", "meets"),
        ("<600 ppm", "eu-jewellery-lead", "cannot tell"),
        ("<500 ppm", "eu-jewellery-lead", "cannot tell"),
        ("0.1 %", "eu-rohs-lead", "meets"),
        ("0.1 %", "eu-jewellery-lead", "exceeds"),  # RoHS allows what jewellery may not have
        ("1.5 %", "us-voluntary-unplated-lead", "meets"),
        ("1.5 %", "ca-jewellery-lead", "exceeds"),
        ("0.05 %", "sac305-impurity", "meets"),
        ("8 ug/dm2", "eu-jewellery-lead", "no comparison"),
        ("80 ppm", "us-coating-barrier", "no comparison"),
    ],
)
def test_a_result_is_held_against_a_row(result: str, slug: str, word: str) -> None:
    """Strictly, by the row's own sign: below is below, at most includes the figure."""
    assert judge(parse_amount(result), None, find_limit(slug)).word == word


@pytest.mark.parametrize(
    ("uncertainty", "word"), [("9 ppm", "meets"), ("0.001 %", "meets"), ("11 ppm", "cannot tell")]
)
def test_uncertainty_counts_against_the_piece(uncertainty: str, word: str) -> None:
    """90 ppm give or take 11 may be 101: nobody can tell that it meets 100."""
    found = judge(parse_amount("90 ppm"), parse_amount(uncertainty), find_limit("us-children-lead"))

    assert found.word == word


def test_a_figure_without_uncertainty_is_told_as_such() -> None:
    """It may meet the row, and the screen says that nobody knows how well."""
    row = find_limit("us-children-lead")

    assert judge(parse_amount("90 ppm"), None, row).why == "no uncertainty given"
    assert judge(parse_amount("<90 ppm"), None, row).why == ""


def test_an_expired_row_binds_nothing_today() -> None:
    """California allowed 6 % until 2020-05-31; a piece sold now is not held against that."""
    now = {rule.limit.slug for rule in rules_of("US-CA", day=TODAY)}
    then = {rule.limit.slug for rule in rules_of("US-CA", day=date(2020, 5, 31))}

    assert "ca-jewellery-plated-lead-2019" not in now
    assert "ca-jewellery-plated-lead-2019" in then
    assert "ca-jewellery-lead" in now - then


@pytest.mark.parametrize("part", PARTS)
def test_an_unknown_kind_is_bound_by_every_rule_of_any_kind(part: str) -> None:
    """What nobody named takes the strict branch."""
    for rule in product_rules():
        for product in PRODUCTS:
            if rule.binds(product, part, "adult"):
                assert rule.binds("unknown", part, "adult"), rule.limit.slug


def test_skin_contact_by_kind() -> None:
    """Earring, pendant and ring lie on the skin; an ornament does not."""
    known = {product: is_skin_contact(product) for product in PRODUCTS}

    assert [product for product, yes in known.items() if not yes] == [
        "brooch",
        "key ring",
        "ornament",
    ]


def test_markets_are_places_of_our_list_or_said_to_be_unknown() -> None:
    """California is in the United States; a member state is in the union; the rest is not known."""
    assert jurisdictions("US-CA") == ("US federal", "California")
    assert jurisdictions("US-OR") == ("US federal",)
    assert jurisdictions("FI") == ("EU",)
    assert jurisdictions("GB") == ()
    assert parse_markets("") == ""
    for text in ("Europe", "EU-CA", "US-CALIF"):
        with pytest.raises(BadValue):
            parse_markets(text, field="markets")
