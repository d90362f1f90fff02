"""
Canonical JSON against RFC 8785 and the reference package ``rfc8785``.

Our journal holds a part of JSON only: no floats, and ASCII keys. Within it the bytes must agree;
outside it our writer must refuse, never differ. Where each vector comes from: SOURCES.md.
"""

from __future__ import annotations

from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from salvage.canonical import LARGEST_INTEGER, canonical_bytes

ascii_keys = st.text(alphabet=st.characters(codec="ascii"), max_size=8)
leaves = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(min_value=-LARGEST_INTEGER, max_value=LARGEST_INTEGER),
    st.text(max_size=20),
    st.text(alphabet=st.characters(min_codepoint=0x10000), max_size=5),
    st.text(alphabet=st.characters(max_codepoint=0x1F), max_size=5),
)
values = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(ascii_keys, inner, max_size=4)
    ),
    max_leaves=12,
)

# RFC 8785, section 3.2.3: the members of the sorting example, in the order the text asks for.
SORTING_EXAMPLE = {
    "\r": "Carriage Return",
    "1": "One",
    "\u0080": "Control",
    "\u00f6": "Latin Small Letter O With Diaeresis",
    "\u20ac": "Euro Sign",
    "\U0001f600": "Emoji: Grinning Face",
    "\ufb33": "Hebrew Letter Dalet With Dagesh",
}


@given(values)
def test_the_reference_package_writes_the_same_bytes(value: Any) -> None:
    """Whoever checks our journal with another tool hashes the same bytes."""
    assert canonical_bytes(value) == rfc8785.dumps(value)


def test_the_ascii_members_of_the_sorting_example() -> None:
    """Carriage return sorts before 1, whatever order they were written in."""
    members = {key: SORTING_EXAMPLE[key] for key in ("1", "\r")}

    assert canonical_bytes(members) == b'{"\\r":"Carriage Return","1":"One"}'


def test_the_values_of_the_sorting_example() -> None:
    """The words of the whole example, as a list, come out as the reference writes them."""
    words = [*SORTING_EXAMPLE, *SORTING_EXAMPLE.values()]

    assert canonical_bytes(words) == rfc8785.dumps(words)


def test_the_example_was_copied_right() -> None:
    """The reference package gives the members of the example in the order of our copy."""
    jumbled = dict(sorted(SORTING_EXAMPLE.items(), key=lambda member: member[1]))
    written = rfc8785.dumps(jumbled).decode("utf-8")
    places = [written.index(f'"{word}"') for word in SORTING_EXAMPLE.values()]

    assert places == sorted(places)


@pytest.mark.parametrize("key", [key for key in SORTING_EXAMPLE if not key.isascii()])
def test_the_other_members_are_refused(key: str) -> None:
    """Keys whose order depends on the encoding never enter the journal."""
    with pytest.raises(TypeError, match="ASCII"):
        canonical_bytes({key: SORTING_EXAMPLE[key]})


def test_the_string_example() -> None:
    """RFC 8785, section 3.2.2: the string of the sample, with its escapes."""
    text = "\u20ac$\u000f\u000a\u0041\u0027\u0042\u0022\u005c\u005c\u0022\u002f"

    assert canonical_bytes(text) == '"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'.encode()


def test_the_literals_example() -> None:
    """RFC 8785, section 3.2.2: the literals of the sample."""
    assert canonical_bytes({"literals": [None, True, False]}) == b'{"literals":[null,true,false]}'
