"""The job at the camera, second photos: a board's back, and what is left after a cut."""

from __future__ import annotations

from functools import cache

from salvage.work import back_side
from salvage.work.photos import NewPhoto
from salvage.work.workshop import Workshop
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case
from tests.faces.step import Memory, Step


@cache
def back_photo() -> bytes:
    """The other side of the board that :func:`tests.faces.steps_measure.mat_photo` shows."""
    layout = make_case(11, megapixels=3, tilt_deg=10).board.layout
    case = make_case(100_011, megapixels=3, tilt_deg=10, layout=layout.back())
    return render(case.scene, case.first)


def _back(shop: Workshop, memory: Memory) -> None:
    photo = NewPhoto(back_photo(), "back.jpg", "back", "back, on mat")
    found = back_side.find_back(shop, board=memory["flat"], photos=(photo,))
    back_side.keep_back(shop, found=found)


STEPS = (Step("keep_back", _back, "board back {flat} {back}"),)
