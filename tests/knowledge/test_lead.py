"""What a card may say about lead: a warning always, a clearance never."""

from __future__ import annotations

import re

import pytest

from salvage.errors import BadValue
from salvage.knowledge.lead import lead_caution, parse_lead_status
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
