"""The job at the camera: a mat, a ruler, and a board measured from a photo."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from salvage.ids import Code
from salvage.work import mats, measuring, record
from salvage.work.photos import NewPhoto
from salvage.work.taking import Taking
from salvage.work.workshop import Workshop
from tests.benchmarks.photo_layout import make_layout
from tests.benchmarks.photo_scene import Placed, render
from tests.benchmarks.photo_shots import make_case
from tests.faces.step import Memory, Step


@cache
def mat_photo() -> bytes:
    """A board on the A4 mat, as a small phone photo."""
    return make_case(11, megapixels=3, tilt_deg=10).photos()[0]


@cache
def pair_photo() -> bytes:
    """Two strips of board on the A4 mat, the longer one below, as a small phone photo."""
    case = make_case(11, megapixels=3, tilt_deg=10)
    low, high = (make_layout(seed, shape="strip") for seed in (11, 12))
    boards = (Placed(low, 122.0, 45.0, 0.0, 0.5), Placed(high, 122.0, 120.0, 0.0, 0.5))
    return render(replace(case.scene, boards=boards), case.first)


def _record(shop: Workshop, memory: Memory) -> Code:
    new = record.NewBoard(memory["drop_off"], "network-board", thickness_mm=1.6)
    return record.record_boards(shop, new=new)[0].code


def _measure(shop: Workshop, memory: Memory) -> None:
    photo = NewPhoto(mat_photo(), "on-mat.jpg", caption="on mat")
    measuring.measure_board(shop, board=memory["flat"], photos=(photo,))


def _measure_two(shop: Workshop, memory: Memory) -> None:
    measuring.measure_two_boards(
        shop,
        boards=(memory["low"], memory["high"]),
        photos=(NewPhoto(pair_photo(), "pair.jpg", caption="on mat"),),
        taking=Taking(take="lower"),
    )


STEPS = (
    Step(
        "print_mat",
        lambda shop, memory: mats.print_mat(shop, paper="a4", colour="magenta"),
        "mat print --paper a4 --out {out}/mat.pdf",
    ),
    Step(
        "check_mat",
        lambda shop, memory: mats.check_mat(shop, long_mm=200.3, short_mm=199.8),
        "mat check 200.3 199.8",
    ),
    Step(
        "record_boards",
        _record,
        "board add {drop_off} --type network-board --thickness 1.6",
        made="flat",
    ),
    Step("measure_board", _measure, "measure {flat} {on_mat}"),
    Step(
        "record_boards",
        _record,
        "board add {drop_off} --type network-board --thickness 1.6",
        made="low",
    ),
    Step(
        "record_boards",
        _record,
        "board add {drop_off} --type network-board --thickness 1.6",
        made="high",
    ),
    Step(
        "measure_two_boards",
        _measure_two,
        "measure {low} {pair} --take lower --with {high}",
    ),
)
