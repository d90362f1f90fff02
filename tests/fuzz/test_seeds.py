"""Kept inputs are tried again, and others that are like them."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fuzz.target import Finding, Importer, Target, judge
from tests.fuzz.targets import TARGETS

# What takes longer than some milliseconds for each input has its turn in the guided run.
QUICK = sorted(TARGETS.keys() - {"copy", "names", "command-line", "beginning", "labels"})


class Door:
    """
    An importer with its seeds.

    Args:
        target: Which.
        folder: A scratch folder.
    """

    def __init__(self, target: Target, folder: Path) -> None:
        for name in ("grown", "shop"):
            (folder / name).mkdir()
        self.target = target
        self.seeds = target.seeds(folder / "grown")
        self.importer: Importer = target.open(folder / "shop")

    def trace(self, data: bytes) -> str:
        """The traceback that an input ends in; empty where it is taken, or refused in our words."""
        outcome = judge(self.target.name, self.importer, data)
        return outcome.trace if isinstance(outcome, Finding) else ""


@pytest.fixture(scope="module")
def doors(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Door]:
    """Doors that were opened already."""
    del tmp_path_factory
    return {}


@pytest.fixture
def door(
    request: pytest.FixtureRequest,
    doors: dict[str, Door],
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Door]:
    """The door of the test's parameter; libraries' own warnings are not judged here."""
    name = str(request.param)
    if name not in doors:
        doors[name] = Door(TARGETS[name], tmp_path_factory.mktemp(name))
    logging.disable()
    yield doors[name]
    logging.disable(logging.NOTSET)


@pytest.mark.parametrize("door", sorted(TARGETS), indirect=True)
@pytest.mark.filterwarnings("ignore")
def test_kept_inputs_end_in_our_own_words(door: Door) -> None:
    """What once did harm, and what is sound, is taken or refused in one line."""
    # The examples of all commands are tried where the documents are.
    step = 9 if door.target.name == "command-line" else 1
    traces = [trace for data in door.seeds[::step] if (trace := door.trace(data))]

    assert traces == []


@pytest.mark.parametrize("door", QUICK, indirect=True)
@pytest.mark.filterwarnings("ignore")
def test_inputs_like_sound_ones_end_in_our_own_words(door: Door) -> None:
    """A file that somebody's program wrote almost right is refused, never a crash."""

    @given(
        seed=st.sampled_from(door.seeds),
        ways=st.lists(st.integers(min_value=0, max_value=2**32), min_size=1, max_size=4),
    )
    def every(seed: bytes, ways: list[int]) -> None:
        data = seed
        for way in ways:
            data = door.target.changed(Random(way), data)

        assert door.trace(data) == ""

    every()


@pytest.mark.parametrize("door", sorted(TARGETS.keys() - {"command-line"}), indirect=True)
def test_every_door_lets_something_in(door: Door) -> None:
    """A door that refuses everything would hide whatever lies behind it."""
    outcomes = {judge(door.target.name, door.importer, data) for data in door.seeds}

    assert "done" in outcomes or door.target.name in ("scans", "copy")
