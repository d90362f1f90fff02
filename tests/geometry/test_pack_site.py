"""Turns and sides of a shape that make a difference, each once."""

from __future__ import annotations

import pytest

from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.pack_site import Cutouts, Turning
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.geometry.untangle import Spot
from salvage.records.region import Region

EVERY_15 = tuple(range(0, 360_000, 15_000))
HOOK = Region(
    ((0, 0), (40_000, 0), (40_000, 12_000), (12_000, 12_000), (12_000, 60_000), (0, 60_000))
)
# A pinwheel of two hooks: half a turn leaves it unchanged, and its mirror image is another shape.
PINWHEEL = Region(
    (
        (-5_000, -30_000),
        (20_000, -30_000),
        (20_000, -20_000),
        (5_000, -20_000),
        (5_000, 30_000),
        (-20_000, 30_000),
        (-20_000, 20_000),
        (-5_000, 20_000),
    )
)
KITE = place(Region(((0, 0), (20_000, 30_000), (0, 45_000), (-20_000, 30_000))), Placement(0, 0))
# The same kite drawn askew, so that its axis is none of the angles that are tried.
KITE_ASKEW = place(KITE, Placement(3_000, 8_000, 3_700))


def _cutouts(shape: Region, *, mirrored: bool, angles: tuple[int, ...] = EVERY_15) -> Cutouts:
    return Cutouts([shape], gap_mm=2, step_mm=1, turnings=[Turning(angles, mirrored)])


@pytest.mark.parametrize(
    ("shape", "plain", "both"),
    [
        (circle(30), 1, 1),
        (rectangle(20, 20), 6, 6),
        (rectangle(40, 25), 12, 12),
        (built_in_shape("teardrop", width_mm=30), 24, 24),
        (KITE, 24, 24),
        (KITE_ASKEW, 24, 48),
        (HOOK, 24, 48),
        (PINWHEEL, 12, 24),
    ],
)
def test_equal_turns_are_tried_once(shape: Region, plain: int, both: int) -> None:
    """What falls on itself when turned or turned over is not sought twice; what does not, is."""
    assert len(_cutouts(shape, mirrored=False).of_shape[0]) == plain
    assert len(_cutouts(shape, mirrored=True).of_shape[0]) == both


def test_a_mirror_image_that_is_no_allowed_turn_is_kept() -> None:
    """Upright only, a kite lying on its side stays as good as another shape when turned over."""
    sideways = place(KITE, Placement(0, 0, 90_000))

    assert len(_cutouts(KITE, mirrored=True, angles=(0,)).of_shape[0]) == 1
    assert len(_cutouts(sideways, mirrored=True, angles=(0,)).of_shape[0]) == 2


def test_a_pose_lies_where_its_placement_says() -> None:
    """The outline on the grid and the true one agree for every pose, turned over or not."""
    cutouts = _cutouts(HOOK, mirrored=True)

    for pose in cutouts.of_shape[0]:
        true = to_polygon(place(HOOK, cutouts.placement(Spot(pose, 0, 0))))
        bounds = (*cutouts.bare[pose].min(axis=0), *cutouts.bare[pose].max(axis=0))
        assert bounds == pytest.approx(true.bounds, abs=0.3)


def test_a_few_poses_are_right_angles_where_there_are_some() -> None:
    """A quick layout takes right angles, else some of what is allowed."""
    right = _cutouts(HOOK, mirrored=True)
    odd = _cutouts(HOOK, mirrored=True, angles=tuple(range(5_000, 365_000, 30_000)))

    few = right.few(right.of_shape[0])
    others = odd.few(odd.of_shape[0])

    assert [right.angles[pose] for pose in few] == [0, 90_000, 180_000, 270_000]
    assert not any(right.turned_over[pose] for pose in few)
    assert 0 < len(others) < len(odd.of_shape[0])
    assert right.has_more(0)
