"""The walk-throughs say what the program says."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.docs.walk import PAGES, walk


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_walk_through_runs_as_written(page: Path, tmp_path: Path) -> None:
    """A newcomer who types the commands of a page reads what stands on the page."""
    text = page.read_text(encoding="utf-8")

    assert "$ salvage" in text
    assert "there is no" not in text  # a page whose commands miss one another
    assert walk(text, tmp_path) == text
