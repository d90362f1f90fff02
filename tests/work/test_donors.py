"""Donors: kept apart, named only as they wish."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue, NotFound
from salvage.ids import Code, next_code
from salvage.work.donors import (
    UNNAMED,
    NewDonor,
    find_donors,
    list_donors,
    public_name,
    set_naming,
    view_donor,
)
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import START, dump


def _give(shop: Workshop, donor: NewDonor) -> Code:
    return log_drop_off(shop, donor=donor, new=NewDropOff(START.date(), "a box")).donor.donor.code


NAMED = NewDonor("Harbour Radio", naming="named", naming_how="signed the slip")
DESCRIBED = NewDonor("St Brannoc Ward 4", naming="described", described_as="a hospital")
SILENT = NewDonor("Ilva Brandt", contact="12 Quay Street")


@pytest.mark.parametrize(
    ("donor", "public"), [(NAMED, "Harbour Radio"), (DESCRIBED, "a hospital"), (SILENT, UNNAMED)]
)
def test_each_donor_appears_as_agreed(empty_shop: Workshop, donor: NewDonor, public: str) -> None:
    """By name, by a description, or not at all."""
    code = _give(empty_shop, donor)

    assert public_name(empty_shop.conn, code) == public
    assert view_donor(empty_shop.conn, code).name == donor.name


def test_no_wish_means_unnamed(empty_shop: Workshop) -> None:
    """A donor of whom nothing was asked is anonymous: silence is no consent."""
    code = _give(empty_shop, NewDonor("Harbour Radio", described_as="a radio station"))

    assert view_donor(empty_shop.conn, code).public == UNNAMED


def test_private_words_stay_with_the_owner(empty_shop: Workshop) -> None:
    """Name and contact are there for the owner, and in no table of the projection."""
    code = _give(empty_shop, SILENT)
    view = view_donor(empty_shop.conn, code)
    tables = {name: rows for name, rows in dump(empty_shop).items() if name != "private_field"}

    assert (view.name, view.contact) == ("Ilva Brandt", "12 Quay Street")
    assert "Brandt" not in repr(tables)
    assert "Quay" not in repr(tables)


def test_a_wish_may_change(empty_shop: Workshop) -> None:
    """A donor who signs later is named from then on, and may take it back again."""
    code = _give(empty_shop, SILENT)
    named = set_naming(empty_shop, donor=code, naming="named", naming_how="by letter")
    taken_back = set_naming(empty_shop, donor=code, naming="anonymous", naming_how="by telephone")

    assert named.public == "Ilva Brandt"
    assert taken_back.public == UNNAMED
    assert taken_back.donor.naming_how == "by telephone"
    assert taken_back.donor.naming_at > named.donor.naming_at


def test_a_description_stays_when_none_is_given(empty_shop: Workshop) -> None:
    """Only what is said anew changes."""
    code = _give(empty_shop, DESCRIBED)
    set_naming(empty_shop, donor=code, naming="anonymous", naming_how="asked")
    again = set_naming(empty_shop, donor=code, naming="described", naming_how="asked")

    assert again.public == "a hospital"


@pytest.mark.parametrize(
    ("donor", "naming", "says"),
    [(SILENT, "described", "needs a description"), (NewDonor(""), "named", "needs a name")],
)
def test_a_wish_without_its_words_is_refused(
    empty_shop: Workshop, donor: NewDonor, naming: str, says: str
) -> None:
    """A described donor needs a description, a named one a name; nothing is written."""
    code = _give(empty_shop, donor)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match=says):
        set_naming(empty_shop, donor=code, naming=naming, naming_how="asked")

    assert dump(empty_shop) == before


def test_an_unknown_donor_is_not_found(empty_shop: Workshop) -> None:
    """A wish of a donor whom nobody recorded is refused."""
    code, _ = next_code("G", "K", 0)

    with pytest.raises(NotFound, match="no donor"):
        set_naming(empty_shop, donor=code, naming="anonymous", naming_how="asked")


def test_a_wish_that_the_tables_do_not_know_is_one_line(empty_shop: Workshop) -> None:
    """A word that slipped past the gates ends in our own error, with nothing written."""
    code = _give(empty_shop, SILENT)
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="does not fit the record"):
        set_naming(empty_shop, donor=code, naming="famous", naming_how="asked")

    assert dump(empty_shop) == before


def test_donors_are_found_by_name_in_any_spacing(empty_shop: Workshop) -> None:
    """Who types the name with two blanks or in capitals finds the same donor."""
    code = _give(empty_shop, NAMED)
    _give(empty_shop, SILENT)
    found = find_donors(empty_shop, "  HARBOUR   radio ")

    assert [view.donor.code for view in found] == [code]
    assert [view.name for view in list_donors(empty_shop)] == ["Harbour Radio", "Ilva Brandt"]


def test_half_a_character_is_one_line(empty_shop: Workshop) -> None:
    """A name of bytes that are no text, as a terminal may hand on, ends in one clear line."""
    before = dump(empty_shop)
    with pytest.raises(BadValue, match="cannot be kept"):
        _give(empty_shop, NewDonor("Kelpie \udcff Point"))
    with pytest.raises(BadValue, match="cannot be kept"):
        _give(empty_shop, NewDonor("", described_as="a planet\udcffarium"))

    assert dump(empty_shop) == before
