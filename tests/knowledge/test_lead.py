"""What a card may say about lead: a warning always, a clearance never."""

from __future__ import annotations

import re
from datetime import date

import pytest

from salvage.errors import BadValue
from salvage.knowledge.lead import (
    LeadResult,
    infer_lead,
    lead_caution,
    lead_statement,
    parse_lead_status,
)
from salvage.records.choices import LEAD_STATUSES


@pytest.mark.parametrize("status", LEAD_STATUSES)
def test_every_status_has_a_caution(status: str) -> None:
    """Whatever is known, the card keeps the piece away from children."""
    caution = lead_caution(status)

    assert caution.status == status
    assert caution.text.startswith("Lead: ")
    assert "away from children" in caution.text
    assert caution.source.text


@pytest.mark.parametrize("status", LEAD_STATUSES)
def test_no_caution_certifies(status: str) -> None:
    """The words that would promise something never appear."""
    promises = r"\b(safe|free of lead|certified|complies|compliant|harmless|guarantee\w*|passed)\b"

    assert not re.search(promises, lead_caution(status).text.lower())


def test_a_mark_is_told_as_a_mark() -> None:
    """RoHS allows 0.1 %, the EU jewellery limit is 0.05 %: the mark shows nothing about it."""
    text = lead_caution("marked-lead-free").text

    assert "mark does not show" in text
    assert "jewellery" in text


@pytest.mark.parametrize("status", ["unknown", "assumed-leaded", "marked-lead-free"])
def test_lacquer_is_no_excuse(status: str) -> None:
    """16 CFR 1500.87: a coating is no barrier for children's goods."""
    assert "coating is not counted on" in lead_caution(status).text


def test_a_test_speaks_only_for_what_it_names() -> None:
    """A report on one part does not clear the whole piece."""
    assert "only for the parts and the limit it names" in lead_caution("tested").text


def test_an_odd_status_is_treated_as_unknown() -> None:
    """The strict branch is the way out."""
    assert lead_caution("probably fine") == lead_caution("unknown")


def test_what_is_assumed_is_not_better_founded_than_trade_lore() -> None:
    """The sentences are ours; the screen shows them as such."""
    assert all(lead_caution(status).source.is_weak for status in LEAD_STATUSES)


def test_statuses_are_read_as_people_type_them() -> None:
    """Spaces or hyphens, any case."""
    assert parse_lead_status("Assumed leaded") == "assumed-leaded"
    with pytest.raises(BadValue):
        parse_lead_status("lead free", field="lead")


RESULT = LeadResult("laminate", "below 10 ppm", "x-ray fluorescence", "2026-05-03")
PROMISES = r"lead.free\b(?! mark)|free of lead|no lead|safe|certif|compl[iy]|harmless|guarantee"


@pytest.mark.parametrize("status", LEAD_STATUSES)
@pytest.mark.parametrize("untested", [(), ("solder", "finding")])
@pytest.mark.parametrize("for_children", [False, True])
def test_a_measured_result_is_told_as_a_figure(
    status: str, untested: tuple[str, ...], for_children: bool
) -> None:
    """Even below what the method can see, the card says the figure, and never 'lead-free'."""
    text = lead_statement(status, [RESULT], untested=untested, for_children=for_children).text

    assert "laminate below 10 ppm (x-ray fluorescence, 2026-05-03)" in text
    assert not re.search(PROMISES, text.lower())
    assert "speaks only for the part it names" in text
    assert ("Not tested, so treated as present: solder, finding." in text) is bool(untested)
    assert ("away from children" in text) is not for_children


@pytest.mark.parametrize("status", LEAD_STATUSES)
def test_without_a_result_the_status_alone_speaks(status: str) -> None:
    """No status says that a piece is free of lead, 'tested' least of all."""
    statement = lead_statement(status, [], for_children=True)

    assert statement == lead_caution(status)
    assert not re.search(PROMISES, statement.text.lower().replace("lead-free or rohs mark", ""))


def test_many_results_are_cut_short_and_counted() -> None:
    """A card holds four; the others are on record, and that is said."""
    text = lead_statement("tested", [RESULT] * 6).text

    assert text.count("below 10 ppm") == 4
    assert "; 2 more (method and day on record)" in text


@pytest.mark.parametrize("week", ["", "AX7", "9843", "0626", "0627", "2018"])
def test_nothing_is_inferred_from_a_date_but_a_lower_bound(week: str) -> None:
    """RoHS allows twice the jewellery limit, and a date code is the earliest day only."""
    found = infer_lead(week, today=date(2026, 5, 4))
    told = " ".join(each.text for each in found)

    assert "the mark shows nothing about a pendant" in told
    assert "0.1 % lead" in told
    assert "below 0.05 %" in told
    assert "up to 0.05 % lead" in told
    assert ("No date code is read" in told) is (week in ("", "AX7"))
    assert ("at the earliest" in told) is (week not in ("", "AX7"))
    assert all(each.source.text for each in found)
    assert not re.search(r"\b(safe|so it is free|therefore)\b", told)


def test_the_week_of_the_rohs_day_lies_on_both_sides() -> None:
    """Directive 2002/95/EC applied from 2006-07-01, a Saturday: inside week 0626."""
    told = " ".join(each.text for each in infer_lead("0626", today=date(2026, 5, 4)))

    assert "2006-07-01 lies inside this week" in told
    assert "servers, storage and telecom equipment were exempt" in told
    assert "Before 2006-07-01 leaded solder was usual" in told
