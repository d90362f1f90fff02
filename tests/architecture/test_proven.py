"""The list of files that the tests run to the last branch is the store, and what it stands on."""

from __future__ import annotations

import tomllib
from pathlib import Path

TOP = Path(__file__).parents[2]


def test_the_whole_store_is_on_the_list() -> None:
    """A new file of the store is proven from its first day; no pattern names nothing."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))
    patterns = project["tool"]["salvage"]["proven"]
    found = {pattern: set(TOP.glob(pattern)) for pattern in patterns}

    assert all(found.values())
    assert set((TOP / "salvage" / "store").glob("*.py")) <= set().union(*found.values())


def test_nothing_of_it_is_left_out_by_a_remark() -> None:
    """A line that says that it need not run is not proven."""
    for path in (TOP / "salvage" / "store").glob("*.py"):
        assert "pragma: no cover" not in path.read_text("utf-8"), path.name
