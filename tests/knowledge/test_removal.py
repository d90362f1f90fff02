"""
What the law wants taken out of electronic waste, against the law's own list.

The items below stand in the order of Directive 2012/19/EU (WEEE), Annex VII, points 1 and 2,
consolidated text of 2024-04-08 (CELEX 02012L0019-20240408), read in a copy on 2026-11-30; one or
two key words of each are given, not its text. Items of the US rule: 40 CFR 261.4(a)(14).
"""

from __future__ import annotations

import pytest

from salvage.knowledge.hazards import all_hazards, find_hazard, hazards_expected
from salvage.knowledge.removal import free_of_list, removal_list

POINT_1 = (
    "polychlorinated biphenyls",
    "mercury",
    "batteries",
    "10 cm2",
    "toner",
    "brominated",
    "asbestos",
    "cathode ray",
    "hydrocarbons",
    "gas discharge lamps",
    "100 cm2",
    "external electric cables",
    "refractory ceramic fibres",
    "radioactive",
    "height above 25 mm, diameter above 25 mm",
)
POINT_2 = ("fluorescent coating", "ozone", "mercury of gas discharge lamps")

BATTERIES = {"coin-cell", "clock-battery", "potted-clock", "lithium-pack", "lead-acid"}
MERCURY = {"mercury-relay", "mercury-tilt", "backlight-lamp"}


@pytest.mark.parametrize(("point", "keys"), [(1, POINT_1), (2, POINT_2)])
def test_the_annex_is_complete_and_in_order(point: int, keys: tuple[str, ...]) -> None:
    """Fifteen things are to be removed and three to be treated; none is left out."""
    items = [item for item in removal_list() if item.point == point]

    assert [item.item for item in items] == list(range(1, len(keys) + 1))
    assert [key for item, key in zip(items, keys, strict=True) if key not in item.words] == []


def test_each_item_is_covered_or_says_why_it_does_not_concern_a_board() -> None:
    """No item of the law is passed over in silence, and none is answered twice."""
    for item in removal_list():
        assert bool(item.hazards) != bool(item.why_not), item.slug
        assert all(find_hazard(slug).slug == slug for slug in item.hazards)
        assert item.source.confidence == "read-primary"


def test_only_gases_and_the_treatment_of_lamps_and_tubes_are_no_matter_of_boards() -> None:
    """Whole appliances and licensed plants, not the bench."""
    left = {item.slug for item in removal_list() if not item.hazards}

    assert left == {"refrigerants", "tube-coating", "ozone-gases", "lamp-mercury"}


def test_a_hazard_that_cites_the_annex_stands_in_its_list() -> None:
    """The rows and the list cannot drift apart."""
    citing = {hazard.slug for hazard in all_hazards() if "Annex VII" in hazard.source.text}
    mapped = {slug for item in removal_list() for slug in item.hazards}

    assert citing <= mapped


@pytest.mark.parametrize("slug", sorted(BATTERIES | MERCURY))
def test_batteries_and_mercury_hold_a_board_at_any_size(slug: str) -> None:
    """Annex VII names batteries and mercury without a size below which they may stay."""
    hazard = find_hazard(slug)

    assert hazard.blocks_cutting
    assert hazard in hazards_expected("other")


def test_the_rule_for_batteries_and_mercury_has_all_our_kinds() -> None:
    """Each kind of battery and of mercury part that we know is under its item of the annex."""
    by_slug = {item.slug: set(item.hazards) for item in removal_list()}

    assert by_slug["batteries"] == BATTERIES
    assert by_slug["mercury-parts"] == MERCURY


def test_a_board_is_free_of_four_things_when_it_is_cut() -> None:
    """40 CFR 261.4(a)(14): mercury switches, mercury relays, nickel-cadmium, lithium."""
    listed = {item.slug: {hazard.slug for hazard in item.hazards} for item in free_of_list()}

    assert listed == {
        "mercury-switches": {"mercury-tilt"},
        "mercury-relays": {"mercury-relay"},
        "nickel-cadmium": {"clock-battery"},
        "lithium": {"coin-cell", "potted-clock", "lithium-pack"},
    }
