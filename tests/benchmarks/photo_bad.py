"""
Photos that must not be measured: each kind of mistake at the bench, on the way, or in the file.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

from salvage.photo.measure.mat import Mat, standard_mat
from tests.benchmarks.photo_camera import Curl
from tests.benchmarks.photo_layout import make_layout
from tests.benchmarks.photo_light import Finish
from tests.benchmarks.photo_scene import Placed, Scene, Shot, render
from tests.benchmarks.photo_shots import Case, lay_down, make_case, take_shot
from tests.benchmarks.photo_solid import Solid, box_ring
from tests.benchmarks.photo_spoilt import SPOILS
from tests.benchmarks.photo_traces import Part

Taken: TypeAlias = tuple[Scene, Shot]
Mistake: TypeAlias = Callable[[random.Random, Case], Taken]

_SKIN = (0.55, 0.3, 0.2)
_PAPER = (0.86, 0.86, 0.84)
_RUBBER = (0.03, 0.03, 0.03)

MUST_REFUSE, MAY_BE_RIGHT, EYES_ONLY = "must refuse", "may be right", "eyes only"
"""
What is asked of a kind: a refusal; a refusal or a right number; or, for a thing that lies on the
board and looks like part of it, only that the overlay is shown to a person.
"""


@dataclass(frozen=True, slots=True)
class BadPhoto:
    """
    One bad photo, or a pair of them.

    Args:
        kind: A key of :data:`BAD_KINDS`.
        wanted: What is asked of it.
        first: Bytes of the photo.
        second: Bytes of the second photo, where the mistake lies in the pair.
        board: The board that is to be measured, where there is one.
    """

    kind: str
    wanted: str
    first: bytes
    second: bytes | None
    board: Placed | None


def make_bad(kind: str, seed: int, *, megapixels: int = 12) -> BadPhoto:
    """A bad photo of a kind from a seed."""
    dice = random.Random(f"bad {kind} {seed}")
    case = make_case(seed, megapixels=megapixels, tilt_deg=dice.uniform(0, 25))
    # A true print, so that nothing but the mistake itself is wrong.
    case = replace(case, scene=replace(case.scene, print_scale=(1.0, 1.0)))
    wanted = BAD_KINDS[kind]
    board = case.board
    if kind in _PAIRS:
        scene, first, other, second = _PAIRS[kind](dice, case)
        return BadPhoto(kind, wanted, render(scene, first), render(other, second), scene.boards[0])
    if kind in SPOILS:
        photo = render(case.scene, case.first)
        spoilt = SPOILS[kind](dice, photo, case.first.focal_35mm)
        return BadPhoto(kind, wanted, spoilt, None, board)
    scene, shot = _MISTAKES[kind][0](dice, case)
    lying = scene.boards[0] if scene.boards else None
    return BadPhoto(kind, wanted, render(scene, shot), None, lying)


def _finish(change: Callable[[Finish, float], Finish]) -> Mistake:
    """Change what happens in lens and sensor; the number is 1 at 12 million pixels."""

    def spoil(dice: random.Random, case: Case) -> Taken:
        scale = case.first.camera.size_px[0] / 4000
        return case.scene, replace(case.first, finish=change(case.first.finish, scale))

    return spoil


def _tilted(dice: random.Random, case: Case) -> Taken:
    mat = _mat(case)
    shot = take_shot(dice, mat, megapixels=_megapixels(case), tilt_deg=55, azimuth_deg=80)
    return case.scene, shot


def _mat(case: Case) -> Mat:
    return case.scene.mat or standard_mat("a4")


def _megapixels(case: Case) -> int:
    return 12 if case.first.camera.size_px[0] == 4000 else 3


def _glaring(dice: random.Random, case: Case) -> Taken:
    light = replace(case.first.light, glare=9.0, glares=9)
    return case.scene, replace(case.first, light=light)


def _no_mat(dice: random.Random, case: Case) -> Taken:
    return replace(case.scene, mat=None), case.first


def _empty(dice: random.Random, case: Case) -> Taken:
    return replace(case.scene, boards=()), case.first


def _bent(dice: random.Random, case: Case) -> Taken:
    return replace(case.scene, curl=Curl(110.0, dice.uniform(9, 16))), case.first


def _moved(dx: float, dy: float) -> Mistake:
    """The board pushed so that it lies over the border."""

    def spoil(dice: random.Random, case: Case) -> Taken:
        ring = case.board.on_mat(case.board.layout.outer)
        right, top = ring.max(axis=0)
        field = _mat(case).field
        x = case.board.x_mm + (field[2] + dx - float(right) if dx else 0)
        y = case.board.y_mm + (field[3] + dy - float(top) if dy else 0)
        return replace(case.scene, boards=(replace(case.board, x_mm=x, y_mm=y),)), case.first

    return spoil


def _looking_away(x_mm: float, y_mm: float, nearer: float = 1.0) -> Mistake:
    """The camera pointed at another place, so that part of the mat is outside the frame."""

    def spoil(dice: random.Random, case: Case) -> Taken:
        camera = case.first.camera
        target = camera.target_mm[0] + x_mm, camera.target_mm[1] + y_mm
        moved = replace(camera, target_mm=target, distance_mm=camera.distance_mm * nearer)
        return case.scene, replace(case.first, camera=moved)

    return spoil


def _cut_off(dice: random.Random, case: Case) -> Taken:
    camera = case.first.camera
    aside = 150.0 if case.board.x_mm < 122 else -150.0
    moved = replace(camera, target_mm=(case.board.x_mm + aside, 83.0), tilt_deg=5.0)
    return case.scene, replace(case.first, camera=moved)


def _two_boards(dice: random.Random, case: Case) -> Taken:
    mat = _mat(case)
    pair = [make_layout(seed, shape="strip") for seed in (case.seed, case.seed + 1)]
    low, high = (replace(lay_down(dice, layout, mat), turn_deg=0.0, x_mm=122.0) for layout in pair)
    boards = (replace(low, y_mm=45.0), replace(high, y_mm=120.0))
    return replace(case.scene, boards=boards), case.first


def _stacked(dice: random.Random, case: Case) -> Taken:
    """A second board half on top of the first."""
    top = make_layout(case.seed + 5, shape="plain", populated=False)
    board = replace(case.board, x_mm=100.0, y_mm=83.0)
    over = Placed(top, 135.0, 88.0, dice.uniform(0, 20), board.top_mm)
    return replace(case.scene, boards=(board, over)), case.first


def _on_other_mat(paper: str) -> Mistake:
    def spoil(dice: random.Random, case: Case) -> Taken:
        mat = standard_mat(paper)
        board = lay_down(dice, case.board.layout, mat)
        shot = take_shot(dice, mat, megapixels=_megapixels(case), tilt_deg=8, azimuth_deg=20)
        return replace(case.scene, mat=mat, boards=(board,)), shot

    return spoil


def _covered(dice: random.Random, case: Case) -> Taken:
    """Sheets laid over most of the border."""
    left, bottom, right, top = _mat(case).reach
    wide, high = right - left, top - bottom
    things = (
        Solid(box_ring(left + 5, bottom + high / 2, 40, high + 40), 0.5, 1.0, _PAPER, _PAPER),
        Solid(box_ring(left + wide / 2, top - 2, wide + 20, 30), 0.5, 1.0, _PAPER, _PAPER),
        Solid(box_ring(left + wide / 2, bottom + 2, wide + 20, 30), 0.5, 1.0, _PAPER, _PAPER),
    )
    return replace(case.scene, things=things), case.first


def _lying_over(wide: float, deep: float, colour: tuple[float, float, float]) -> Mistake:
    """A thing over the board's edge, flat on it."""

    def spoil(dice: random.Random, case: Case) -> Taken:
        ring = case.board.on_mat(case.board.layout.outer)
        x, y = ring[dice.randrange(len(ring))]
        low = case.board.top_mm + 0.1
        thing = Solid(box_ring(float(x), float(y), wide, deep), low, low + 0.3, colour, colour)
        return replace(case.scene, things=(thing,)), case.first

    return spoil


