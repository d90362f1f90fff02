"""No text of an export holds a name, however it is written and however many there are."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from salvage.work.sealed_words import NO_WORDS, gather_words

LETTERS = "abAßé .-ſ"


@given(
    st.lists(st.text(LETTERS, max_size=6), max_size=14),
    st.text(LETTERS, max_size=12),
)
def test_a_word_is_found_as_a_plain_search_finds_it(words: list[str], text: str) -> None:
    """By its first letters or one after the other: the answer is the same."""
    plainly = any(word.casefold() in text.casefold() for word in words if word.strip())

    assert gather_words(words).are_in(text) == plainly


def test_no_words_are_in_nothing() -> None:
    """An export with names withholds none."""
    assert not NO_WORDS.are_in("Kelpie Point Planetarium")
