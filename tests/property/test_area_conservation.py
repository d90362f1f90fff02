"""The areas of a board add up to its outline, whatever was taken from it."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from salvage.geometry.ledger import LAYERS, Ledger, Rules, Taken, account
from salvage.geometry.outline import check_region, circle, rectangle, settle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

PIECES = [
    circle(20),
    rectangle(30, 12),
    built_in_shape("ring", width_mm=36),
    built_in_shape("teardrop", width_mm=18),
    built_in_shape("half-moon", width_mm=30),
    circle(0.5),
]


@st.composite
def outlines(draw: st.DrawFn) -> Region:
    """A board with corners at random distances all round, and perhaps a hole in its middle."""
    radii = draw(st.lists(st.integers(20_000, 90_000), min_size=4, max_size=16))
    angles = [2 * math.pi * index / len(radii) for index in range(len(radii))]
    outer = tuple(
        (round(r * math.cos(a)), round(r * math.sin(a))) for r, a in zip(radii, angles, strict=True)
    )
    holes = (circle(8).outer,) if draw(st.booleans()) else ()
    return settle(check_region(Region(outer, holes)))


# Whole millimetres and quarter turns make near-touching and coinciding edges common.
PLACES = st.one_of(
    st.builds(
        Placement,
        st.integers(0, 180).map(lambda mm: mm * 1000),
        st.integers(0, 180).map(lambda mm: mm * 1000),
        st.sampled_from([0, 90_000, 180_000, 270_000]),
    ),
    st.builds(
        Placement,
        st.integers(0, 180_000),
        st.integers(0, 180_000),
        st.integers(0, 360_000),
        st.booleans(),
    ),
)

THINGS = st.builds(
    lambda kind, piece, where, kerf_um: Taken(kind, "thing", place(piece, where), kerf_um),
    st.sampled_from(["cut", "cut", "cut", "keep-out", "reservation"]),
    st.sampled_from(PIECES),
    PLACES,
    st.sampled_from([0, 1, 800, 2000, 3175]),
)

RULES = st.builds(
    Rules,
    tool_mm=st.sampled_from([0.0, 0.001, 0.8, 2.0, 3.175]),
    wall_mm=st.sampled_from([0.0, 1.0, 2.5]),
    least_mm=st.sampled_from([0.0, 4.0, 12.0, 40.0]),
)


@settings(max_examples=150, deadline=None)
@given(outlines(), st.lists(THINGS, max_size=25), RULES)
@example(rectangle(50, 50), [Taken("cut", "all", rectangle(50, 50), 2000)], Rules(2, 1, 8))
@example(circle(50), [Taken("cut", "edge", circle(50), 2000)] * 2, Rules(0, 0, 0))
def test_the_layers_add_up_to_the_outline(
    outline: Region, things: list[Taken], rules: Rules
) -> None:
    """Pieces, kerf, keep-outs, walls, reservations, usable and unusable: nothing lost or double."""
    ledger = account(outline, things, rules)

    assert abs(ledger.imbalance_mm2) <= 1e-6
    assert ledger.outline_mm2 == pytest.approx(outline.area_mm2, abs=1e-6)
    assert all(ledger.area_mm2(layer) >= 0 for layer in LAYERS)


@settings(max_examples=80, deadline=None)
@given(outlines(), st.lists(THINGS, max_size=15), RULES)
def test_each_area_is_that_of_its_own_regions(
    outline: Region, things: list[Taken], rules: Rules
) -> None:
    """The figures are those of the regions drawn, to the rounding of their edges."""
    ledger = account(outline, things, rules)

    for layer in LAYERS:
        edge_mm = sum(to_polygon(region).length for region in ledger.layers[layer])
        drawn = sum(region.area_mm2 for region in ledger.layers[layer])

        # Slivers thinner than the grid vanish when drawn; their edges do not count above.
        assert drawn == pytest.approx(ledger.area_mm2(layer), abs=0.02 + edge_mm * 0.001)


def taken_directly(things: list[Taken], kind: str) -> BaseGeometry:
    """Everything of one kind, by the geometry library alone."""
    return shapely.union_all([to_polygon(thing.region) for thing in things if thing.kind == kind])


@settings(max_examples=80, deadline=None)
@given(outlines(), st.lists(THINGS, max_size=15))
def test_each_layer_is_what_the_geometry_library_says(outline: Region, things: list[Taken]) -> None:
    """Cuts, keep-outs, reservations and the rest, asked for one by one in another way."""
    ledger = account(outline, things, Rules(0, 0, 0))
    board = to_polygon(outline)
    cut = taken_directly(things, "cut")
    bands = shapely.union_all(
        [
            to_polygon(thing.region).buffer(thing.kerf_um / 1000, quad_segs=90)
            for thing in things
            if thing.kind == "cut"
        ]
    )
    gone = cut.union(bands)
    keep_out = taken_directly(things, "keep-out")
    reserved = taken_directly(things, "reservation")
    expected = {
        "cut": board.intersection(cut).area,
        "kerf": board.intersection(bands.difference(cut)).area,
        "keep-out": board.intersection(keep_out.difference(gone)).area,
        "reserved": board.intersection(reserved.difference(gone).difference(keep_out)).area,
        "usable": board.difference(shapely.union_all([gone, keep_out, reserved])).area,
    }

    # The kerf may be a micrometre too wide along every edge, never too narrow.
    assert {k: ledger.area_mm2(k) for k in expected} == pytest.approx(expected, rel=1e-3, abs=3)
    assert ledger.usable_mm2 <= expected["usable"] + 0.2


@settings(max_examples=60, deadline=None)
@given(outlines(), st.lists(THINGS, max_size=12), st.sampled_from([4.0, 12.0]))
def test_usable_ground_is_never_overstated(
    outline: Region, things: list[Taken], least_mm: float
) -> None:
    """All usable ground is swept by discs of the smallest shape that lie wholly in free ground."""
    rules = Rules(tool_mm=2, wall_mm=1, least_mm=least_mm)
    free = account(outline, things, Rules(tool_mm=2, wall_mm=1, least_mm=0))
    usable = account(outline, things, rules)
    # A finer and more generous opening than the ledger's own, made on the drawn regions.
    radius = least_mm / 2
    cores = [to_polygon(r).buffer(0.02 - radius, quad_segs=64) for r in free.layers["usable"]]
    generous = shapely.union_all(cores).buffer(radius * 1.002, quad_segs=64)
    over = [to_polygon(fragment.region).difference(generous).area for fragment in usable.fragments]

    assert usable.usable_mm2 <= free.usable_mm2
    assert sum(over) <= 0.0005 * usable.outline_mm2


def total(ledger: Ledger, *layers: str) -> float:
    """Sum of some layers."""
    return sum(ledger.area_mm2(layer) for layer in layers)


@settings(max_examples=60, deadline=None)
@given(outlines(), st.lists(THINGS, min_size=1, max_size=12), RULES)
def test_order_does_not_matter_and_more_cuts_leave_less(
    outline: Region, things: list[Taken], rules: Rules
) -> None:
    """The same things in another order give the same areas; one thing less leaves no less."""
    ledger = account(outline, things, rules)
    shuffled = sorted(things, key=lambda thing: (thing.region.outer, thing.kerf_um))
    again = account(outline, shuffled, rules)
    before = account(outline, things[:-1], rules)

    assert dict(again.areas_mm2) == pytest.approx(dict(ledger.areas_mm2), abs=0.05)
    assert ledger.usable_mm2 <= before.usable_mm2 + 0.05
    assert total(ledger, "cut", "kerf") >= total(before, "cut", "kerf") - 0.05