def _leaning(dice: random.Random, case: Case) -> Taken:
    """A tall part at the board's edge, seen aslant, hides the edge and the mat behind it."""
    layout = case.board.layout
    x, y = layout.outer[0]
    part = Part(x + 4, y + 4, 7, 7, 12, (30, 30, 30))
    board = replace(case.board, layout=replace(layout, parts=(*layout.parts, part)))
    mat = _mat(case)
    shot = take_shot(dice, mat, megapixels=_megapixels(case), tilt_deg=33, azimuth_deg=60)
    return replace(case.scene, boards=(board,)), shot


def _too_large(dice: random.Random, case: Case) -> Taken:
    layout = case.board.layout
    width, height = layout.size_mm
    grown = max(236 / width, 158 / height)
    outer = tuple((x * grown, y * grown) for x, y in layout.outer)
    large = replace(layout, outer=outer, holes=(), slots=(), drills=(), parts=())
    board = Placed(large, 122.0, 83.0, 3.0, 0.0)
    return replace(case.scene, boards=(board,)), case.first


def _pink(dice: random.Random, case: Case) -> Taken:
    layout = replace(case.board.layout, mask="pink", parts=())
    return replace(case.scene, boards=(replace(case.board, layout=layout),)), case.first


Pair: TypeAlias = tuple[Scene, Shot, Scene, Shot]


