"""
No command reads all rows to show ten.

What SQLite does is counted in steps of its machine, which are the same on every computer and under
any load; ``python -m tests.benchmarks.growth`` measures times and memory in workshops that are
a hundred times larger.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench import make_shop
from tests.benchmarks.growth_lines import ALL, LINES, ONE, PAGE, SOME, Line
from tests.benchmarks.growth_steps import lay_picture, metered, names_of, quoted, steps_of
from tests.benchmarks.growth_world import grow
from tests.desk import Desk

TIMES = 3
"""How much larger the larger workshop is."""

# The smaller one is larger than a page of every list: of boards and articles 100, of drop-offs 50.
# Its pieces are more than the 1000 newest, among which the next thing to do is looked for.
FLAT_BOARDS, LINEAR_BOARDS, PIECES = 300, 20, 5

# Trees of indices grow a level, and tables are begun anew: so much may be added to a look-up.
SLACK = 1500

Pair = list[tuple[Desk, dict[str, str]]]


def _pair(folder: Path, boards: int) -> Pair:
    """A workshop, and one that is so many times larger; with the names of things in each."""
    made: Pair = []
    for many in (boards, boards * TIMES):
        home = folder / str(many)
        home.mkdir()
        with make_shop(home / "shop") as shop:
            grown = grow(shop, boards=many, pieces_per_board=PIECES, photos_per_board=1)
        lay_picture(home)
        made.append((Desk(home), names_of(grown)))
    return made


@pytest.fixture(scope="module")
def flat(tmp_path_factory: pytest.TempPathFactory) -> Pair:
    """Two workshops in which one thing is looked for."""
    return _pair(tmp_path_factory.mktemp("flat"), FLAT_BOARDS)


@pytest.fixture(scope="module")
def linear(tmp_path_factory: pytest.TempPathFactory) -> Pair:
    """Two small workshops over which all is told."""
    return _pair(tmp_path_factory.mktemp("linear"), LINEAR_BOARDS)


def _counted(pair: Pair, line: Line) -> tuple[int, int]:
    (small, _), (large, _) = (steps_of(desk, quoted(line.words, names)) for desk, names in pair)
    return small, large


# It draws every board of a donor, which takes seconds and asks SQLite for little.
_LEFT_TO_THE_BENCHMARK = "report donor"


def _of(*kinds: str) -> list[Line]:
    wanted = [line for line in LINES if line.grows in kinds]
    return [line for line in wanted if not line.words.startswith(_LEFT_TO_THE_BENCHMARK)]


@pytest.mark.parametrize("line", _of(ONE, PAGE), ids=lambda line: line.words)
def test_a_look_up_reads_no_more_in_a_larger_workshop(flat: Pair, line: Line) -> None:
    """One thing, or a page of things, is found at once among however many."""
    small, large = _counted(flat, line)

    assert large <= 1.15 * small + SLACK


@pytest.mark.parametrize("line", _of(SOME, ALL), ids=lambda line: line.words)
def test_what_is_told_of_all_grows_no_faster_than_the_workshop(linear: Pair, line: Line) -> None:
    """Three times the boards take three times the steps, not nine times."""
    small, large = _counted(linear, line)

    assert large <= 1.1 * TIMES * small + SLACK


def test_a_list_that_reads_everything_would_be_seen(flat: Pair) -> None:
    """The measure itself: counting all pieces without an index is told from counting a page."""
    steps = []
    for desk, _names in flat:
        with metered() as meter, make_shop(desk.shop) as shop:
            before = meter.steps
            shop.conn.execute("SELECT count(shape) FROM piece").fetchone()
            steps.append(meter.steps - before)

    assert steps[1] > 1.15 * steps[0] + SLACK


def test_the_lines_are_taken_as_they_are_typed(flat: Pair) -> None:
    """A line that is refused measures nothing: only these say no, and they are meant to."""
    desk, names = flat[0]
    refused = [
        line.words
        for line in _of(ONE, PAGE, SOME)
        if desk.run(quoted(line.words, names)).code not in (0, None)
    ]

    # The board of the second is held until its hazards are looked for, and so not handed over.
    assert refused == ["board show {mistyped}", "handover {board} --out h.svg --force"]
