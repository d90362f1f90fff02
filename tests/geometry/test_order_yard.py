"""What makes one plan better than another, and first fit as the yard does it."""

from __future__ import annotations

from salvage.geometry.order_yard import Draft, OrderLine, ShelfBoard, Yard, first_fit
from salvage.geometry.outline import circle, rectangle
from salvage.geometry.pack_site import Cutouts
from salvage.geometry.untangle import Spot

BOARDS = [
    ShelfBoard("R1", (rectangle(50, 50),), False),
    ShelfBoard("R2", (rectangle(60, 60),), False),
    ShelfBoard("F1", (rectangle(150, 150),), True),
]
LINES = [OrderLine("bead", circle(12), 2), OrderLine("disc", circle(40), 3)]


def yard() -> Yard:
    """Three boards, two shapes, a grid of a millimetre."""
    shapes = [line.shape for line in LINES]
    cutouts = Cutouts(shapes, gap_mm=2, angles_mdeg=(0,), step_mm=1, detail_mm=0.1)
    return Yard(BOARDS, LINES, cutouts)


def test_plans_are_ranked_by_what_is_missing_then_fresh_boards_then_boards() -> None:
    """Any missing piece weighs more than a fresh board, and that more than any cut boards."""
    spot = [(1, Spot(0, 0, 0))]
    drafts = [
        Draft({0: spot}, [0, 0]),
        Draft({1: spot}, [0, 0]),
        Draft({0: spot, 1: spot}, [0, 0]),
        Draft({2: spot}, [0, 0]),
        Draft({0: spot}, [1, 0]),
        Draft({0: spot}, [0, 1]),
    ]

    ranks = [yard().rank(draft) for draft in drafts]

    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)


def test_first_fit_places_the_largest_first() -> None:
    """A disc on each board, the third on the fresh one; the beads go into corners of the small."""
    draft = first_fit(yard())

    assert draft.left == [0, 0]
    assert {board: [line for line, _ in layout] for board, layout in draft.layouts.items()} == {
        0: [1, 0],
        1: [1, 0],
        2: [1],
    }


def test_a_copy_of_a_draft_is_its_own() -> None:
    """What is changed in one stays out of the other."""
    draft = first_fit(yard())
    other = draft.copy()
    other.left[0] = 9
    other.layouts[0].clear()

    assert draft.left == [0, 0]
    assert len(draft.layouts[0]) == 2
