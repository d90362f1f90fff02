"""What is put into a symbol, and what is taken out of a scan."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.codes.draw import draw_qr
from salvage.codes.payload import unwrap, wrap
from salvage.errors import BadValue
from salvage.ids import KINDS, mint_code, next_code, parse_code

CODES = st.builds(
    lambda kind, last: next_code(kind, "C", last)[0],
    st.sampled_from(sorted(KINDS)),
    st.integers(0, 99_000),
)
HOSTS = st.from_regex(r"[a-z]{1,12}(\.[a-z]{2,8}){1,2}(/[a-z0-9]{1,6}){0,2}/?", fullmatch=True)


@given(code=CODES, host=HOSTS, prefix=st.sampled_from(["", "]C1", "]Q1", "]d2"]))
def test_a_wrapped_code_comes_back(code: str, host: str, prefix: str) -> None:
    """A card's address, scanned with or without a symbology prefix, leads to the same code."""
    scanned = prefix + wrap(code, web_address=host) + "\r\n"

    assert parse_code(unwrap(scanned)) == code


@given(text=st.text(max_size=60))
def test_unwrapping_twice_changes_nothing_more(text: str) -> None:
    """Whatever a reader gives, unwrapping it yields no control characters and no blanks."""
    once = unwrap(text)

    assert not any(character.isspace() or ord(character) < 32 for character in once)


@pytest.mark.parametrize(
    ("scanned", "candidate"),
    [
        ("BC0002J", "BC0002J"),
        ("  bc0002j\t", "bc0002j"),
        ("\x02BC0002J\x03", "BC0002J"),
        ("]C0BC0002J\x1d", "BC0002J"),
        ("https://tidebell.example/c/BC0002J/", "BC0002J"),
        ("HTTPS://TIDEBELL.EXAMPLE/BC0002J#top", "BC0002J"),
        ("BC 0002 J", "BC0002J"),
        ("5901234123457", "5901234123457"),
        ("", ""),
    ],
)
def test_a_scan_is_stripped_to_its_candidate(scanned: str, candidate: str) -> None:
    """Prefixes, control characters, blanks and the front of an address are no part of a code."""
    assert unwrap(scanned) == candidate


def test_a_code_stands_bare_when_the_workshop_has_no_page() -> None:
    """Without a web address the symbol holds the seven characters and nothing else."""
    assert wrap("BC0002J") == "BC0002J"


def test_an_address_in_capitals_makes_a_smaller_symbol() -> None:
    """Capitals pack tighter: the same address in small letters needs a larger symbol."""
    address = wrap("PC0002E", web_address="https://tide.example")
    sizes = [len(draw_qr(text, "Q").rows) for text in (address, address.lower())]

    assert address == "HTTPS://TIDE.EXAMPLE/PC0002E"
    assert sizes == [25, 29]


@pytest.mark.parametrize(
    "address", ["tidebell.example/?q=1", "ti de.example", "me@x.example", "://"]
)
def test_an_address_with_odd_marks_is_refused(address: str) -> None:
    """An address that would not pack tightly, or might be personal, is refused in one line."""
    with pytest.raises(BadValue) as refusal:
        wrap("BC0002J", web_address=address)

    assert "\n" not in str(refusal.value)
    assert address.strip() in str(refusal.value)


def test_an_address_of_nothing_but_a_scheme_is_refused() -> None:
    """An address needs a host."""
    with pytest.raises(BadValue, match="cannot stand"):
        wrap(str(mint_code("B", "C", 2)), web_address="https://")
