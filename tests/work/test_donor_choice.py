"""Whether a typed donor is one already known."""

from __future__ import annotations

import pytest

from salvage.errors import BadCode, NotFound, Refused
from salvage.ids import Code, next_code
from salvage.work.donors import NewDonor, choose_donor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import PLANETARIUM, START


def _give(shop: Workshop, donor: NewDonor) -> Code:
    return log_drop_off(shop, donor=donor, new=NewDropOff(START.date(), "a box")).donor.donor.code


def test_a_name_that_is_new_is_a_new_donor(empty_shop: Workshop) -> None:
    """The first delivery of somebody makes the donor."""
    told = NewDonor("Ilva Brandt")

    assert choose_donor(empty_shop, typed="Ilva Brandt", new=told) is told


def test_name_and_code_mean_the_known_donor(empty_shop: Workshop) -> None:
    """In any case and spacing, and by code."""
    code = _give(empty_shop, PLANETARIUM)
    again = NewDonor(PLANETARIUM.name)
    told = NewDonor(PLANETARIUM.name, naming="described", described_as="a planetarium")

    assert choose_donor(empty_shop, typed="kelpie  POINT planetarium", new=again) == code
    assert choose_donor(empty_shop, typed=code.lower(), new=again) == code
    assert choose_donor(empty_shop, typed=PLANETARIUM.name, new=told) == code


@pytest.mark.parametrize(
    ("told", "field"),
    [
        (NewDonor("", naming="named"), "--naming"),
        (NewDonor("", described_as="an observatory"), "--described-as"),
        (NewDonor("", naming="described", naming_how="by letter"), "--naming-how"),
        (NewDonor("", source_kind="firm"), "--source"),
        (NewDonor("", contact="elsewhere"), "--contact"),
    ],
)
def test_a_known_donor_told_otherwise_is_refused(
    empty_shop: Workshop, told: NewDonor, field: str
) -> None:
    """Consent is changed on purpose, never by the way."""
    _give(empty_shop, PLANETARIUM)
    with pytest.raises(Refused, match="known already") as caught:
        choose_donor(empty_shop, typed=PLANETARIUM.name, new=told)

    assert caught.value.field == field


def test_two_of_one_name_are_a_question(empty_shop: Workshop) -> None:
    """The codes of both are offered."""
    codes = [_give(empty_shop, NewDonor("Ada")) for _ in range(2)]
    with pytest.raises(Refused) as caught:
        choose_donor(empty_shop, typed="ada", new=NewDonor("ada"))

    assert all(code in caught.value.hint for code in codes)


def test_a_code_that_is_none_makes_no_donor(empty_shop: Workshop) -> None:
    """A misread code, another kind's and an unknown one never become a name."""
    code = _give(empty_shop, PLANETARIUM)
    wrong = code[:-1] + ("B" if code[-1] != "B" else "C")
    for typed in (wrong, "BC0002J"):
        with pytest.raises(BadCode):
            choose_donor(empty_shop, typed=typed, new=NewDonor(typed))
    with pytest.raises(NotFound):
        choose_donor(empty_shop, typed=next_code("G", "C", 900)[0], new=NewDonor("x"))


def test_a_name_with_digits_is_a_name(empty_shop: Workshop) -> None:
    """A school may have a number."""
    told = NewDonor("School 42")

    assert choose_donor(empty_shop, typed="School 42", new=told) is told


def test_a_known_donor_who_now_wishes_no_name_is_not_overheard(empty_shop: Workshop) -> None:
    """Whoever says "anonymous" of a donor on record is told where to write that down."""
    code = _give(empty_shop, PLANETARIUM)
    silent = NewDonor(PLANETARIUM.name, naming="anonymous")
    with pytest.raises(Refused, match="recorded as 'described', not 'anonymous'") as caught:
        choose_donor(empty_shop, typed=PLANETARIUM.name, new=silent, stated=["naming"])

    assert f"salvage donor naming {code}" in caught.value.hint
    assert choose_donor(empty_shop, typed=PLANETARIUM.name, new=silent) == code
