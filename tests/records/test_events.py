"""What the journal may say: exactly the fields of a kind, each of its type."""

from __future__ import annotations

from typing import Any

import pytest

from salvage.errors import BadValue
from salvage.records.events import CORRECTABLE, KINDS, check_event_data

SAMPLES: dict[str, Any] = {"text": "x", "int": 1, "flag": True, "list": [], "map": {}}


@pytest.mark.parametrize("kind", sorted(KINDS.keys() - CORRECTABLE.keys()))
def test_a_kind_takes_its_own_fields_alone(kind: str) -> None:
    """Each field must be there, no other may be, and each is of the type that was promised."""
    fields = KINDS[kind]
    data = {name: SAMPLES[word.removesuffix("?")] for name, word in fields.items()}
    check_event_data(kind, data)
    with pytest.raises(BadValue, match="lacks or has too much of: mood"):
        check_event_data(kind, {**data, "mood": "good"})
    for name, word in fields.items():
        without = {key: value for key, value in data.items() if key != name}
        with pytest.raises(BadValue, match=f"lacks or has too much of: {name}$"):
            check_event_data(kind, without)
        for other, sample in SAMPLES.items():
            wrong = {**data, name: sample}
            if other == word.removesuffix("?"):
                check_event_data(kind, wrong)
            else:
                with pytest.raises(BadValue, match=f"field {name} .* must be {word.rstrip('?')}"):
                    check_event_data(kind, wrong)
        if word.endswith("?"):
            check_event_data(kind, {**data, name: None})
        else:
            with pytest.raises(BadValue, match=f"field {name} .* must be {word}"):
                check_event_data(kind, {**data, name: None})


def test_a_kind_that_nobody_knows_is_refused() -> None:
    """It is as likely a newer version's as a slip."""
    with pytest.raises(BadValue, match=r"'board\.sung' is no kind of event.*newer version"):
        check_event_data("board.sung", {})


def test_a_tuple_is_a_list() -> None:
    """JSON knows only one of them."""
    data = {name: SAMPLES[word.rstrip("?")] for name, word in KINDS["recall.joined"].items()}

    check_event_data("recall.joined", {**data, "items": ("BC0002J",)})


@pytest.mark.parametrize("kind", sorted(CORRECTABLE))
def test_a_correction_names_what_it_corrects_before_and_after(kind: str) -> None:
    """Every column that may be corrected, alone; the same ones before and after."""
    rest = {
        name: SAMPLES[word.rstrip("?")]
        for name, word in KINDS[kind].items()
        if name not in ("was", "now")
    }
    for name, word in CORRECTABLE[kind].items():
        good = {name: SAMPLES[word.rstrip("?")]}
        bad = {name: SAMPLES["list"]}
        check_event_data(kind, {**rest, "was": good, "now": good})
        for was, now in ((good, bad), (bad, good)):
            with pytest.raises(BadValue, match=f"field {name} .* must be"):
                check_event_data(kind, {**rest, "was": was, "now": now})
        for was, now in ((good, {}), ({}, good)):
            with pytest.raises(BadValue, match=f"cannot correct: {name}$"):
                check_event_data(kind, {**rest, "was": was, "now": now})
        if word.endswith("?"):
            check_event_data(kind, {**rest, "was": {name: None}, "now": good})
    with pytest.raises(BadValue, match="cannot correct: nothing"):
        check_event_data(kind, {**rest, "was": {}, "now": {}})
    with pytest.raises(BadValue, match="cannot correct: code"):
        check_event_data(kind, {**rest, "was": {"code": "x"}, "now": {"code": "y"}})


def test_what_may_be_corrected_is_written_down() -> None:
    """These are columns of the tables; each is a promise that is kept for ever."""
    found = {kind: sorted(fields) for kind, fields in CORRECTABLE.items()}

    assert found["donor.corrected"] == ["contact_seal", "name_seal", "source_kind"]
    assert found["dropoff.corrected"] == [
        *("board_count", "contents", "notes", "origin", "origin_country", "received_on"),
        *("story", "weight_mg"),
    ]
    assert found["board.corrected"] == [
        *("colour", "date_code", "maker", "model", "notes", "thickness_um", "type", "weight_mg"),
    ]
