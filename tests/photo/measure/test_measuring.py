"""A photo on a mat comes back as a true-scale outline, or as one clear refusal."""

from __future__ import annotations

import math
from dataclasses import replace
from io import BytesIO

import pytest
import shapely
from PIL import Image, ImageOps

from salvage.errors import BadFile, BadValue
from salvage.photo.measure.align import polygon_of
from salvage.photo.measure.mat import PrintScale, standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.refusal import REASONS, PhotoRefused
from tests.photo.measure.scene import Shot, rectangle
from tests.photo.measure.shots import BOARD, CHECKED, MATS, OTHER_SIDE, measured, photo


def refusal_of(data: bytes) -> PhotoRefused:
    """Why a photo is refused."""
    with pytest.raises(PhotoRefused) as caught:
        measure_photo(data, mats=MATS)
    return caught.value


def test_a_board_comes_back_true_to_scale() -> None:
    """A board of 130 x 80 mm measures 130 x 80 mm, to a tenth of a millimetre."""
    result = measured(BOARD)
    width, height = result.outline.size_mm

    assert width == pytest.approx(130, abs=0.1)
    assert height == pytest.approx(80, abs=0.1)
    assert len(result.outline.outer) == 4
    assert result.outline.bounds_um[:2] == (0, 0)


def test_the_true_area_lies_in_the_stated_interval() -> None:
    """What is promised at 95 % holds for this photo, and is not so wide as to be worthless."""
    result = measured(BOARD)
    truth = 130 * 80 - math.pi * (3.2**2 + 3.2**2 + 2.5**2) / 4
    low, high = result.area_interval_mm2

    assert low <= truth <= high
    assert high - low < 0.02 * truth
    assert result.area_mm2 == pytest.approx(truth, rel=0.003)
    assert 0.02 < result.interval_mm < 0.5


def test_holes_are_found_where_they_are() -> None:
    """Three drilled holes: distances to 0.1 mm, diameters to 0.15 mm."""
    result = measured(replace(BOARD, size=(3000, 2250)))
    sizes = [hole.diameter_mm for hole in result.holes]
    first, second = (hole.centre_mm for hole in result.holes[:2])

    assert [hole.kind for hole in result.holes] == ["round", "round", "round"]
    assert sizes == pytest.approx([3.2, 3.2, 2.5], abs=0.15)
    assert math.dist(first, second) == pytest.approx(math.dist((85, 60), (150, 100)), abs=0.1)
    assert len(result.outline.holes) == 3


def test_a_slanted_photo_is_as_good() -> None:
    """From 25 degrees the board's side is seen, and is not taken for its face."""
    result = measured(OTHER_SIDE)
    width, height = result.outline.size_mm

    assert result.camera is not None
    assert result.camera.tilt_deg == pytest.approx(25, abs=0.5)
    assert width == pytest.approx(130, abs=0.15)
    assert height == pytest.approx(80, abs=0.15)


def test_two_photos_tell_the_height() -> None:
    """A board on stilts of solder is measured right from two sides, without a caliper."""
    stilted = replace(BOARD, standoff=2.4)
    other = replace(OTHER_SIDE, standoff=2.4)
    result = measure_photo(
        photo(stilted),
        mats=MATS,
        thickness_mm=1.6,
        print_scale=CHECKED,
        second_photo=photo(other),
    )

    assert result.height.source == "two photos"
    assert result.height.upper_mm == pytest.approx(4.0, abs=0.15)
    assert result.outline.size_mm[0] == pytest.approx(130, abs=0.12)


def test_a_strip_on_the_board_tells_the_height() -> None:
    """A printed strip laid on the board does the same from one photo."""
    shot = replace(BOARD, standoff=2.4, strip=(0, 95.0, 62.0, 4.1), size=(3000, 2250))
    result = measure_photo(photo(shot), mats=MATS, thickness_mm=1.6, print_scale=CHECKED)

    assert result.height.source == "strip"
    assert result.height.upper_mm == pytest.approx(4.0, abs=0.25)


