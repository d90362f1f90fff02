"""Lines from keyboard scanners, typed through layouts that the scanner does not know of."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.codes.payload import wrap
from salvage.codes.wedge import Scan, parse_scan
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
