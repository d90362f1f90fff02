"""Things of published size, photographed and measured; and the lens, against OpenCV's own fit."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from salvage.knowledge.form_factors import find_form_factor
from salvage.photo.measure.fit import fit_camera
from salvage.photo.measure.markers import mat_markers
from salvage.photo.measure.mat import standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.pixels import read_pixels
from tests.photo.measure.scene import Points, Shot, rectangle
from tests.photo.measure.shots import BOARD, CHECKED, MATS, measured, photo


def rounded(left: float, bottom: float, width: float, height: float, radius: float) -> Points:
    """A rectangle with round corners."""
    inner = shapely.box(left, bottom, left + width, bottom + height).buffer(-radius)
    ring = inner.buffer(radius, quad_segs=12).exterior.coords[:-1]
    return tuple((float(x), float(y)) for x, y in ring)


def test_a_bank_card_measures_what_the_standard_says() -> None:
    """ISO/IEC 7810, size ID-1: 85.60 x 53.98 mm, corners of 3.18 mm, 0.76 mm thick."""
    card = find_form_factor("id-1")
    ring = rounded(70, 50, card.width_mm, card.height_mm, card.corner_radius_mm or 0)
    shot = Shot(ring, standoff=0.0, thickness=0.76, colour=(40, 70, 140), size=(3000, 2250))

    result = measured(shot)

    assert sorted(result.outline.size_mm) == pytest.approx([53.98, 85.60], abs=0.1)
    corners = (4 - math.pi) * 3.18**2
    assert result.area_mm2 == pytest.approx(85.60 * 53.98 - corners, rel=0.003)


def test_a_sheet_of_paper_measures_what_the_standard_says() -> None:
    """ISO 216, A7: 105 x 74 mm, white and as thin as paper is."""
    sheet = find_form_factor("a7")
    ring = rectangle(60, 40, sheet.height_mm, sheet.width_mm, 5)
    shot = Shot(ring, standoff=0.0, thickness=0.1, colour=(232, 232, 228), size=(3000, 2250))

    result = measured(shot)

    assert sorted(result.outline.size_mm) == pytest.approx([74, 105], abs=0.1)


def test_a_published_main_board_measures_what_its_drawing_says() -> None:
    """Mini-ITX (addendum 1.1 to the microATX specification): 170 x 170 mm and its four holes."""
    form, mat = find_form_factor("mini-itx"), standard_mat("a3")
    left, bottom = 110.0, 60.0
    shot = Shot(
        rectangle(left, bottom, form.width_mm, form.height_mm),
        holes=tuple((left + h.x_mm, bottom + h.y_mm, h.diameter_mm) for h in form.holes),
        mat=mat,
        size=(4000, 3000),
        distance=385.0,
        aim=((mat.reach[0] + mat.reach[2]) / 2, (mat.reach[1] + mat.reach[3]) / 2),
    )

    result = measure_photo(
        photo(shot), mats=MATS, thickness_mm=1.6, standoff_mm=1.2, print_scale=CHECKED
    )

    published = [(hole.x_mm, hole.y_mm) for hole in form.holes]
    centres = [hole.centre_mm for hole in result.holes]
    apart = [min(math.dist(centre, place) for centre in centres) for place in published]
    assert result.outline.size_mm == pytest.approx((170, 170), abs=0.15)
    assert max(apart) < 0.1
    assert [hole.diameter_mm for hole in result.holes] == pytest.approx([3.96] * 4, abs=0.15)


def test_the_lens_is_what_opencvs_calibration_finds() -> None:
    """
    OpenCV's calibrateCamera, from five photos of the mat, is the reference for our one photo.

    Compared is by how many pixels the lens moves what it shows, out to the field's corners.
    """
    mat = standard_mat("a4")
    by_number = {marker.number: marker for marker in mat.markers}
    views = [
        replace(BOARD, tilt=tilt, azimuth=azimuth, distance=280.0 if tilt else 262.0)
        for tilt, azimuth in ((0.0, 0.0), (24.0, 30.0), (24.0, 120.0), (24.0, 210.0), (24.0, 300.0))
    ]
    places, seen = [], []
    for shot in views:
        _, found = mat_markers(read_pixels(photo(shot)).rgb, MATS)
        corners = np.array([by_number[n].corners for n in found.numbers]).reshape(-1, 2)
        flat = np.column_stack([corners, np.zeros(len(corners))])
        places.append(flat.astype(np.float32))
        seen.append(found.corners_px.reshape(-1, 1, 2).astype(np.float32))
    start = np.array([[1200.0, 0, 999.5], [0, 1200.0, 749.5], [0, 0, 1]])
    flags = cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO
    _, matrix, bends, _, _ = cv2.calibrateCamera(
        places, seen, (2000, 1500), start, np.zeros(5), flags=flags
    )
    pixels = read_pixels(photo(views[1]))
    _, found = mat_markers(pixels.rgb, MATS)
    lens = fit_camera(mat, found, size=pixels.size, focal_px=pixels.focal_px).camera.lens

    slopes = np.array([(x, y) for x in np.linspace(-0.55, 0.55, 7) for y in (-0.35, 0.0, 0.35)])
    rays = np.column_stack([slopes, np.ones(len(slopes))])
    theirs, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), np.eye(3), bends)
    ours = lens.bend(slopes)
    assert lens.focal_px == pytest.approx(float(matrix[0, 0]), rel=0.01)
    away = np.linalg.norm((ours - theirs[:, 0]) * lens.focal_px, axis=1)
    assert float(np.median(away)) < 0.5
    assert float(away.max()) < 1.5
    assert float(np.linalg.norm((ours - slopes) * lens.focal_px, axis=1).max()) > 4
