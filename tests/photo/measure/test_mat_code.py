"""The code on a mat: printed where a marker was, and read back from photos of it."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from salvage.codes.draw import draw_data_matrix
from salvage.codes.read import read_codes
from salvage.photo.measure.markers import mat_markers
from salvage.photo.measure.mat import PAPERS, Mat, PrintScale, standard_mat
from salvage.photo.measure.mat_code import code_pictures
from salvage.photo.measure.mat_drawing import draw_mat_png, mat_svg
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.measure.refusal import PhotoRefused
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case
from tests.photo.measure.shots import BOARD, photo

TEXT = "MK1-7QX"
MATS = [standard_mat(paper) for paper in PAPERS]


@pytest.mark.parametrize("paper", PAPERS)
def test_two_markers_give_way_to_the_code(paper: str) -> None:
    """A mat with a serial has room for its code twice, and all other markers stay as they were."""
    bare, printed = standard_mat(paper), standard_mat(paper, serial="MK1")

    assert len(printed.code_places) == 2
    assert set(bare.markers) - set(printed.markers) == set(printed.code_places)
    assert printed.markers == tuple(m for m in bare.markers if m not in printed.code_places)


def photo_of(paper: str, *, tilt_deg: float, text: str = TEXT) -> bytes:
    """A board on a mat that carries its code, as a small phone photo."""
    code = draw_data_matrix(text).rows
    mat = standard_mat(paper, serial="MK1")
    case = make_case(3, megapixels=3, tilt_deg=tilt_deg, mat=mat)
    return render(replace(case.scene, code=code), case.first)


def read_back(data: bytes) -> tuple[Mat, list[list[str]]]:
    """The mat in a photo, and what each of its code places says."""
    rgb = read_pixels(data).rgb
    mat, found = mat_markers(rgb, MATS)
    pictures = code_pictures(rgb, mat, found)
    return mat, [[reading.text for reading in read_codes(picture)] for picture in pictures]


@pytest.mark.parametrize("paper", PAPERS)
def test_every_mat_says_which_print_it_is(paper: str) -> None:
    """From a slanted photo of 3 million pixels both codes are read, on every size of paper."""
    mat, texts = read_back(photo_of(paper, tilt_deg=30))

    assert mat.name == paper
    assert texts == [[TEXT], [TEXT]]


def test_a_mat_without_a_code_says_nothing() -> None:
    """A mat drawn as a picture for anybody has markers there, and no text is made up."""
    _, texts = read_back(photo(BOARD))

    assert texts == [[], []]


def test_a_place_with_no_markers_beside_it_is_left_out() -> None:
    """A hand over one long side hides its code; the other one is still read."""
    mat = standard_mat("a4")
    rgb = read_pixels(photo_of("a4", tilt_deg=5)).rgb
    _, found = mat_markers(rgb, MATS)
    low = {m.number for m in mat.markers if m.corners[0][1] < 0}
    pictures = code_pictures(rgb, mat, found.only(set(found.numbers) - low))

    assert len(pictures) == 1


def test_who_knows_the_print_is_asked_once_the_mat_is_seen() -> None:
    """The print scale comes from whoever reads the code, and corrects the lengths."""
    asked: list[tuple[str, int]] = []

    def answer(mat: Mat, pictures: tuple[bytes, ...]) -> PrintScale:
        asked.append((mat.name, len(pictures)))
        return PrintScale(0.99, 0.99)

    data = photo(BOARD)
    told = measure_photo(data, mats=MATS, thickness_mm=1.6, standoff_mm=1.2, print_scale=answer)
    plain = measure_photo(
        data, mats=MATS, thickness_mm=1.6, standoff_mm=1.2, print_scale=PrintScale(0.99, 0.99)
    )

    assert asked == [("a4", 2)]
    assert told.outline == plain.outline


def test_who_is_asked_may_refuse_the_mat() -> None:
    """A photo of a mat that was told to be another one is not measured."""

    def refuse(mat: Mat, pictures: tuple[bytes, ...]) -> PrintScale:
        raise PhotoRefused("wrong-mat", "another mat")

    with pytest.raises(PhotoRefused, match="another mat"):
        measure_photo(photo(BOARD), mats=MATS, print_scale=refuse)


def test_the_drawing_holds_the_code_in_exact_millimetres() -> None:
    """Page and picture carry the same modules, with one module of white round them."""
    code = draw_data_matrix(TEXT).rows
    mat = standard_mat("a4", serial="MK1")
    plain = len(ElementTree.fromstring(mat_svg(mat)).findall("*"))
    drawn = len(ElementTree.fromstring(mat_svg(mat, code=code)).findall("*"))
    (left, top), _, (right, _), _ = mat.code_places[0].corners
    with Image.open(BytesIO(draw_mat_png(mat, px_per_mm=16, code=code))) as picture:
        levels = np.asarray(picture.convert("L"))
    page_left, _, _, page_top = mat.sheets[0].page
    x, y = round((left - page_left) * 16), round((page_top - top) * 16)
    module = (right - left) * 16 / (len(code) + 2)
    seen = [
        "".join(
            "#"
            if levels[round(y + (r + 1.5) * module), round(x + (c + 1.5) * module)] < 99
            else "."
            for c in range(len(code))
        )
        for r in range(len(code))
    ]

    assert drawn > plain
    assert tuple(seen) == code
