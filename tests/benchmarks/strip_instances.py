"""
Public irregular strip-packing instances, read from a folder in the XML or JSON they are kept in.

An instance is a strip of a given height and outlines with their numbers and allowed angles.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from defusedxml import ElementTree

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Item:
    """
    An outline of an instance.

    Args:
        points: Corners, counter-clockwise.
        quantity: How many.
        angles: Allowed angles in degrees, all of them quarter turns.
    """

    points: Points
    quantity: int
    angles: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Instance:
    """
    A strip and what to put on it.

    Args:
        name: Its name in the literature.
        height: Height of the strip.
        items: The outlines.
    """

    name: str
    height: float
    items: tuple[Item, ...]


def read_instance(path: Path) -> Instance:
    """The instance of a file; its name is the file's."""
    if path.suffix == ".json":
        return _of_json(path.stem, json.loads(path.read_text(encoding="utf-8")))
    return _of_xml(path.stem, ElementTree.fromstring(path.read_bytes()))


def _of_json(name: str, data: dict[str, Any]) -> Instance:  # Any: as the file has it
    items = []
    for entry in data["Items"]:
        shape = entry["Shape"]
        if shape["Type"] != "SimplePolygon":
            raise ValueError(f"{name}: {shape['Type']} is not read here")
        angles = tuple(round(angle) for angle in entry.get("AllowedOrientations", [0]))
        items.append(Item(_tidy(shape["Data"]), entry["Demand"], angles))
    return Instance(name, float(data["Strip"]["Height"]), tuple(items))


def _of_xml(name: str, root: Any) -> Instance:  # Any: an element of the XML library
    outlines = {}
    for polygon in _named(root, "polygon"):
        edges = sorted(_named(polygon, "segment"), key=lambda edge: int(edge.get("n")))
        outlines[polygon.get("id")] = [(float(e.get("x0")), float(e.get("y0"))) for e in edges]
    (boards,) = _named(root, "boards")
    board = outlines[_named(boards, "component")[0].get("idPolygon")]
    sides = [max(values) - min(values) for values in zip(*board, strict=True)]
    (lot,) = _named(root, "lot")
    items = []
    for piece in _named(lot, "piece"):
        (component,) = _named(piece, "component")
        angles = tuple(round(float(e.get("angle"))) for e in _named(piece, "enumeration"))
        points = _tidy(outlines[component.get("idPolygon")])
        items.append(Item(points, int(piece.get("quantity")), angles or (0,)))
    return Instance(name, min(sides), tuple(items))


def _named(root: Any, name: str) -> list[Any]:
    return [e for e in root.iter() if e is not root and e.tag.rpartition("}")[2] == name]


def _tidy(points: list[tuple[float, float]]) -> Points:
    """Counter-clockwise, no corner twice."""
    import numpy as np
    import shapely

    ring = np.array(points, dtype=float)
    ring = ring[np.any(np.abs(ring - np.roll(ring, 1, axis=0)) > 1e-9, axis=1)]
    return ring if shapely.LinearRing(ring).is_ccw else np.ascontiguousarray(ring[::-1])
