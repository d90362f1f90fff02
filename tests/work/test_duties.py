"""Duties by place and topic: what is in the list, what is not, and whom to ask."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, NotFound
from salvage.knowledge.limits import limits
from salvage.work.duties import ADVICE, list_duties
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop


def test_a_workshop_in_california_reads_that_cutting_needs_notice(empty_shop: Workshop) -> None:
    """22 CCR 66273.74(a)(1): cutting boards is treatment; notice 30 days before."""
    change_settings(empty_shop, typed={"markets": "US-CA"})
    found = list_duties(empty_shop, topic="waste")
    slugs = [duty.limit.slug for duty in found.duties]

    assert {"ca-notice-accept", "ca-notice-cutting", "us-whole-boards", "basel-e-waste"} <= {*slugs}
    assert {duty.limit.jurisdiction for duty in found.duties} == {
        "California",
        "US federal",
        "International",
    }
    assert found.unknown == ()
    assert "Ask your local authority" in found.advice


def test_a_place_without_rows_is_said(empty_shop: Workshop) -> None:
    """No row is not the same as no duty; what holds between all states is shown."""
    found = list_duties(empty_shop, market="NZ", topic="waste")

    assert found.unknown == ("NZ",)
    assert [duty.limit.slug for duty in found.duties] == ["basel-e-waste"]
    assert found.advice == ADVICE


def test_where_no_place_is_chosen_all_rows_are_shown(empty_shop: Workshop) -> None:
    """So are they on request, wherever the workshop sells."""
    every = len(limits())
    nowhere = list_duties(empty_shop)
    change_settings(empty_shop, typed={"markets": "EU"})

    assert len(nowhere.duties) == every
    assert len(list_duties(empty_shop, every=True).duties) == every
    assert len(list_duties(empty_shop).duties) < every


def test_expired_rows_are_marked(empty_shop: Workshop) -> None:
    """California's looser rows held until 2020-05-31."""
    found = {d.limit.slug: d.state for d in list_duties(empty_shop, topic="jewellery").duties}

    assert found["ca-jewellery-plated-lead-2019"] == "expired"
    assert found["ca-jewellery-lead"] == "in force"


def test_what_is_no_topic_or_place_is_refused(empty_shop: Workshop) -> None:
    """With the nearest topic, and what places look like."""
    with pytest.raises(NotFound) as caught:
        list_duties(empty_shop, topic="jewelery")
    assert "jewellery" in caught.value.nearest
    with pytest.raises(BadValue, match="country code"):
        list_duties(empty_shop, market="Europe")
