"""A board is filled with many shapes, and every layout is sound on the true outlines."""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import BadValue
from salvage.geometry.ledger import Rules, Taken, account
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.pack import (
    Demand,
    PackBoard,
    PackedPiece,
    Packing,
    gap_of_rules,
    pack,
    sound_pieces,
)
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

RULES = Rules(tool_mm=1, wall_mm=1, least_mm=10)


def looks(count: int, rounds: int = 1_000_000) -> Patience:
    """A clock that moves by itself: the search ends after so many looks, the same every time."""
    ticks = iter(range(10**9))
    return Patience(count, lambda: float(next(ticks)), rounds=rounds)


def usual_board(width: float, height: float) -> PackBoard:
    """Nine mounting holes with their margin, and a bank of connectors at the lower edge."""
    taken = [Taken("keep-out", "bank", place(rectangle(width / 2, 22), Placement(20_000, 0)))]
    taken += [
        Taken("keep-out", "hole", place(circle(8), Placement(round(x * 1000), round(y * 1000))))
        for x in (6, width / 2, width - 6)
        for y in (6, height * 0.65, height - 6)
    ]
    layers = account(rectangle(width, height), taken, RULES).layers
    return PackBoard("BA100X", layers["usable"])


def check_sound(packing: Packing, board: PackBoard, shapes: dict[str, Region], gap: float) -> None:
    """By the library alone: on the ground, apart, and each the shape where it is said to lie."""
    ground = shapely.union_all([to_polygon(region) for region in board.area])
    for piece in packing.pieces:
        assert ground.covers(to_polygon(piece.region))
        assert piece.region == place(shapes[piece.name], piece.placement)
    for one, other in combinations(packing.pieces, 2):
        assert to_polygon(one.region).distance(to_polygon(other.region)) >= gap - 1e-6


# The trade's rule of thumb for an ATX-sized board (common practice, no source).
@pytest.mark.parametrize(("width_mm", "at_least"), [(75, 8), (50, 15)])
def test_a_fresh_board_gives_at_least_the_trades_rule(width_mm: float, at_least: int) -> None:
    """From 305 x 244 mm eight discs of 75 mm, or fifteen of 50 mm, by the first layouts alone."""
    board, disc = usual_board(305, 244), circle(width_mm)

    packing = pack(board, [Demand("disc", disc)], gap_mm=3, patience=looks(0))

    assert len(packing.pieces) >= at_least
    check_sound(packing, board, {"disc": disc}, 3)


@settings(max_examples=12, deadline=None)
@given(
    st.floats(0, 5),
    st.lists(
        st.tuples(
            st.sampled_from(["oval", "teardrop", "half-moon", "ring"]),
            st.floats(14, 45),
            st.integers(1, 6),
        ),
        min_size=1,
        max_size=3,
    ),
    st.integers(0, 99),
)
def test_every_layout_is_sound(
    gap_mm: float, wanted: list[tuple[str, float, int]], seed: int
) -> None:
    """Whatever is asked for: on the ground, the gap apart, none more than asked, none forgotten."""
    board = usual_board(150, 110)
    shapes = {f"{n}": built_in_shape(s, width_mm=w) for n, (s, w, _) in enumerate(wanted)}
    demands = [Demand(f"{n}", shapes[f"{n}"], count) for n, (_, _, count) in enumerate(wanted)]

    packing = pack(board, demands, gap_mm=gap_mm, patience=looks(60), seed=seed)

    check_sound(packing, board, shapes, gap_mm)
    names = [piece.name for piece in packing.pieces]
    for demand in demands:
        assert names.count(demand.name) + packing.missing.get(demand.name, 0) == demand.quantity
    assert packing.area_mm2 == pytest.approx(sum(shapes[n].area_mm2 for n in names), rel=1e-4)


def test_the_search_adds_to_the_first_layout() -> None:
    """Discs of 30 mm: more go on when they are pulled apart than when they are put row by row."""
    board = usual_board(150, 110)
    told: list[int] = []
    plain = pack(board, [Demand("disc", circle(30))], gap_mm=2, patience=looks(0))
    patience = looks(3000)
    telling = Patience(patience.seconds, patience.clock, progress=lambda n, _: told.append(n))

    better = pack(board, [Demand("disc", circle(30))], gap_mm=2, patience=telling)

    assert len(better.pieces) > len(plain.pieces)
    assert told == sorted(told)
    assert told[-1] == len(better.pieces)


def test_the_same_seed_and_rounds_give_the_same_layout() -> None:
    """With a clock that stands still, the rounds end the search."""
    board = usual_board(90, 80)
    demand = [Demand("drop", built_in_shape("teardrop", width_mm=24))]
    runs = [
        pack(board, demand, gap_mm=2, patience=Patience(1, lambda: 0.0, rounds=9), seed=seed)
        for seed in (1, 1)
    ]

    assert runs[0] == runs[1]


def test_a_part_smaller_than_the_shape_holds_nothing() -> None:
    """A scrap of 12 mm beside a board of 60 mm does not pass for ground."""
    scrap = place(rectangle(12, 12), Placement(100_000, 0))
    board = PackBoard("BA100X", (rectangle(60, 60), scrap))
    disc = circle(40)

    packing = pack(board, [Demand("disc", disc, 3)], gap_mm=2, patience=looks(200))

    assert packing.missing == {"disc": 2}
    check_sound(packing, board, {"disc": disc}, 2)


def test_only_allowed_angles_are_used() -> None:
    """A grain that must run upright."""
    packing = pack(
        usual_board(150, 110),
        [Demand("tag", built_in_shape("rounded-tag", width_mm=20))],
        gap_mm=2,
        patience=looks(50),
        angles_mdeg=(0, 180_000),
    )

    assert packing.pieces
    assert {piece.placement.angle_mdeg for piece in packing.pieces} <= {0, 180_000}


def test_nothing_fits_on_no_ground() -> None:
    """A board without ground gives an empty layout."""
    packing = pack(PackBoard("B", ()), [Demand("disc", circle(9))], gap_mm=1, patience=looks(9))

    assert packing.pieces == ()
    assert packing.share == 0


def test_pieces_that_are_not_sound_are_left_out() -> None:
    """One off the board, one too near, one over another with no gap asked for."""
    board = PackBoard("B", (rectangle(100, 50),))

    def at(x_um: int) -> PackedPiece:
        placement = Placement(x_um, 20_000)
        return PackedPiece("disc", placement, place(circle(20), placement))

    assert sound_pieces(board, [at(20_000), at(95_000)], gap_mm=2) == (at(20_000),)
    assert sound_pieces(board, [at(20_000), at(41_000)], gap_mm=2) == (at(20_000),)
    assert len(sound_pieces(board, [at(20_000), at(42_000)], gap_mm=2)) == 2
    assert sound_pieces(board, [at(20_000), at(30_000)], gap_mm=0) == (at(20_000),)


def test_a_gap_below_zero_and_no_quantity_are_refused() -> None:
    """Both are slips of the pen."""
    board = usual_board(100, 80)

    with pytest.raises(BadValue, match="gap of -1 mm"):
        pack(board, [Demand("disc", circle(20))], gap_mm=-1, patience=looks(1))
    with pytest.raises(BadValue, match="0 of 'disc'"):
        pack(board, [Demand("disc", circle(20), 0)], gap_mm=1, patience=looks(1))


def test_the_gap_of_the_rules_is_two_kerfs_and_the_wall() -> None:
    """Each piece has its own kerf round it."""
    assert gap_of_rules(Rules(tool_mm=2, wall_mm=1, least_mm=0)) == 5
