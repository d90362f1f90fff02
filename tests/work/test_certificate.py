"""The data certificate: every field of the guideline, and not a word more than the record bears."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from salvage.errors import Refused
from salvage.ids import Code
from salvage.knowledge.sanitising import DIE_RULE, certificate_fields
from salvage.paper.data_certificate import STATEMENT
from salvage.work.certificate import (
    OPEN_WORDS,
    certificate_values,
    print_certificate,
)
from salvage.work.custody import show_custody
from salvage.work.custody_steps import (
    NewHandOver,
    NewMedium,
    NewSearch,
    describe_medium,
    hand_over_medium,
    search_for_data,
)
from salvage.work.donors import NewDonor
from salvage.work.photos import NewPhoto
from salvage.work.receive import NewDropOff, log_drop_off, settle_data_part
from salvage.work.sanitising import NewSanitising, sanitise_medium
from salvage.work.setup import change_settings
from salvage.work.workshop import Workshop
from tests.paper.printed import letters, pages_of, read_by_zbar, read_by_zxing
from tests.work.snapshots import phone_jpeg

SHRED = NewSanitising(
    "destroy",
    "shred",
    "bench shredder 2.1",
    "looked at",
    "Ilva Brandt",
    "bench lead",
    "back room",
    standard="IEEE 2883",
    die="destroyed",
    destination="Quay Street recycling yard",
)

SIGNED_BY_HAND = {"signature", "concurrence-signature"}

# NIST SP 800-88 Rev. 2, section 4.6 and Appendix C, as tabulated in public source code (the NIST
# text itself was not seen): the fields that a certificate of sanitisation shall have.
REQUIRED = {
    "manufacturer",
    "model",
    "serial-number",
    "organization-assigned-property-number",
    "media-type",
    "media-source",
    "sanitization-method",
    "sanitization-technique",
    "tool-and-version",
    "verification-method",
    "verified-by-name",
    "verified-by-title",
    "verification-date",
    "verification-location",
    "verifier-contact",
    "signature",
}


def _drop_off(shop: Workshop, name: str = "Kelpie Point Planetarium") -> Code:
    change_settings(shop, typed={"contact": "tidewrack@example.org"})
    donor = NewDonor(name, naming="anonymous", naming_how="spoken")
    parts = (("soldered storage", 1), ("hard disk", 1))
    new = NewDropOff(date(2026, 5, 2), "two controllers", data_parts=parts)
    return log_drop_off(shop, donor=donor, new=new).drop_off.code


def _destroyed(shop: Workshop, drop_off: Code) -> None:
    medium = NewMedium("Nocturn", "eMMC 8", "7A-113", source="rack 2", confidentiality="staff only")
    describe_medium(shop, drop_off=drop_off, n=1, new=medium)
    new = replace(SHRED, photo=NewPhoto(phone_jpeg(), "die.jpg", side="other"))
    sanitise_medium(shop, drop_off=drop_off, n=1, new=new)


def _says(pdf: bytes, text: str) -> bool:
    return "".join(text.split()) in letters(pdf)


def test_the_list_of_fields_is_that_of_the_guideline() -> None:
    """Fields that it asks for are marked so; the rest are its optional ones."""
    assert {field.slug for field in certificate_fields() if field.is_required} == REQUIRED


def test_every_field_of_the_guideline_is_on_the_paper(empty_shop: Workshop) -> None:
    """NIST SP 800-88 Rev. 2: each field has its label and its value; two are signed by hand."""
    drop_off = _drop_off(empty_shop)
    _destroyed(empty_shop, drop_off)
    medium = show_custody(empty_shop, drop_off=drop_off).media[0]
    values = certificate_values(empty_shop, medium)
    pdf = print_certificate(empty_shop, drop_off=drop_off)

    assert set(values) == {field.slug for field in certificate_fields()} - SIGNED_BY_HAND
    assert [slug for slug, value in values.items() if not value] == []
    for field in certificate_fields():
        if field.slug not in SIGNED_BY_HAND:
            assert _says(pdf, field.label + values[field.slug]), field.slug
    assert _says(pdf, "Signature of who verified it")
    assert _says(pdf, "Second signature")
    assert _says(pdf, DIE_RULE)
    assert _says(pdf, STATEMENT)


def test_the_paper_promises_nothing_of_its_own(empty_shop: Workshop) -> None:
    """The people who sign speak for the work; the paper says what the record holds."""
    promises = r"\b(we certify|is certified|guarantee\w*|irrecoverabl\w+|safe|compliant)\b"

    assert not re.search(promises, STATEMENT.lower())
    assert "certifies nothing" in STATEMENT


def test_an_open_part_is_told_as_open(empty_shop: Workshop) -> None:
    """Nobody can take the paper for the end of a disk that still lies on the shelf."""
    drop_off = _drop_off(empty_shop)
    _destroyed(empty_shop, drop_off)
    both = print_certificate(empty_shop, drop_off=drop_off)
    one = print_certificate(empty_shop, drop_off=drop_off, part=1)

    assert _says(both, OPEN_WORDS)
    assert not _says(one, OPEN_WORDS)
    assert not _says(one, f"{drop_off}-2")
    with pytest.raises(Refused, match="no data-bearing part 7"):
        print_certificate(empty_shop, drop_off=drop_off, part=7)


def test_the_code_on_the_paper_leads_back(empty_shop: Workshop) -> None:
    """Both readers find the drop-off's code on the first page."""
    drop_off = _drop_off(empty_shop)
    _destroyed(empty_shop, drop_off)
    page = pages_of(print_certificate(empty_shop, drop_off=drop_off), 150)[0]

    assert read_by_zxing(page) == [drop_off]
    assert read_by_zbar(page) == [drop_off]