def _pushed_between(dice: random.Random, case: Case) -> Pair:
    """The board was pushed a little, and turned, between the two photos."""
    board = case.board
    pushed = replace(board, x_mm=board.x_mm + 3.0, turn_deg=board.turn_deg + 2.0)
    return case.scene, case.first, replace(case.scene, boards=(pushed,)), case.second


def _another_board(dice: random.Random, case: Case) -> Pair:
    other = make_case(case.seed + 500, megapixels=_megapixels(case))
    return case.scene, case.first, other.scene, case.second


def _same_photo(dice: random.Random, case: Case) -> Pair:
    return case.scene, case.first, case.scene, case.first


def _on_stilts(dice: random.Random, case: Case) -> Pair:
    """A board that stands 6 to 10 mm high; two photos can tell."""
    scene = replace(case.scene, boards=(replace(case.board, stand_off_mm=dice.uniform(6, 10)),))
    return scene, case.first, scene, case.second


_PAIRS: dict[str, Callable[[random.Random, Case], Pair]] = {
    "pushed-between": _pushed_between,
    "another-board": _another_board,
    "same-photo-twice": _same_photo,
    "on-stilts": _on_stilts,
}
_PAIRS_WANTED = dict.fromkeys(("pushed-between", "another-board"), MUST_REFUSE)

_MISTAKES: dict[str, tuple[Mistake, str]] = {
    "defocused": (_finish(lambda f, scale: replace(f, blur_px=8.0 * scale)), MUST_REFUSE),
    "shaken": (_finish(lambda f, scale: replace(f, motion_px=45.0 * scale)), MUST_REFUSE),
    "dark": (_finish(lambda f, scale: replace(f, exposure=0.012, noise=0.03)), MUST_REFUSE),
    "overexposed": (_finish(lambda f, scale: replace(f, exposure=5.0)), MUST_REFUSE),
    "noisy": (_finish(lambda f, scale: replace(f, noise=0.25, exposure=0.5)), MAY_BE_RIGHT),
    "sodium-lamp": (_finish(lambda f, scale: replace(f, balance=(1.1, 0.5, 0.02))), MAY_BE_RIGHT),
    "glaring": (_glaring, MAY_BE_RIGHT),
    "no-mat": (_no_mat, MUST_REFUSE),
    "empty": (_empty, MUST_REFUSE),
    "tilted": (_tilted, MUST_REFUSE),
    "bent-mat": (_bent, MUST_REFUSE),
    "touching-markers": (_moved(9.0, 0.0), MUST_REFUSE),
    "over-field-edge": (_moved(0.0, 2.0), MUST_REFUSE),
    "over-corner": (_moved(12.0, 12.0), MUST_REFUSE),
    "cut-off": (_cut_off, MUST_REFUSE),
    "half-mat": (_looking_away(130.0, 40.0), MUST_REFUSE),
    "too-near": (_looking_away(0.0, 0.0, 0.45), MUST_REFUSE),
    "far-away": (_looking_away(0.0, 0.0, 4.5), MAY_BE_RIGHT),
    "two-boards": (_two_boards, MUST_REFUSE),
    "stacked-boards": (_stacked, EYES_ONLY),
    "a3-mat": (_on_other_mat("a3"), MUST_REFUSE),
    "letter-mat": (_on_other_mat("letter"), MUST_REFUSE),
    "markers-covered": (_covered, MUST_REFUSE),
    "paper-over-edge": (_lying_over(50.0, 35.0, _PAPER), EYES_ONLY),
    "cable-over-edge": (_lying_over(160.0, 4.0, _RUBBER), EYES_ONLY),
    "hand-on-board": (_lying_over(40.0, 22.0, _SKIN), EYES_ONLY),
    "leaning-part": (_leaning, EYES_ONLY),
    "too-large": (_too_large, MUST_REFUSE),
    "board-like-mat": (_pink, MAY_BE_RIGHT),
}

BAD_KINDS: dict[str, str] = {
    **{kind: wanted for kind, (_, wanted) in _MISTAKES.items()},
    **{kind: _PAIRS_WANTED.get(kind, MAY_BE_RIGHT) for kind in _PAIRS},
    **{kind: MUST_REFUSE if spoil.is_hopeless else MAY_BE_RIGHT for kind, spoil in SPOILS.items()},
}
"""Every kind, and what is asked of it."""
