"""One true form of a ring, and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadOutline
from salvage.geometry.rings import check_ring, find_crossing, place_of_reason, tidy_ring
from salvage.records.region import Ring, twice_area

SQUARE: Ring = ((0, 0), (5000, 0), (5000, 5000), (0, 5000))


@given(turn=st.integers(0, 3), backwards=st.booleans(), hole=st.booleans())
def test_a_ring_has_one_true_form(turn: int, backwards: bool, hole: bool) -> None:
    """However the corners were typed, the same ring comes out."""
    typed = SQUARE[turn:] + SQUARE[:turn]
    typed = typed[::-1] if backwards else typed
    tidy = tidy_ring((*typed, typed[0]), hole=hole)

    assert tidy == tidy_ring(SQUARE, hole=hole)
    assert (twice_area(tidy) < 0) == hole


def test_a_ring_of_one_repeated_point_is_one_point() -> None:
    """Clicking four times on one spot gives one point."""
    assert tidy_ring(((3, 3), (3, 3), (3, 3))) == ((3, 3),)
    assert tidy_ring(()) == ()


def test_a_crossing_is_found_where_it_is() -> None:
    """The two diagonals of a 10 mm square cross in its middle."""
    crossing = find_crossing(((0, 0), (10_000, 10_000), (10_000, 0), (0, 10_000)))

    assert crossing == (5000.0, 5000.0)
    assert find_crossing(SQUARE) is None


def test_a_reason_without_a_place_gives_the_origin() -> None:
    """The message still comes when the library names no place."""
    assert place_of_reason("Too few points in geometry component") == (0.0, 0.0)


@pytest.mark.parametrize(
    ("ring", "words"),
    [
        (((0, 0), (5000, 0)), "only 2 different points"),
        (((0, 0), (5000, 0), (9000, 0)), "no area"),
        (((0, 0), (2_000_001, 0), (0, 10)), "2000 mm each way"),
        (((0, 0), (9000, 9000), (9000, 0), (0, 5000)), "crosses or touches itself near x "),
    ],
)
def test_what_is_no_ring_is_refused(ring: Ring, words: str) -> None:
    """Each refusal says what is wrong and names the field."""
    with pytest.raises(BadOutline) as refusal:
        check_ring(tidy_ring(ring), name="the outline", field="--points")

    assert words in str(refusal.value)
    assert refusal.value.field == "--points"
    assert refusal.value.hint
