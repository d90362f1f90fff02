"""Without a mat: a scan, a card, picked corners; and what is made of a measured outline."""

from __future__ import annotations

import math
from io import BytesIO

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw

from salvage.errors import BadValue
from salvage.photo.measure.after_cut import compare_after_cut
from salvage.photo.measure.fallback import (
    CARD_MM,
    measure_beside_card,
    measure_by_corners,
    measure_scan,
)
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.snap import FormFactor, best_form, snap_to_form
from salvage.records.region import Region
from tests.faces.steps_measure import mat_photo
from tests.photo.measure.shots import BOARD, measured

PX = 300 / 25.4
FORM = FormFactor(
    "kite", ((0, 0), (130, 0), (130, 80), (0, 80)), ((32.82, 21.16, 3.2), (102.2, 52.9, 3.2))
)


def flat_picture(*, with_card: bool = False, second: bool = False) -> Image.Image:
    """A board of 100 x 60 mm with a hole on white, at 300 dots per inch, four times finer first."""
    fine = 3
    size = (round(190 * PX), round(110 * PX))
    picture = Image.new("RGB", (size[0] * fine, size[1] * fine), (235, 235, 230))
    pen = ImageDraw.Draw(picture)

    def box(x: float, y: float, w: float, h: float) -> tuple[float, float, float, float]:
        k = PX * fine
        return x * k, y * k, (x + w) * k - 1, (y + h) * k - 1

    pen.rectangle(box(10, 12, 80, 60), fill=(25, 95, 50))
    pen.ellipse(box(20, 20, 4, 4), fill=(235, 235, 230))
    if with_card:
        pen.rectangle(box(97, 20, *CARD_MM), fill=(40, 60, 150))
    if second:
        pen.rectangle(box(110, 30, 40, 50), fill=(25, 95, 50))
    return picture.resize(size, Image.Resampling.BOX)


def jpeg(picture: Image.Image) -> bytes:
    """The picture as a JPEG file."""
    out = BytesIO()
    picture.save(out, "JPEG", quality=92)
    return out.getvalue()


def slanted(
    picture: Image.Image,
) -> tuple[bytes, np.ndarray[tuple[int, int], np.dtype[np.float64]]]:
    """The picture as if photographed at a slant, and how its pixels moved."""
    width, height = picture.size
    old = np.array([(0, 0), (width, 0), (width, height), (0, height)], np.float32)
    new = np.array(
        [(60, 40), (width - 120, 0), (width - 20, height - 30), (0, height - 90)], np.float32
    )
    move = cv2.getPerspectiveTransform(old, new)
    seen = cv2.warpPerspective(
        np.asarray(picture), move, (width, height), borderValue=(235, 235, 230)
    )
    return jpeg(Image.fromarray(seen.astype("uint8"))), move.astype(float)


def carried(
    move: np.ndarray[tuple[int, int], np.dtype[np.float64]], box: tuple[float, float, float, float]
) -> list[tuple[float, float]]:
    """Corners of a box in mm, lower left first, in pixels of the slanted photo."""
    x, y, w, h = box
    corners = [(x, y + h), (x + w, y + h), (x + w, y), (x, y)]
    pixels = np.array([(a * PX, b * PX) for a, b in corners], np.float32)[None]
    return [(float(a), float(b)) for a, b in cv2.perspectiveTransform(pixels, move)[0]]


def test_a_scan_measures_by_its_dots() -> None:
    """A scanner's 300 dots per inch are scale enough for 0.1 mm."""
    result = measure_scan(jpeg(flat_picture()), dpi=300)

    assert result.method == "scan"
    assert result.outline.size_mm == pytest.approx((80, 60), abs=0.1)
    assert [round(hole.diameter_mm, 1) for hole in result.holes] == [4.0]
    low, high = result.area_interval_mm2
    assert low < 80 * 60 - math.pi * 4 < high


def test_a_card_beside_the_board_gives_the_scale() -> None:
    """A bank card of 85.60 x 53.98 mm (ISO/IEC 7810) beside the board, and the card is left out."""
    data, move = slanted(flat_picture(with_card=True))
    result = measure_beside_card(data, card_px=carried(move, (97, 20, *CARD_MM)))

    assert result.method == "card"
    assert result.outline.size_mm == pytest.approx((80, 60), abs=0.5)
    assert result.interval_mm > 0.5
    assert "card" in result.warnings[0]


def test_four_corners_of_a_known_rectangle_give_the_scale() -> None:
    """A board known to be 80 x 60 mm, clicked at its corners, is its own scale."""
    data, move = slanted(flat_picture())
    corners = carried(move, (10, 12, 80, 60))
    result = measure_by_corners(data, corners_px=corners, width_mm=80, height_mm=60)

    assert result.method == "corners"
    assert result.outline.size_mm == pytest.approx((80, 60), abs=0.3)
    assert result.interval_mm > 0.5


