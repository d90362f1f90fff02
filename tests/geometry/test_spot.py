"""A spot is judged on the outline, to the micrometre."""

from __future__ import annotations

import math

import pytest
import shapely

from salvage.geometry.ground import Ground, ground_of_regions
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Pose
from salvage.geometry.spot import Prober, move_to, outfit_of, placement_of, with_room
from tests.benchmarks.boards import tern


@pytest.mark.parametrize(
    ("x_um", "clearance_mm", "holds"),
    [(0, 0.0, True), (-1, 0.0, False), (10_000, 0.0, True), (10_001, 0.0, False),
     (500, 0.48, True), (500, 0.52, False)],
)  # fmt: skip
def test_a_micrometre_decides(x_um: int, clearance_mm: float, holds: bool) -> None:
    """A tile of 20 mm on a strip of 30 x 21 mm."""
    ground = ground_of_regions([rectangle(30, 21)])
    prober = Prober(ground, outfit_of(probe_shape(rectangle(20, 20)), clearance_mm))

    assert prober.holds(Placement(x_um, 500)) == holds


@pytest.mark.parametrize("mirrored", [False, True])
def test_moving_agrees_with_placing(mirrored: bool) -> None:
    """The quick move and the exact one differ by rounding to the grid only."""
    placement = Placement(12_345, 67_890, 33_333, mirrored)
    moved = move_to(to_polygon(tern(90)), placement)

    assert moved.hausdorff_distance(to_polygon(place(tern(90), placement))) < 0.00072


@pytest.mark.parametrize("side", [1, -1])
def test_a_pose_puts_the_largest_disc_there(side: int) -> None:
    """The centre of the largest circle comes to lie at the pose."""
    probes = probe_shape(tern(90))
    placement = placement_of(probes, Pose(40.0, 30.0, math.radians(77), side))
    marker = move_to(shapely.Point(probes.centre_mm), placement)

    assert placement.mirrored == (side < 0)
    assert placement.angle_mdeg == 77_000
    assert marker.distance(shapely.Point(40, 30)) < 0.001


def test_room_is_never_too_little() -> None:
    """Half a millimetre round a disc of 20 mm: at least the true area of one of 21."""
    grown = with_room(to_polygon(circle(20)), 0.5)

    assert grown.area >= math.pi * 10.5**2 - 0.5
    assert with_room(grown, 0.0) is grown


def test_what_rounding_pushes_off_the_ground_does_not_hold() -> None:
    """A turned tile in a slot cut to its unrounded corners: on the grid it reaches out."""
    tile = rectangle(20, 10)
    probes = probe_shape(tile)
    judged = []
    for angle_mdeg in range(10_000, 80_000, 3_001):
        placement = Placement(50_000, 50_000, angle_mdeg)
        ground = Ground(move_to(to_polygon(tile), placement).buffer(1e-7, join_style="mitre"))
        exact = ground.area.covers(to_polygon(place(tile, placement)))
        judged.append((Prober(ground, outfit_of(probes, 0.0)).holds(placement), exact))

    assert {held for held, _ in judged} == {False}
    assert all(held == exact for held, exact in judged)
