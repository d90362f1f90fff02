"""Where the camera was, and what its lens does, against an independent library and known truth."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from salvage.photo.measure.camera import Camera, FlatView, Lens, px_per_mm
from salvage.photo.measure.fit import CameraFit, fit_camera
from salvage.photo.measure.markers import FoundMarkers, mat_markers
from salvage.photo.measure.mat import Corners, standard_mat
from salvage.photo.measure.pixels import read_pixels
from tests.photo.measure.scene import Band, Eye, Shot
from tests.photo.measure.shots import BOARD, MATS, photo


def a_camera() -> Camera:
    """A camera with a lens that bends, looking down at a slant."""
    turn = cv2.Rodrigues(np.array([2.9, 0.2, 0.1]))[0].astype(np.float64)
    lens = Lens(3000.0, (1990.0, 1510.0), (0.05, -0.02), (0.001, -0.0005))
    return Camera(lens, turn, np.array([-120.0, 80.0, 260.0]))


def test_the_lens_bends_as_the_published_model_says() -> None:
    """OpenCV's own projectPoints, of the same published model, gives the same pixels."""
    camera = a_camera()
    places = np.array([(x, y, z) for x in (0.0, 90.0, 240.0) for y in (0.0, 160.0) for z in (0, 3)])
    matrix = np.array([[3000.0, 0, 1990], [0, 3000, 1510], [0, 0, 1]])
    wanted, _ = cv2.projectPoints(
        places.astype(float),
        cv2.Rodrigues(camera.turn)[0],
        camera.shift,
        matrix,
        np.array([0.05, -0.02, 0.001, -0.0005]),
    )

    assert np.abs(camera.project(places) - wanted[:, 0]).max() < 1e-6


def test_lifting_undoes_projecting() -> None:
    """A pixel of a place at a known height leads back to that place."""
    camera = a_camera()
    places = np.array([(10.0, 20.0), (200.0, 150.0), (120.0, 80.0)])
    lifted = np.concatenate([places, np.full((3, 1), 2.8)], axis=1)

    assert np.abs(camera.lift(camera.project(lifted), 2.8) - places).max() < 1e-6


def fitted(shot: Shot) -> CameraFit:
    """The camera fitted to a shot's photo."""
    pixels = read_pixels(photo(shot))
    mat, found = mat_markers(pixels.rgb, MATS)
    return fit_camera(mat, found, size=pixels.size, focal_px=pixels.focal_px)


@pytest.mark.parametrize("shot", [BOARD, replace(BOARD, tilt=25.0, distance=290.0)])
def test_every_pixel_is_led_to_its_place(shot: Shot) -> None:
    """Over the whole field a pixel is led to within 0.03 mm of where its ray truly meets."""
    camera, eye = fitted(shot).camera, Eye(shot)
    pixels = np.array([(x, y) for x in range(500, 1600, 200) for y in range(400, 1200, 200)])
    for z in (0.0, 2.8):
        x, y = Band(eye, slice(None)).meet(z)
        truth = np.array([(x[v, u], y[v, u]) for u, v in pixels])
        away = np.linalg.norm(camera.lift(pixels.astype(float), z) - truth, axis=1)

        assert away.max() < 0.03


def test_without_a_note_of_the_focal_length_it_is_found() -> None:
    """A photo stripped of its notes is measured all the same."""
    shot = replace(BOARD, exif=False, tilt=20.0, distance=280.0)
    fit, eye = fitted(shot), Eye(shot)

    assert fit.camera.lens.focal_px == pytest.approx(eye.focal, rel=0.02)
    assert np.linalg.norm(fit.camera.centre - eye.place) < 4


def _thinner(corners: Corners, by_mm: float) -> Corners:
    """Corners of a marker drawn smaller by this much on each side."""
    (left, top), _, (right, bottom), _ = corners
    left, bottom, right, top = left + by_mm, bottom + by_mm, right - by_mm, top - by_mm
    return (left, top), (right, top), (right, bottom), (left, bottom)


def test_ink_that_spreads_is_told_from_scale() -> None:
    """Markers that print 0.05 mm fat all round do not change where their middles are."""
    mat = standard_mat("a4")
    pixels = read_pixels(photo(BOARD))
    _, found = mat_markers(pixels.rgb, MATS)
    usual = fit_camera(mat, found, size=pixels.size, focal_px=pixels.focal_px)
    thin = tuple(replace(m, corners=_thinner(m.corners, 0.05)) for m in mat.markers)
    fat = fit_camera(replace(mat, markers=thin), found, size=pixels.size, focal_px=pixels.focal_px)

    assert fat.ink_gain_mm - usual.ink_gain_mm == pytest.approx(0.05, abs=0.005)
    assert np.linalg.norm(fat.camera.centre - usual.camera.centre) < 0.2


def test_sheets_joined_askew_are_put_right() -> None:
    """Four taped sheets, one of them half a millimetre off, are measured as they lie."""
    mat = standard_mat("tiles")
    camera = Camera(
        Lens(3000.0, (1999.5, 1499.5), (0.02, 0.0), (0.0, 0.0)),
        cv2.Rodrigues(np.array([np.pi - 0.15, 0.05, 0.02]))[0].astype(np.float64),
        np.array([-240.0, 170.0, 520.0]),
    )
    shifts = {0: (0.0, 0.0), 1: (0.5, -0.2), 2: (0.1, 0.4), 3: (-0.3, 0.3)}
    corners = np.array([m.corners for m in mat.markers])
    laid = corners + np.array([shifts[m.tile] for m in mat.markers])[:, None]
    flat = np.concatenate([laid.reshape(-1, 2), np.zeros((laid.size // 2, 1))], axis=1)
    noise = np.random.default_rng(1).normal(0, 0.1, (len(flat), 2))
    found = FoundMarkers(
        tuple(m.number for m in mat.markers), (camera.project(flat) + noise).reshape(-1, 4, 2)
    )
    fit = fit_camera(mat, found, size=(4000, 3000), focal_px=3000.0)
    places = np.array([(100.0, 100.0, 0.0), (300.0, 200.0, 0.0), (440.0, 310.0, 0.0)])
    back = fit.camera.lift(camera.project(places), 0.0)
    lengths = np.linalg.norm(np.diff(back, axis=0), axis=1)

    assert lengths == pytest.approx(np.linalg.norm(np.diff(places[:, :2], axis=0), axis=1), abs=0.1)


def test_a_flat_view_has_no_height() -> None:
    """On a scan, 300 dots per inch are 11.811 pixels per mm at any height."""
    per_mm = 300 / 25.4
    view = FlatView(np.diag([per_mm, per_mm, 1.0]), np.array([0.0, 0.0, 1e6]))

    assert px_per_mm(view, (10, 10), 3.0) == pytest.approx(per_mm)
    assert view.lift(np.array([[per_mm, 0.0]]), 5.0)[0] == pytest.approx([1.0, 0.0])
