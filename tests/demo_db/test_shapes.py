from __future__ import annotations

import math
import re
from importlib.resources import files

import pytest
from defusedxml import ElementTree
from shapely.geometry import Polygon
from svgelements import Path

_NAMES = ["fern-leaf", "kite", "lighthouse", "tern", "tide-bell"]
_LEAST_MM = 2.5


def _rings(name: str) -> list[Polygon]:
    """The path's subpaths as polygons, flattened by a library that did not draw them."""
    text = (files("demo_db") / "shapes" / f"{name}.svg").read_text(encoding="utf-8")
    (path,) = ElementTree.fromstring(text).iter("{http://www.w3.org/2000/svg}path")
    rings = []
    for part in Path(path.get("d")).as_subpaths():
        curves = [curve for curve in Path(part) if type(curve).__name__ == "CubicBezier"]
        points = [curve.point(step / 16) for curve in curves for step in range(16)]
        rings.append(Polygon([(point.x, point.y) for point in points]))
    return rings


def test_the_shapes_are_our_own_five() -> None:
    """The demo has five shapes, each in a file of its name."""
    found = sorted(
        entry.name for entry in (files("demo_db") / "shapes").iterdir() if entry.is_file()
    )

    assert found == [f"{name}.svg" for name in _NAMES]


@pytest.mark.parametrize("name", _NAMES)
def test_a_shape_is_true_to_size(name: str) -> None:
    """One unit of the drawing is one millimetre, and the outline fills the sheet."""
    text = (files("demo_db") / "shapes" / f"{name}.svg").read_text(encoding="utf-8")
    head = re.search(
        r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 ([\d.]+) ([\d.]+)"', text
    )
    outline = _rings(name)[0]

    assert head is not None
    wide, high = float(head[1]), float(head[2])
    assert (wide, high) == (float(head[3]), float(head[4]))
    assert outline.bounds == pytest.approx((0, 0, wide, high), abs=0.06)
    assert 35 <= high <= 60


@pytest.mark.parametrize("name", _NAMES)
def test_a_shape_has_one_outline_and_one_hole_to_hang_it_by(name: str) -> None:
    """A jump ring goes through the hole, with enough left round it to hold."""
    outline, hole = _rings(name)

    assert outline.is_valid
    assert outline.contains(hole)
    assert 2 * math.sqrt(hole.area / math.pi) >= _LEAST_MM
    assert outline.exterior.distance(hole) >= _LEAST_MM


@pytest.mark.parametrize("name", _NAMES)
def test_nothing_on_a_shape_is_too_narrow_for_a_cutter(name: str) -> None:
    """A disc of 2.5 mm rolls through all of the shape, and a cutter of 2 mm into every notch."""
    outline, hole = _rings(name)
    piece = outline.difference(hole)
    opened = piece.buffer(-_LEAST_MM / 2, 32).buffer(_LEAST_MM / 2, 32)
    closed = outline.buffer(1.0, 32).buffer(-1.0, 32)

    lost, gained = piece.difference(opened).area, closed.difference(outline).area

    assert opened.geom_type == "Polygon"
    assert lost < 0.5
    assert gained < 0.5
