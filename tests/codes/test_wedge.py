"""Lines from keyboard scanners, typed through layouts that the scanner does not know of."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.codes.payload import wrap
from salvage.codes.wedge import Scan, parse_scan, parse_scans
from salvage.errors import BadCode
from salvage.ids import KINDS, LETTERS, next_code, parse_code

LAYOUTS = {"fr": "French", "be": "Belgian", "cz": "Czech", "de": "German"}
VECTORS = Path(__file__).parents[1] / "vectors" / "keyboard_layouts.csv"
CODES = st.builds(
    lambda kind, device, last: next_code(kind, device, last)[0],
    st.sampled_from(sorted(KINDS)),
    st.sampled_from(LETTERS),
    st.integers(0, 999_000),
)


def keys(layout: str) -> dict[int, str]:
    """What each United States character becomes on a layout, from the X keyboard data."""
    lines = VECTORS.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {ord(row["us"]): row["typed"] for row in rows if row["layout"] == layout}


@pytest.mark.parametrize("layout", ["fr", "be", "cz"])
@given(code=CODES)
def test_a_code_survives_a_moved_digit_row(layout: str, code: str) -> None:
    """A code typed through a French, Belgian or Czech layout is found again."""
    typed = code.translate(keys(layout))
    scan = parse_scan(typed + "\n")

    assert typed != code
    assert parse_code(scan.text) == code
    assert scan.layout in {LAYOUTS[layout], "French"}


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
@given(code=CODES)
def test_a_card_address_survives_a_moved_layout(layout: str, code: str) -> None:
    """A whole address, its colon and slashes moved too, still leads to the code."""
    scanned = wrap(code, web_address="tidebell.example/zoo")
    scan = parse_scan("]Q1".translate(keys(layout)) + scanned.translate(keys(layout)) + "\r")

    assert parse_code(scan.text) == code
    assert scan.layout == LAYOUTS[layout]


@given(
    code=CODES,
    prefix=st.sampled_from(["", "]C0", "\x02"]),
    suffix=st.sampled_from(["", "\r\n", "\t", "\x1d"]),
)
def test_a_plain_scan_is_left_as_it_is(code: str, prefix: str, suffix: str) -> None:
    """On a plain layout nothing is undone, whatever the scanner puts around the code."""
    assert parse_scan(prefix + code + suffix) == Scan(code, "")


@given(line=st.text(max_size=30))
def test_a_layout_is_named_only_where_a_code_was_found(line: str) -> None:
    """A line is never called French unless its text then is one of our codes."""
    scan = parse_scan(line)
    if scan.layout:
        parsed = parse_code(scan.text)

        assert parsed[0] in KINDS


@given(code=CODES, data=st.data())
def test_a_mistyped_code_is_never_turned_into_another(code: str, data: st.DataObject) -> None:
    """One wrong digit stays wrong: no layout is tried on a line with plain digits."""
    place = data.draw(st.integers(2, len(code) - 2))
    digit = data.draw(st.sampled_from([d for d in "0123456789" if d != code[place]]))
    wrong = f"{code[:2]}-{code[2:place]}{digit}{code[place + 1 : -1]}-{code[-1]}"
    scan = parse_scan(wrong)

    assert scan == Scan(wrong, "")
    with pytest.raises(BadCode):
        parse_code(scan.text)


@pytest.mark.parametrize(
    ("line", "scan"),
    [
        ("BCàààéJ", Scan("BC0002J", "French")),
        ("BCÀÀÀÉJ", Scan("BC0002J", "French")),
        ("BC§§§§J", Scan("BC§§§§J", "")),
        ("BCééééěJ", Scan("BCééééěJ", "")),
        ("yes", Scan("yes", "")),
        ("", Scan("", "")),
    ],
)
def test_what_is_no_code_on_any_layout_is_given_as_typed(line: str, scan: Scan) -> None:
    """Only a line that becomes a code is changed; the face can say what it read instead."""
    assert parse_scan(line) == scan


@pytest.mark.parametrize("typed_with", ["fr", "be", "cz"])
@given(code=CODES, mark=st.sampled_from("6789"))
def test_no_layout_makes_another_code_of_a_scan(typed_with: str, code: str, mark: str) -> None:
    """
    Digits that are hyphens or dots elsewhere are not lost: a longer code never reads as a shorter.

    A French 6 is typed as a hyphen, which a code may be spaced with.
    """
    longer = code[:2] + mark + code[2:]
    scan = parse_scan(longer.translate(keys(typed_with)))

    assert scan.layout == "" or parse_code(scan.text) == longer


@given(codes=st.lists(CODES, min_size=1, max_size=4, unique=True), data=st.data())
def test_codes_in_one_line_are_all_found(codes: list[str], data: st.DataObject) -> None:
    """A scanner that leaves out the Enter loses no scan, whatever stands between the codes."""
    between = data.draw(st.sampled_from(["", " ", "\x1d", ";", "]C1", "]Q3", "]d2"]))
    scans = parse_scans(between.join(codes).lower())

    assert [parse_code(scan.text) for scan in scans] == codes


@pytest.mark.parametrize("layout", ["fr", "cz", "de"])
@given(codes=st.lists(CODES, min_size=2, max_size=3, unique=True))
def test_codes_in_one_line_survive_a_moved_layout(layout: str, codes: list[str]) -> None:
    """Two scans in one line through a foreign layout are both found."""
    scans = parse_scans("".join(codes).translate(keys(layout)))

    assert [parse_code(scan.text) for scan in scans] == codes
    assert len({scan.layout for scan in scans}) == 1


@pytest.mark.parametrize("framed", ["*BC0002J*", "#BC0002J;", "\x02BC0002J\x03", "<BC0002J>"])
def test_marks_round_a_code_are_no_part_of_it(framed: str) -> None:
    """Scanners that frame each scan with marks work as they are."""
    assert [scan.text for scan in parse_scans(framed)] == ["BC0002J"]


@pytest.mark.parametrize("line", ["BC0002J1", "BC00BC0002J", "yes BC0002J", "BC0002K BC0002J"])
def test_a_line_with_anything_else_is_not_split(line: str) -> None:
    """Where a line holds more than codes nothing is picked out of it."""
    scans = parse_scans(line)

    assert len(scans) == 1
    with pytest.raises(BadCode):
        parse_code(scans[0].text)


def test_a_code_scanned_twice_into_one_line_counts_once() -> None:
    """A held trigger without an Enter is one scan."""
    assert parse_scans("BC0002JBC0002J") == (Scan("BC0002J"),)
