"""Places to cut from: on what is free, in board coordinates, and told apart from both sides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from salvage.photo.rich_places import cells_of, free_places, seen_from_behind
from salvage.photo.richness import RichnessMap, RichPlace
from salvage.photo.square_parts import SquarePart
from salvage.records.region import Region


def box(left: int, bottom: int, right: int, top: int) -> Region:
    """A rectangle in mm."""
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    return Region(tuple((x * 1000, y * 1000) for x, y in corners))


def slope() -> RichnessMap:
    """A map of 60 by 30 mm that grows denser to the right, a little to the top."""
    cells = (np.arange(120)[None, :] + np.arange(60)[::-1, None] / 60).astype(np.uint8)
    levels = cells.tobytes()
    places = (RichPlace(50.0, 10.0, 1.0),)
    return RichnessMap(
        levels, 120, 60, 0.01, 10.0, places, (SquarePart(20.0, 8.0, 12.0),), levels, 0.01
    )


def test_places_lie_on_what_is_free() -> None:
    """The densest part is cut away already, so the next best that still holds a piece is named."""
    places = free_places(slope(), [box(0, 0, 40, 30)])

    assert len(places) == 3
    assert 34 <= places[0].x_mm <= 36.5
    assert places[0].richer_than > 0.95
    for place in places:
        assert 4 <= place.x_mm <= 36.5
        assert 4 <= place.y_mm <= 26
    densities = [place.density for place in places]
    assert densities == sorted(densities, reverse=True)


def test_nothing_free_gives_no_place() -> None:
    """A board that is used up has nothing to propose."""
    assert free_places(slope(), []) == ()


def test_cells_tell_the_share_that_is_covered() -> None:
    """A hole is not covered; rows run from the top."""
    ring = ((0, 0), (10_000, 0), (10_000, 5_000), (0, 5_000))
    hole = ((2_000, 1_000), (2_000, 3_000), (4_000, 3_000), (4_000, 1_000))
    share = cells_of([Region(ring, (hole,))], (20, 40))

    assert float(share.sum()) / 4 == pytest.approx(50 - 4, rel=0.04)
    assert share[:9].max() == 0
    assert share[15, 6] == 0


def test_the_back_is_mirrored() -> None:
    """What is at the left of the front is at the right when the board is turned over."""
    found = slope()
    turned = seen_from_behind(found, 60.0)

    assert (turned.places[0].x_mm, turned.places[0].y_mm) == (10.0, 10.0)
    assert turned.parts[0].x_mm == 40.0
    assert math.isclose(turned.density_at(5, 15), found.density_at(54.9, 15), abs_tol=0.02)
    assert seen_from_behind(turned, 60.0) == found