def test_corners_in_the_wrong_order_are_refused() -> None:
    """Corners picked clockwise would mirror the board."""
    data, move = slanted(flat_picture())
    corners = carried(move, (10, 12, 80, 60))

    with pytest.raises(BadValue, match="order"):
        measure_by_corners(data, corners_px=corners[::-1], width_mm=80, height_mm=60)
    with pytest.raises(BadValue, match="3 corners"):
        measure_by_corners(data, corners_px=corners[:3], width_mm=80, height_mm=60)
    with pytest.raises(BadValue, match="width"):
        measure_by_corners(data, corners_px=corners, width_mm=0, height_mm=60)
    with pytest.raises(BadValue, match="outside"):
        measure_by_corners(data, corners_px=[*corners[:3], (9e4, 9e4)], width_mm=80, height_mm=60)


def test_a_scan_without_a_board_or_with_two_is_refused() -> None:
    """An empty lid, and two boards at once, are said instead of measured."""
    empty = Image.new("RGB", (1000, 800), (235, 235, 230))

    with pytest.raises(PhotoRefused) as none:
        measure_scan(jpeg(empty), dpi=300)
    with pytest.raises(PhotoRefused) as two:
        measure_scan(jpeg(flat_picture(second=True)), dpi=300)
    assert (none.value.reason, two.value.reason) == ("no-board", "two-boards")
    with pytest.raises(BadValue, match="dots"):
        measure_scan(jpeg(empty), dpi=20)


def test_a_known_form_factor_is_recognised() -> None:
    """The board of 130 x 80 mm agrees with its published size, and strays from a larger one."""
    larger = FormFactor("tern", ((0, 0), (140, 0), (140, 80), (0, 80)), ((4.0, 4.0, 3.2),))
    snap, other = best_form(measured(BOARD), [larger, FORM])

    assert snap.form == FORM
    assert snap.agrees
    assert snap.mean_mm < 0.1
    assert abs(snap.area_off) < 0.003
    assert snap.region.area_mm2 == pytest.approx(130 * 80 - math.pi * 3.2**2 / 2, rel=1e-3)
    assert not other.agrees
    assert other.most_mm > 3


def test_holes_decide_which_way_round_a_form_lies() -> None:
    """A rectangle fits two ways; only one way do the mounting holes meet."""
    turned = FormFactor(
        "kite turned", FORM.outline, tuple((130 - x, 80 - y, d) for x, y, d in FORM.holes)
    )
    first, second = (snap_to_form(measured(BOARD), form) for form in (FORM, turned))

    assert first.holes_found == second.holes_found == 2
    assert abs(math.remainder(first.turn_deg - second.turn_deg - 180, 360)) < 1


def before(right: int, top: int) -> Region:
    """The board's record before its first cut, with the holes that it has."""
    return Region(whole(0, 0, right, top).outer, measured(BOARD).outline.holes)


def whole(left: int, bottom: int, right: int, top: int) -> Region:
    """A rectangle as a region, in mm."""
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    return Region(tuple((1000 * x, 1000 * y) for x, y in corners))


def test_a_board_cut_as_recorded_agrees() -> None:
    """What is left after a recorded cut of a whole end is what the photo shows."""
    (result,) = compare_after_cut(measured(BOARD), before(160, 80), [whole(130, 0, 160, 80)])

    assert result.agrees
    assert result.fit.mean_mm < 0.2


def test_a_cut_that_was_recorded_but_not_made_is_told() -> None:
    """A corner recorded as cut is still there: its place and area are given."""
    cuts = [whole(130, 0, 160, 80), whole(0, 60, 20, 80)]
    (result,) = compare_after_cut(measured(BOARD), before(160, 80), cuts)

    assert result.still_there_mm2 == pytest.approx(400, rel=0.05)
    assert result.gone == ()


def test_a_cut_that_was_made_but_not_recorded_is_told() -> None:
    """An end that is gone without a record is told, with its area."""
    (result,) = compare_after_cut(measured(BOARD), before(130, 90), [])

    assert result.gone_mm2 == pytest.approx(1300, rel=0.1)
    assert result.still_there == ()


def test_a_photo_of_a_mat_is_no_scan() -> None:
    """A forgotten --dpi would give a board the size of the picture; the mat's marks are seen."""
    photo = mat_photo()

    with pytest.raises(BadValue, match="shows a printed mat"):
        measure_scan(photo, dpi=300)
