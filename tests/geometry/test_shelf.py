"""The whole shelf is asked at once, and answers like each board by itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from shapely.geometry.base import BaseGeometry

from salvage.geometry.fit import fit
from salvage.geometry.outline import to_polygon
from salvage.geometry.shelf import ShelfAnswer, ShelfBoard, ShelfQuery, decide_shelf
from salvage.geometry.shelf_index import IndexHead, write_index
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board, tern
from tests.benchmarks.correlation import is_clear

COUNT = 24


@cache
def shelf() -> tuple[ShelfBoard, ...]:
    """Two dozen boards, half of them partly cut."""
    return tuple(
        ShelfBoard(f"B{seed}", write_index(make_board(seed).ground())) for seed in range(COUNT)
    )


def load(key: str) -> BaseGeometry:
    """The ground of a board by its key."""
    return make_board(int(key[1:])).ground().area


def ask(name: str, **wishes: float) -> list[ShelfAnswer]:
    """All answers for a shape."""
    return list(
        decide_shelf(ShelfQuery(SHAPES[name], wishes.get("clearance_mm", 0.5)), shelf(), load)
    )


@pytest.mark.parametrize("name", ["two-lobed 60", "island 80", "star 70", "round 75", "kite 45"])
def test_the_shelf_answers_like_each_board(name: str) -> None:
    """A no of the shelf is never a fit of the board, and the other way round."""
    answers = ask(name)
    alone = {
        f"B{seed}": fit(SHAPES[name], make_board(seed).ground(), clearance_mm=0.5).verdict
        for seed in range(COUNT)
    }
    against = [answer for answer in answers if {answer.verdict, alone[answer.key]} == {"fit", "no"}]

    assert against == []
    assert sorted(answer.key for answer in answers) == sorted(alone)
    assert sum(answer.verdict == "tight" for answer in answers) <= 4


@pytest.mark.parametrize("name", ["two-lobed 25", "tide bell 60", "fern leaf 40"])
def test_every_fit_is_clear_of_everything(name: str) -> None:
    """Measured with the library's distances alone: half a millimetre all round."""
    fits = [answer for answer in ask(name) if answer.spot]
    clear = [
        is_clear(answer.spot, make_board(int(answer.key[1:])), kerf_mm=KERF_MM, clearance_mm=0.5)
        for answer in fits
        if answer.spot
    ]

    assert len(fits) >= 5
    assert all(clear)


def test_the_least_ground_comes_first() -> None:
    """Small remnants are used up before fresh boards, unless the caller ranks otherwise."""
    areas = [load(answer.key).area for answer in ask("kite 45")]

    assert areas == sorted(areas)


def test_the_caller_ranks() -> None:
    """Cleared before held, say: any sort key."""
    order: Callable[[ShelfBoard, IndexHead], object] = lambda board, head: -int(board.key[1:])  # noqa: E731
    query = ShelfQuery(SHAPES["kite 45"])
    keys = [answer.key for answer in decide_shelf(query, shelf(), load, order=order)]

    assert keys == [f"B{seed}" for seed in reversed(range(COUNT))]


def test_answers_come_before_the_whole_shelf_is_decided() -> None:
    """The first answer needs only the first boards' outlines."""
    asked: list[str] = []

    def noted(key: str) -> BaseGeometry:
        asked.append(key)
        return load(key)

    answers = decide_shelf(ShelfQuery(SHAPES["two-lobed 25"]), shelf(), noted)
    next(answers)

    assert len(asked) < COUNT
    assert len(list(answers)) == COUNT - 1


def test_outlines_are_asked_for_only_where_the_shape_seems_to_fit() -> None:
    """A shape larger than every board needs no outline at all."""

    def refuse(key: str) -> BaseGeometry:
        raise AssertionError(key)

    answers = list(decide_shelf(ShelfQuery(tern(600)), shelf(), refuse))

    assert {answer.verdict for answer in answers} == {"no"}


def test_angles_and_turning_over_are_kept() -> None:
    """Only the angles allowed come back."""
    query = ShelfQuery(tern(60), 0.0, (0, 90_000), mirrored_allowed=True)
    spots = [answer.spot for answer in decide_shelf(query, shelf(), load) if answer.spot]

    assert spots
    assert {spot.placement.angle_mdeg for spot in spots} <= {0, 90_000}
    assert all(load_covers(spot_key, query) for spot_key in ("B0", "B2"))


def load_covers(key: str, query: ShelfQuery) -> bool:
    """Whether the spot on one board lies on its ground."""
    (answer,) = decide_shelf(query, [b for b in shelf() if b.key == key], load)
    return answer.spot is not None and load(key).covers(to_polygon(answer.spot.region))


def test_an_empty_shelf_has_no_answers() -> None:
    """Nothing to ask, nothing to say."""
    assert list(decide_shelf(ShelfQuery(SHAPES["kite 45"]), [], load)) == []