def test_a_guessed_height_is_said_and_widens_the_interval() -> None:
    """Who gives no thickness is told what that costs."""
    guessed = measure_photo(photo(BOARD), mats=MATS, print_scale=CHECKED)

    assert guessed.height.source == "assumed"
    assert guessed.interval_mm > measured(BOARD).interval_mm
    assert any("height is assumed" in warning for warning in guessed.warnings)


def test_a_print_that_shrank_is_put_right() -> None:
    """A mat printed at 99 % makes boards too large, until a ruler says so."""
    told = measure_photo(
        photo(BOARD),
        mats=MATS,
        thickness_mm=1.6,
        standoff_mm=1.2,
        print_scale=PrintScale(0.99, 0.99),
    )

    assert told.outline.size_mm[0] == pytest.approx(0.99 * 130, abs=0.15)
    with pytest.raises(BadValue, match="bar"):
        measure_photo(photo(BOARD), mats=MATS, print_scale=PrintScale(0.96, 1.0))


def test_an_unchecked_print_is_said() -> None:
    """Nobody is promised true scale before a ruler lay on the mat."""
    result = measure_photo(photo(BOARD), mats=MATS, thickness_mm=1.6, standoff_mm=1.2)

    assert any("ruler" in warning for warning in result.warnings)
    assert result.interval_mm > measured(BOARD).interval_mm


def test_notches_and_curves_stay() -> None:
    """A card-edge notch of 6 x 4 mm and an inner corner survive straightening."""
    ring = (
        (60, 40),
        (180, 40),
        (180, 110),
        (130, 110),
        (130, 106),
        (124, 106),
        (124, 110),
        (60, 110),
    )
    shot = Shot(tuple((float(x), float(y)) for x, y in ring), size=(3000, 2250))
    shape = polygon_of(measured(shot).outline)
    truth = shapely.affinity.translate(shapely.Polygon(ring), -60, -40)

    assert shape.symmetric_difference(truth).area < 0.004 * truth.area
    assert shapely.hausdorff_distance(shape.exterior, truth.exterior) < 0.5


def test_a_round_board_keeps_its_curve() -> None:
    """A round board is neither straightened nor cut down to a few corners."""
    ring = tuple(
        (120 + 40 * math.cos(k * math.pi / 180), 80 + 40 * math.sin(k * math.pi / 180))
        for k in range(360)
    )
    shape = polygon_of(measured(Shot(ring)).outline)
    centre = shape.centroid
    reach = [math.dist((centre.x, centre.y), point) for point in shape.exterior.coords]

    assert shape.area == pytest.approx(math.pi * 40**2, rel=0.004)
    assert min(reach) > 39.7
    assert max(reach) < 40.3


def test_pictures_can_be_looked_at() -> None:
    """The overlay and the squared-up board are sound pictures of the right size."""
    result = measured(BOARD)
    with Image.open(BytesIO(result.squared_png)) as squared:
        size = squared.size
    with Image.open(BytesIO(result.overlay_jpeg)) as overlay:
        overlay.load()
        longest = max(overlay.size)

    scale = result.pictures.squared_px_per_mm
    assert size == pytest.approx((130 * scale, 80 * scale), abs=2)
    assert longest == 1400


def test_stages_are_timed_by_the_clock_that_is_handed_in() -> None:
    """Whoever wonders what takes long is told, stage by stage."""
    ticks = iter(range(100))
    result = measure_photo(
        photo(BOARD),
        mats=MATS,
        thickness_mm=1.6,
        standoff_mm=1.2,
        clock=lambda: float(next(ticks)),
    )

    assert [name for name, _ in result.timings_s][:4] == ["read", "markers", "camera", "field"]
    assert {seconds for _, seconds in result.timings_s} == {1.0}
    assert measured(BOARD).timings_s == ()


