"""Every error is one clear line: where, what is wrong, the mend."""

from __future__ import annotations

import pytest

from salvage import errors
from salvage.errors import (
    BadCode,
    BadOutline,
    BadValue,
    Held,
    ManyMistakes,
    NoRoom,
    NotFound,
    Refused,
    SalvageError,
)


def test_an_error_reads_as_place_wrong_and_mend() -> None:
    """A maker who mistypes a kerf reads which field, what is wrong and what to write."""
    error = BadValue("'2x' is not a length", hint="write such as 2.0 mm", field="--kerf-mm")

    assert str(error) == "--kerf-mm: '2x' is not a length; write such as 2.0 mm"


def test_a_message_may_stand_alone() -> None:
    """Where there is nothing to add, nothing is added."""
    error = SalvageError("board BC0002J is already cut")

    assert str(error) == "board BC0002J is already cut"


def test_the_nearest_names_become_the_hint() -> None:
    """A code that is not in the workshop is answered with those that look like it."""
    error = NotFound("no board BC0002X", nearest=["BC0002J", "BC0005D"])

    assert str(error) == "no board BC0002X; nearest: BC0002J, BC0005D"
    assert error.nearest == ("BC0002J", "BC0005D")


def test_a_hint_of_ones_own_wins_over_the_nearest_names() -> None:
    """Where the caller knows the mend better, its words are printed."""
    error = NotFound("no board BC0002X", nearest=["BC0002J"], hint="scan the label again")

    assert str(error) == "no board BC0002X; scan the label again"


def test_all_mistakes_of_a_form_are_listed_in_order() -> None:
    """A drop-off form with two mistakes names both at once."""
    error = ManyMistakes(
        [BadValue("'x' is not a mass", field="weight"), BadValue("empty", field="donor")],
        hint="nothing was recorded",
    )

    assert str(error) == (
        "2 mistakes:\n  weight: 'x' is not a mass\n  donor: empty\nnothing was recorded"
    )


def test_one_mistake_is_counted_as_one() -> None:
    """A single mistake is not called mistakes."""
    error = ManyMistakes([BadValue("empty", field="donor")])

    assert str(error) == "1 mistake:\n  donor: empty"


@pytest.mark.parametrize("kind", [BadValue, BadCode, BadOutline])
def test_a_wrong_value_is_also_a_value_error(kind: type[SalvageError]) -> None:
    """A program that uses the package can catch wrong values the plain Python way."""
    with pytest.raises(ValueError):
        raise kind("wrong")


@pytest.mark.parametrize("kind", [Held, NoRoom])
def test_a_board_that_may_not_be_cut_is_a_refusal(kind: type[SalvageError]) -> None:
    """A held board and a shape without room are refusals, not typing mistakes."""
    assert issubclass(kind, Refused)
    assert not issubclass(kind, ValueError)


def test_every_error_stands_in_the_one_tree() -> None:
    """Catching the base catches whatever the workshop can say."""
    kinds = [
        value
        for value in vars(errors).values()
        if isinstance(value, type) and value.__module__ == errors.__name__
    ]
    strays = [kind.__name__ for kind in kinds if not issubclass(kind, SalvageError)]

    assert len(kinds) >= 12
    assert strays == []
