"""Every library we lean on has a lowest version, and the gate runs with it."""

from __future__ import annotations

import pytest

from tests.architecture.bounds import lowest_pins
from tests.architecture.tree import ROOT


def test_every_dependency_has_a_lower_bound() -> None:
    """An old machine in the workshop gets an answer before it installs, not after."""
    pins = lowest_pins((ROOT / "pyproject.toml").read_text(encoding="utf-8"))

    assert len(pins) >= 5
    assert all("==" in pin for pin in pins)


def test_bounds_are_read_from_any_spelling() -> None:
    """Spaces, extras, upper bounds and markers do not hide the lower bound."""
    text = '[project]\ndependencies = ["a >= 1.2", "b-c[d]>=0.3,<2", "e>=4; os_name == \'nt\'"]'

    assert lowest_pins(text) == ["a==1.2", "b-c==0.3", "e==4"]


@pytest.mark.parametrize("wanted", ["rich", "rich<20", "rich==13"])
def test_a_missing_bound_is_caught(wanted: str) -> None:
    """A dependency without a lower bound is refused by name."""
    with pytest.raises(ValueError, match=wanted):
        lowest_pins(f'[project]\ndependencies = ["{wanted}"]')
