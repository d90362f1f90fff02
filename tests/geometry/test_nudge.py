"""A pose that nearly fits is moved until it does."""

from __future__ import annotations

import pytest

from salvage.geometry.ground import ground_of_regions
from salvage.geometry.nudge import nudge
from salvage.geometry.outline import rectangle
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Pose
from salvage.geometry.spot import Prober, outfit_of


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "angle"), [(24.2, 15.9, 0.0), (26.0, 14.6, 0.02), (25.3, 15.4, -0.03)]
)
def test_a_tile_is_nudged_into_its_slot(x_mm: float, y_mm: float, angle: float) -> None:
    """49.4 x 29.4 mm into 50 x 30, from up to a millimetre and two degrees away."""
    prober = Prober(
        ground_of_regions([rectangle(50, 30)]), outfit_of(probe_shape(rectangle(49.4, 29.4)), 0.0)
    )
    # The largest disc of a long tile may lie anywhere along it; start from where it would be.
    shift = prober.outfit.probes.centre_mm[0] - 24.7
    start = Pose(x_mm + shift, y_mm, angle, 1)

    assert not prober.judge(0, [start])
    assert prober.judge(0, [nudge(prober, start, may_turn=True)])


def test_a_fixed_angle_is_not_changed() -> None:
    """Where turning is not allowed only the place moves."""
    prober = Prober(
        ground_of_regions([rectangle(50, 30)]), outfit_of(probe_shape(rectangle(48, 28)), 0.0)
    )
    end = nudge(prober, Pose(20.0, 10.0, 0.01, 1), may_turn=False)

    assert end.angle == 0.01
