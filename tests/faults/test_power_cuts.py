"""The power goes, and the next morning everything that was told as done is there."""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest

from tests.faults.disk import build, run_on_it
from tests.faults.power import Cut, Entry, Platter


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The disk that writes down, compiled."""
    return build(tmp_path_factory.mktemp("disk"))


def cut_power(library: Path, words: str) -> Any:
    """What a run of :mod:`tests.faults.power_cuts` tells."""
    ran = run_on_it(library, "tests.faults.power_cuts", [*words.split(), "--inside"])
    assert ran.stderr == ""
    return json.loads(ran.stdout)


def test_a_power_cut_takes_nothing_that_was_told(library: Path) -> None:
    """Beginning, working, copying, restoring: at no moment is an acknowledged event lost."""
    told = cut_power(library, "--images 300 --lives 6")

    assert told["faults"] == []
    assert told["images"] == 300
    assert told["operations"] > 6 * 500


def test_a_workshop_that_does_not_wait_for_the_disk_is_found_out(library: Path) -> None:
    """The trial sees what it is there to see: without SQLite's syncs, events are lost."""
    told = cut_power(library, "--images 40 --lives 2 --careless")

    assert told["lost"] > 5


def _written(platter: Platter) -> None:
    """A file of three sectors, of which the first is synced, and its name too."""
    steps = (
        Entry("O", "c", 3, 0, "/r/a", "", b""),
        Entry("W", "", 3, 0, "", "", b"1" * 512),
        Entry("S", "", 3, 0, "", "", b""),
        Entry("O", "o", 4, 0, "/r", "", b""),
        Entry("S", "", 4, 0, "", "", b""),
        Entry("W", "", 3, 512, "", "", b"2" * 1024),
        Entry("N", "", -1, 0, "/r/a", "/r/b", b""),
    )
    for step in steps:
        platter.do(step)


def images(tmp_path: Path, keep: float, tear: float, names: float) -> set[tuple[str, bytes]]:
    """What is found after a hundred cuts of a kind."""
    platter, found = Platter("/r"), set()
    _written(platter)
    for seed in range(100):
        place = tmp_path / str(seed)
        place.mkdir()
        dice = random.Random(seed)
        platter.lay_out(Cut(dice, keep, tear, names, dice.random() < 0.5), place)
        (path,) = place.iterdir()
        found.add((path.name, path.read_bytes()))
    return found


def test_what_was_synced_is_sure(tmp_path: Path) -> None:
    """Where all that came later is dropped, exactly the synced bytes and name are found."""
    assert images(tmp_path, 0, 0, 0) == {("a", b"1" * 512)}


def test_what_was_not_synced_may_be_there(tmp_path: Path) -> None:
    """A disk that wrote everything at once has it all."""
    assert images(tmp_path, 1, 0, 1) == {("b", b"1" * 512 + b"2" * 1024)}


def test_a_torn_write_leaves_any_of_its_sectors(tmp_path: Path) -> None:
    """Neither, the first, the second without the first, or both."""
    one, two, none = b"1" * 512, b"2" * 512, bytes(512)

    assert images(tmp_path, 0, 1, 0) == {
        ("a", one),
        ("a", one + two),
        ("a", one + none + two),
        ("a", one + two + two),
    }