@pytest.mark.parametrize(
    ("reason", "shot"),
    [
        ("over-border", replace(BOARD, outline=rectangle(150, 40, 130, 80))),
        ("no-board", replace(BOARD, outline=rectangle(100, 60, 4, 4), holes=())),
        ("blurred", replace(BOARD, blur_px=2.6)),
        ("tilted", replace(BOARD, tilt=53, azimuth=90, distance=330, size=(3000, 2250))),
        ("overexposed", replace(BOARD, light=6.0)),
        ("two-boards", replace(BOARD, extra=((rectangle(30, 130, 60, 25), (20, 90, 45)),))),
        ("low-contrast", replace(BOARD, mat=replace(BOARD.mat, colour="grey"))),
    ],
)
def test_a_photo_that_would_mislead_is_refused(
    reason: str, shot: Shot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each common mistake is named by a slug, with one thing to do about it."""
    monkeypatch.setitem(_colours(), "grey", (128, 128, 128))
    refusal = refusal_of(photo(shot))

    assert refusal.reason == reason
    assert refusal.hint == REASONS[reason]
    assert isinstance(refusal, BadFile)


def _colours() -> dict[str, tuple[int, int, int]]:
    from salvage.photo.measure.mat import COLOURS

    return COLOURS


def test_both_outlines_of_two_boards_are_offered() -> None:
    """Whoever laid two boards down can still choose one."""
    shot = replace(BOARD, extra=((rectangle(30, 130, 60, 25), (20, 90, 45)),))
    outlines = refusal_of(photo(shot)).outlines

    assert [round(outline.area_mm2, -2) for outline in outlines] == [10400, 1500]


def test_a_mirrored_photo_is_refused() -> None:
    """A selfie camera mirrors; a mirrored outline would cut the wrong piece."""
    out = BytesIO()
    with Image.open(BytesIO(photo(BOARD))) as picture:
        ImageOps.mirror(picture).save(out, "JPEG", quality=90)

    assert refusal_of(out.getvalue()).reason == "mirrored"


def test_a_chat_thumbnail_is_refused() -> None:
    """A picture that a chat shrank has not enough pixels to measure by."""
    out = BytesIO()
    with Image.open(BytesIO(photo(BOARD))) as picture:
        picture.resize((480, 360)).save(out, "JPEG", quality=80)

    assert refusal_of(out.getvalue()).reason == "too-small"


def test_a_photo_without_a_mat_is_refused() -> None:
    """A board on the bare bench has no scale."""
    out = BytesIO()
    Image.new("RGB", (1600, 1200), (120, 90, 60)).save(out, "JPEG")

    assert refusal_of(out.getvalue()).reason == "no-mat"


def test_another_mat_than_those_at_hand_is_refused() -> None:
    """A sheet of another size, or another workshop's, is not taken for ours."""
    with pytest.raises(PhotoRefused) as caught:
        measure_photo(photo(BOARD), mats=[standard_mat("letter")])

    assert caught.value.reason == "wrong-mat"


def test_half_a_mat_is_refused() -> None:
    """Markers on one side leave the other side open."""
    out = BytesIO()
    with Image.open(BytesIO(photo(BOARD))) as picture:
        width, height = picture.size
        picture.crop((0, 0, width * 9 // 20, height)).save(out, "JPEG", quality=90)

    assert refusal_of(out.getvalue()).reason in {"lop-sided-markers", "cut-off"}


def test_a_board_that_moved_between_two_photos_is_noticed() -> None:
    """Two photos of different things say nothing of the height."""
    pushed = replace(OTHER_SIDE, outline=rectangle(60, 40, 130, 80, 12), holes=())

    with pytest.raises(PhotoRefused) as caught:
        measure_photo(photo(BOARD), mats=MATS, second_photo=photo(pushed))
    assert caught.value.reason == "different-photos"


def test_two_photos_from_one_place_say_nothing_of_the_height() -> None:
    """Pressing the button twice is no second side, and is said."""
    result = measure_photo(photo(BOARD), mats=MATS, second_photo=photo(replace(BOARD, seed=3)))

    assert result.height.source == "assumed"
    assert any("nearly the same place" in warning for warning in result.warnings)


def test_lengths_that_make_no_sense_are_refused() -> None:
    """A thickness of 40 mm is a typing mistake."""
    with pytest.raises(BadValue, match="thickness"):
        measure_photo(b"", mats=MATS, thickness_mm=40)
    with pytest.raises(BadFile, match="empty"):
        measure_photo(b"", mats=MATS)
