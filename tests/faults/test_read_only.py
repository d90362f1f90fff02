"""A workshop on a disk that cannot be written: looking works, each change is told in one line."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from typing import Any

import pytest

from tests.faults.disk import ROOT
from tests.faults.read_only import LOOKING, WRITING


@pytest.fixture(scope="module")
def told() -> dict[str, dict[str, dict[str, Any]]]:
    """What each command line told a user without rights, by the workshop it was tried on."""
    ran = subprocess.run(
        [sys.executable, "-m", "tests.faults.read_only"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, dict[str, dict[str, Any]]] = json.loads(ran.stdout)["told"]
    return found


@pytest.mark.parametrize("sealed", ["folder", "file"])
@pytest.mark.parametrize("line", LOOKING)
def test_looking_works_where_nothing_can_be_written(
    told: dict[str, dict[str, dict[str, Any]]], sealed: str, line: str
) -> None:
    """A cleanly closed workshop answers from a sealed card as it did at the bench."""
    assert told[sealed][line] == told["shop"][line]
    assert told[sealed][line]["code"] == 0


@pytest.mark.parametrize("sealed", ["folder", "file"])
@pytest.mark.parametrize("line", WRITING)
def test_a_change_is_refused_in_one_line(
    told: dict[str, dict[str, dict[str, Any]]], sealed: str, line: str
) -> None:
    """What cannot be written is named, with the mend below it."""
    ran = told[sealed][line]

    assert ran["code"] == 1
    assert re.fullmatch(r"salvage: \S+: .*cannot be written\n  .+\n", ran["err"])


@pytest.mark.parametrize(
    ("shop", "says"),
    [
        ("unclosed", r"was not closed cleanly.*\n  copy the whole folder"),
        ("closed-folder", r"Permission denied\n"),
        ("closed-file", r"it cannot be opened\n  check that"),
    ],
)
def test_what_cannot_be_read_is_told_in_one_line(
    told: dict[str, dict[str, dict[str, Any]]], shop: str, says: str
) -> None:
    """Not closed cleanly, no rights to the folder, none to the file: no older state is shown."""
    for ran in told[shop].values():
        assert (ran["code"], ran["out"]) == (1, "")
        assert re.search(says, ran["err"])


def test_elsewhere_it_is_told_too(told: dict[str, dict[str, dict[str, Any]]]) -> None:
    """Neither a copy nor a new workshop begins where nothing can be written."""
    copy, new = list(told["folder"].values())[-2:]

    assert (copy["code"], new["code"]) == (1, 1)
    assert "the folder cannot be written" in copy["err"]
    assert "cannot be made: Permission denied" in new["err"]
