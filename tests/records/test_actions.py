"""The codes of the action sheet."""

from __future__ import annotations

from itertools import combinations

import pytest

from salvage.errors import BadCode, NotFound
from salvage.ids import LETTERS, next_code, parse_code
from salvage.records.actions import ACTION_KIND, ACTIONS, VERBS, find_action, is_action
from salvage.records.choices import BENCH_STAGES


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.name)
def test_every_action_has_a_code_of_our_grammar(action: object) -> None:
    """An action is scanned, typed and checked as every other code is."""
    code = getattr(action, "code", "")

    assert parse_code(code, kind=ACTION_KIND) == code
    assert find_action(code) is action
    assert set(code) - set("0123456789") <= set(LETTERS)


def test_three_wrong_characters_never_make_another_action() -> None:
    """A tired hand that misreads three characters gets a refusal, not a sale."""
    pairs = combinations([action.code for action in ACTIONS], 2)
    nearest = min(sum(a != b for a, b in zip(*pair, strict=True)) for pair in pairs)

    assert nearest >= 4


def test_a_name_tells_one_action() -> None:
    """No two actions are called the same, and every stage set by hand has one."""
    names = [action.name for action in ACTIONS]
    stages = [action.argument for action in ACTIONS if action.verb == "stage"]
    numbers = [action.argument for action in ACTIONS if action.verb == "quantity"]

    assert len(set(names)) == len(names) == len(ACTIONS)
    assert sorted(stages) == sorted(BENCH_STAGES)
    assert numbers == [str(number) for number in range(1, 11)]
    assert {"cut", "scrap", "undo", "confirm", "cancel", "done"} <= set(VERBS)


def test_a_thing_is_no_action() -> None:
    """A board's label under the scanner is not taken for an order."""
    with pytest.raises(BadCode, match="BC0002J is a board, not an action"):
        find_action("BC0002J")
    assert not is_action("BC0002J")


def test_a_code_that_no_sheet_has_is_not_found() -> None:
    """A code of the action kind that was never printed does nothing."""
    code, _ = next_code(ACTION_KIND, "X", 5000)
    with pytest.raises(NotFound, match=code):
        find_action(code)
