"""Places on a board as people type them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.errors import BadOutline, BadValue, ManyMistakes
from salvage.geometry.shapes import built_in_shape
from salvage.work.library import ChosenShape
from salvage.work.spots import (
    parse_angle_mdeg,
    parse_corners_px,
    parse_keep_out,
    parse_point_um,
    parse_size_mm,
    parse_spot,
)

MILLIMETRES = st.integers(-1_999_999, 1_999_999)


@given(MILLIMETRES, MILLIMETRES)
def test_a_point_is_read_to_the_micrometre(x_um: int, y_um: int) -> None:
    """What was measured in thousandths of a millimetre is kept so."""
    text = f"{x_um / 1000:.3f},{y_um / 1000:.3f}"

    assert parse_point_um(text) == (x_um, y_um)


def test_units_may_be_written() -> None:
    """An inch is exactly 25.4 mm (international yard and pound agreement, 1959; from memory)."""
    assert parse_point_um("2 in, 1 cm") == (50_800, 10_000)
    assert parse_size_mm("6.9in x 107") == pytest.approx((175.26, 107.0))


@pytest.mark.parametrize("text", ["60", "60,50,40", "60;50", "a,b", "", "9999,1"])
def test_what_is_no_place_is_refused(text: str) -> None:
    """A place is two lengths within reach."""
    with pytest.raises(BadValue) as caught:
        parse_point_um(text, field="--at")

    assert caught.value.field == "--at"


@pytest.mark.parametrize("text", ["175", "0x5", "1x2x3", "x", "-1x5"])
def test_what_is_no_size_is_refused(text: str) -> None:
    """A board has a width and a height."""
    with pytest.raises(BadValue):
        parse_size_mm(text, field="--size")


@pytest.mark.parametrize(
    ("text", "mdeg"), [("30", 30_000), ("-22.5°", -22_500), ("+.5 deg", 500), ("360", 360_000)]
)
def test_angles_are_kept_in_thousandths(text: str, mdeg: int) -> None:
    """Half a degree is half a degree, however it is written."""
    assert parse_angle_mdeg(text) == mdeg


@pytest.mark.parametrize("text", ["", "thirty", "361", "1e2", "30 40"])
def test_what_is_no_angle_is_refused(text: str) -> None:
    """An angle is one number of degrees within a turn."""
    with pytest.raises(BadValue):
        parse_angle_mdeg(text)


def test_two_points_are_a_rectangle_either_way_round() -> None:
    """Whichever corners are measured, the connector is the same."""
    one, other = parse_keep_out("0,0 20,30 serial port"), parse_keep_out("20,0 0,30 serial port")

    assert one.region == other.region
    assert one.region.area_mm2 == 600.0
    assert one.reason == "serial port"


def test_a_point_and_a_radius_are_a_circle() -> None:
    """A coil of 6 mm radius takes pi times 36 square millimetres about its middle."""
    keep_out = parse_keep_out("30,40 r6 coil with ferrite")
    left, bottom, right, top = keep_out.region.bounds_um

    assert keep_out.region.area_mm2 == pytest.approx(math.pi * 36, rel=0.003)
    assert ((left + right) / 2, (bottom + top) / 2) == (30_000, 40_000)
    assert keep_out.reason == "coil with ferrite"


def test_three_points_are_corners_in_order() -> None:
    """A torn corner is a triangle: half base times height."""
    assert parse_keep_out("0,0 20,0 0,10 torn").region.area_mm2 == 100.0


@pytest.mark.parametrize("text", ["", "why", "1,1 why", "0,0 5,5", "1,1 r6", "0,0 r0 why"])
def test_a_keep_out_needs_ground_and_a_reason(text: str) -> None:
    """Without either it keeps nothing out."""
    with pytest.raises(BadValue):
        parse_keep_out(text, field="--keepout")


def test_a_crossing_keep_out_is_refused() -> None:
    """A bow tie is no region."""
    with pytest.raises(BadOutline, match="cross"):
        parse_keep_out("0,0 20,20 20,0 0,20 bow tie")


def test_four_corners_are_picked_in_pixels() -> None:
    """The corners of a photo are four points, halves of a pixel too."""
    assert parse_corners_px("1,2 3.5,4 5,6 7,8")[1] == (3.5, 4.0)
    for text in ("1,2 3,4 5,6", "1 2 3 4", "a,b 1,2 3,4 5,6"):
        with pytest.raises(BadValue):
            parse_corners_px(text)


def test_a_spot_gathers_its_mistakes() -> None:
    """Place, angle and side are told together."""
    shape = ChosenShape("circle", built_in_shape("circle", width_mm=20))
    with pytest.raises(ManyMistakes) as caught:
        parse_spot(shape, at="here", angle="some", side="edge")

    fields = [mistake.field for mistake in caught.value.mistakes]
    assert fields == ["--at", "--angle", "--side"]
    assert parse_spot(shape, at="5,6", side="b").side == "back"
