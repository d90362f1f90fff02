"""The job at the camera, second photos: a board's back, and what is left after a cut."""

from __future__ import annotations

from functools import cache

from salvage.work import after_cut, back_side
from salvage.work.photos import NewPhoto
from salvage.work.workshop import Workshop
from tests.benchmarks.photo_remnant import without_corner
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case
from tests.faces.step import Memory, Step


@cache
def back_photo() -> bytes:
    """The other side of the board that :func:`tests.faces.steps_measure.mat_photo` shows."""
    layout = make_case(11, megapixels=3, tilt_deg=10).board.layout
    case = make_case(100_011, megapixels=3, tilt_deg=10, layout=layout.back())
    return render(case.scene, case.first)


@cache
def after_photo() -> bytes:
    """The same board with a corner cut off, of which nothing is on record."""
    layout = make_case(11, megapixels=3, tilt_deg=10).board.layout
    width, height = layout.size_mm
    left = without_corner(layout, round(0.25 * width), round(0.4 * height))
    case = make_case(200_011, megapixels=3, tilt_deg=10, layout=left)
    return render(case.scene, case.first)


def _back(shop: Workshop, memory: Memory) -> None:
    photo = NewPhoto(back_photo(), "back.jpg", "back", "back, on mat")
    found = back_side.find_back(shop, board=memory["flat"], photos=(photo,))
    back_side.keep_back(shop, found=found)


def _gone(shop: Workshop, memory: Memory) -> None:
    photo = NewPhoto(after_photo(), "after.jpg", caption="after a cut")
    found = after_cut.find_differences(shop, board=memory["flat"], photos=(photo,))
    after_cut.record_gone(shop, found=found)


STEPS = (
    Step("keep_back", _back, "board back {flat} {back}"),
    Step("record_gone", _gone, "compare {flat} {after} --record --yes"),
)
