"""Every fact says where it comes from and how far it may be trusted."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue
from salvage.knowledge.source import CONFIDENCES, Source, weakest


def test_what_nobody_read_is_weak() -> None:
    """Screens show trade lore and memory as weaker than what was read."""
    weak = {word for word in CONFIDENCES if Source("a page", word).is_weak}

    assert weak == {"common-practice", "memory"}


def test_official_text_is_strongest() -> None:
    """A chain of facts is as good as its weakest link."""
    law = Source("a law, article 3", "read-primary")
    page = Source("a page that quotes it", "read-secondary")
    lore = Source("common practice, no source", "common-practice")

    assert law.rank < page.rank < lore.rank
    assert weakest([law, lore, page]) == lore


def test_a_source_prints_with_its_confidence() -> None:
    """The reader sees both."""
    assert str(Source("ISO 216", "memory")) == "ISO 216 (from memory, not confirmed)"


@pytest.mark.parametrize(("text", "word"), [("", "memory"), ("  ", "memory"), ("ISO 216", "sure")])
def test_a_fact_without_source_or_with_a_strange_word_is_refused(text: str, word: str) -> None:
    """A row that was typed carelessly does not get in."""
    with pytest.raises(BadValue):
        Source(text, word)


def test_the_weakest_of_none_is_refused() -> None:
    """A claim that rests on nothing has no source."""
    with pytest.raises(ValueError):
        weakest([])


def test_a_source_says_when_it_was_read() -> None:
    """Laws change: the reader sees how old the reading is."""
    law = Source("a law, article 3", "read-primary", "2026-11-30")

    assert str(law) == "a law, article 3 (read in the official text or page, 2026-11-30)"
    with pytest.raises(BadValue):
        Source("a law", "read-primary", "last week")


def test_weak_and_own_rows_look_weaker() -> None:
    """What nobody read is marked before it begins; a row of the workshop's says whose it is."""
    lore = Source("common practice, no source", "common-practice")
    own = Source("the fire brigade's leaflet", "read-primary", "2026-11", is_own=True)

    assert lore.marked_words == "weak: common practice, no source"
    assert own.marked_words == own.words
    assert "the workshop's own row" in own.words
