"""Hand shears cut from edge to edge; every piece comes out whole in its own rectangle."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.geometry.outline import circle, rectangle, to_polygon, to_regions
from salvage.geometry.pack import Demand, PackBoard
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.geometry.shears import ShearPlan, plan_shears
from salvage.records.region import Region

Box = tuple[float, float, float, float]
BOARD = Region(
    rectangle(160, 100).outer,
    (place(rectangle(12, 10), Placement(60_000, 40_000)).outer[::-1],),
)


def quick() -> Patience:
    """A clock that moves by itself, so that a search ends after the same number of looks."""
    ticks = iter(range(10**9))
    return Patience(15, lambda: float(next(ticks)))


def sheared(plan: ShearPlan) -> list[Box]:
    """Panels after all cuts; fails unless each cut runs from edge to edge of one panel."""
    panels: list[Box] = [plan.panel_mm]
    for cut in plan.cuts:
        (x1, y1), (x2, y2) = cut.start_mm, cut.end_mm
        for panel in panels:
            left, bottom, right, top = panel
            if x1 == x2 and (y1, y2) == (bottom, top) and left < x1 < right:
                panels += [(left, bottom, x1, top), (x1, bottom, right, top)]
            elif y1 == y2 and (x1, x2) == (left, right) and bottom < y1 < top:
                panels += [(left, bottom, right, y1), (left, y1, right, top)]
            else:
                continue
            panels.remove(panel)
            break
        else:
            raise AssertionError(f"{cut} runs from edge to edge of no panel")
    return panels


def holders(plan: ShearPlan, panels: list[Box]) -> list[list[int]]:
    """For each piece the panels whose box holds its box."""
    found = []
    for piece in plan.packing.pieces:
        left, bottom, right, top = (value / 1000 for value in piece.region.bounds_um)
        found.append(
            [
                number
                for number, p in enumerate(panels)
                if p[0] <= left and p[1] <= bottom and right <= p[2] and top <= p[3]
            ]
        )
    return found


@settings(max_examples=8, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(12, 60), st.floats(12, 60), st.integers(1, 5)), min_size=1, max_size=4
    )
)
def test_each_piece_comes_out_in_a_panel_of_its_own(sizes: list[tuple[float, float, int]]) -> None:
    """Every cut spans its panel, every piece lies on the ground, no two in one panel."""
    demands = [
        Demand(f"oval {n}", built_in_shape("oval", width_mm=w, height_mm=h), count)
        for n, (w, h, count) in enumerate(sizes)
    ]

    plan = plan_shears(PackBoard("BA100X", (BOARD,)), demands, patience=quick())

    panels = sheared(plan)
    held = holders(plan, panels)
    assert all(len(numbers) == 1 for numbers in held)
    assert len({numbers[0] for numbers in held}) == len(held)
    assert all(to_polygon(BOARD).covers(to_polygon(p.region)) for p in plan.packing.pieces)
    assert len(plan.packing.pieces) + sum(plan.packing.missing.values()) == sum(
        count for _, _, count in sizes
    )


def test_rectangles_that_fill_the_board_are_all_cut_without_waste() -> None:
    """Twelve tags of 40 x 20 mm from a panel of 120 x 80 mm, with no kerf between."""
    board = PackBoard("BA100X", (rectangle(120, 80),))

    plan = plan_shears(board, [Demand("tag", rectangle(40, 20))], patience=quick())

    assert len(plan.packing.pieces) == 12
    assert plan.packing.share == 1.0
    assert len(plan.cuts) == 11


def test_a_piece_keeps_off_what_is_no_ground() -> None:
    """A hole in the middle of the panel is cut away or round."""
    plan = plan_shears(
        PackBoard("BA100X", (BOARD,)), [Demand("disc", circle(45))], patience=quick()
    )

    assert len(plan.packing.pieces) >= 4
    assert all(to_polygon(BOARD).covers(to_polygon(p.region)) for p in plan.packing.pieces)


def test_what_is_too_large_is_missing() -> None:
    """A disc wider than the panel is told as missing, and nothing is cut."""
    plan = plan_shears(
        PackBoard("BA100X", (BOARD,)), [Demand("disc", circle(120), 2)], patience=quick()
    )

    assert plan.packing.missing == {"disc": 2}
    assert plan.cuts == ()


@pytest.mark.parametrize("corner_um", [(x, y) for x in (0, 45_000, 130_000) for y in (0, 35_000)])
def test_no_cut_runs_through_what_is_spared(corner_um: tuple[int, int]) -> None:
    """A port or a row of screws would spoil the blades, wherever it sits on the board."""
    import shapely

    port = place(rectangle(30, 30), Placement(*corner_um))
    ground = to_polygon(rectangle(160, 100)).difference(to_polygon(port))
    board = PackBoard("BA100X", to_regions(ground))
    demands = [Demand("tag", rectangle(40, 25)), Demand("bar", rectangle(70, 10))]
    panel = rectangle(160, 100)
    plan = plan_shears(board, demands, patience=quick(), panel=panel, spare=[port])
    inner = to_polygon(port).buffer(-0.1)

    assert plan.packing.pieces
    assert sheared(plan)
    for cut in plan.cuts:
        assert not inner.intersects(shapely.LineString([cut.start_mm, cut.end_mm])), cut
