"""Cautions for cards and screens: usual ones, sourced, and deferring to those who know."""

from __future__ import annotations

import pytest

from salvage.errors import NotFound
from salvage.knowledge.cautions import (
    CAUTION_TOPICS,
    all_cautions,
    card_cautions,
    cautions_for,
    closing_line,
    find_caution,
)


@pytest.mark.parametrize("topic", CAUTION_TOPICS)
def test_every_set_ends_with_local_codes_and_licensed_practice(topic: str) -> None:
    """We inform; the law and the licensed decide."""
    texts = cautions_for(topic)

    assert texts[-1] == closing_line()
    assert texts.count(closing_line()) == 1
    assert "Local codes and licensed practice" in closing_line().text


def test_an_unknown_topic_still_defers() -> None:
    """Asking for what is not there gives the closing line, not silence."""
    assert cautions_for("cooking") == (closing_line(),)


@pytest.mark.parametrize(
    ("topic", "words"),
    [
        ("cutting", ["glass fibre", "lead", "HEPA", "eye protection"]),
        ("clearing", ["atteries", "Mercury", "Capacitors", "trained person", "beryllium"]),
        ("card", ["Not for children", "nickel", "dry cloth", "mouth"]),
        ("screen", ["RoHS", "lacquer"]),
    ],
)
def test_each_topic_names_its_dangers(topic: str, words: list[str]) -> None:
    """Who is about to cut, clear or sell reads what can hurt."""
    text = " ".join(caution.text for caution in cautions_for(topic))

    assert [word for word in words if word not in text] == []


def test_not_for_children_stays_unless_there_is_evidence() -> None:
    """Only a report for children's goods takes the line off the card."""
    plain = {caution.slug for caution in card_cautions()}
    proven = {caution.slug for caution in card_cautions(children_evidence=True)}

    assert plain - proven == {"not-for-children"}
    assert proven < plain


def test_every_caution_is_whole_and_sourced() -> None:
    """A card prints sentences, and a screen can say where each comes from."""
    for caution in all_cautions():
        assert caution.topic in CAUTION_TOPICS
        assert caution.text.endswith(".")
        assert caution.source.text


def test_a_caution_is_found_by_name() -> None:
    """Another room may ask for one."""
    assert find_caution("dust-lead").topic == "cutting"
    with pytest.raises(NotFound) as caught:
        find_caution("dust-led")
    assert caught.value.nearest[0] == "dust-lead"