@pytest.mark.parametrize("name", ["קרן האופק", "مرصد الساحل", "海辺の天文台"])
def test_names_in_other_scripts_are_printed(empty_shop: Workshop, name: str) -> None:
    """Right-to-left and other scripts: every letter of the donor's name is on their copy."""
    drop_off = _drop_off(empty_shop, name)
    _destroyed(empty_shop, drop_off)
    printed = letters(print_certificate(empty_shop, drop_off=drop_off))

    assert [letter for letter in name if letter.strip() and letter not in printed] == []


def test_a_search_without_a_find_has_a_paper_too(empty_shop: Workshop) -> None:
    """A planetarium that gave bare boards reads who looked, at what, and that nothing was found."""
    new = NewDropOff(date(2026, 5, 2), "bare boards")
    donor = NewDonor("Kelpie Point Planetarium")
    code = log_drop_off(empty_shop, donor=donor, new=new).drop_off.code
    with pytest.raises(Refused, match="nobody has looked"):
        print_certificate(empty_shop, drop_off=code)
    search = NewSearch((("none found", 0),), "14 boards, both sides", "lamp")
    search_for_data(empty_shop, drop_off=code, new=search)
    pdf = print_certificate(empty_shop, drop_off=code)

    assert _says(pdf, "4 May 2026, Maren: none found. Looked at: 14 boards, both sides, lamp.")
    assert letters(pdf).count("nonefound") == 1


def test_the_short_form_is_told_as_short(empty_shop: Workshop) -> None:
    """A part that was settled in a word has no fields, and the paper does not make any up."""
    drop_off = _drop_off(empty_shop)
    settle_data_part(empty_shop, drop_off=drop_off, n=2, state="destroyed", how="drilled")
    pdf = print_certificate(empty_shop, drop_off=drop_off, part=2)

    assert _says(pdf, "Recorded in short: drilled.")
    assert not _says(pdf, "Signature")


def test_hand_overs_are_told_in_the_order_of_days(empty_shop: Workshop) -> None:
    """From the door to the donor's hand, each with who gave it away."""
    drop_off = _drop_off(empty_shop)
    for role, to in (("carrier", "Ilva"), ("donor", "the porter")):
        step = NewHandOver(role, to, place="gate")
        hand_over_medium(empty_shop, drop_off=drop_off, n=2, new=step)
    printed = letters(print_certificate(empty_shop, drop_off=drop_off, part=2))
    places = [
        printed.index("".join(words.split()))
        for words in (
            "came in, taken by Maren",
            "handed to the carrier (Ilva) by Maren, gate",
            "handed to the donor (the porter)",
        )
    ]

    assert places == sorted(places)
    assert "Handedbacktothedonor." in printed
