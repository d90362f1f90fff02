from __future__ import annotations

import pytest
from shapely import STRtree
from shapely.geometry import LineString, Point, box

from demo_db.board_plan import plan_board
from demo_db.board_tracks import wire_board

_BOARDS = [(1, 160.0, 100.0), (2, 120.0, 90.0), (3, 60.0, 80.0), (4, 30.0, 26.0), (7, 244.0, 190.0)]


@pytest.mark.parametrize("board", _BOARDS)
@pytest.mark.parametrize("side", ["front", "back"])
def test_tracks_of_one_side_never_cross(board: tuple[int, float, float], side: str) -> None:
    """On a real board, tracks that cross on one side would be joined."""
    tracks = [LineString(track.points) for track in wire_board(*board).tracks if track.side == side]
    tree = STRtree(tracks)

    crossing = [
        (int(one), int(other))
        for one, other in tree.query(tracks, predicate="intersects").T
        if one < other
    ]

    assert crossing == []


@pytest.mark.parametrize("board", _BOARDS)
def test_tracks_stay_on_the_board_and_off_its_holes(board: tuple[int, float, float]) -> None:
    """A screw through a mounting hole touches no track."""
    _, wide, high = board
    rim = box(0.5, 0.5, wide - 0.5, high - 0.5)
    holes = [Point(hole).buffer(2.0) for hole in plan_board(*board).holes]

    lines = [LineString(track.points) for track in wire_board(*board).tracks]

    assert all(rim.contains(line) for line in lines)
    assert not any(line.intersects(hole) for line in lines for hole in holes)


@pytest.mark.parametrize("board", _BOARDS)
def test_parts_stand_beside_one_another(board: tuple[int, float, float]) -> None:
    """No two parts stand on the same spot, and none hangs over the edge."""
    _, wide, high = board
    bodies = [
        box(p.x - p.wide / 2, p.y - p.high / 2, p.x + p.wide / 2, p.y + p.high / 2)
        for p in plan_board(*board).parts
    ]

    assert all(box(0, 0, wide, high).contains(body) for body in bodies)
    assert not any(
        one.intersects(other) for place, one in enumerate(bodies) for other in bodies[:place]
    )


def test_a_larger_board_has_more_on_it() -> None:
    """The plan fills the board that is asked for."""
    assert len(plan_board(1, 160.0, 100.0).parts) > 2 * len(plan_board(1, 60.0, 80.0).parts)
