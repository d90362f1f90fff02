"""
What every square millimetre of a board is: cut, lost, kept, reserved, usable or too small.

The layers are taken in a fixed order, each from what the earlier ones left, so they never overlap:

==========  =====================================================================================
cut         pieces and scrap that were taken out
kerf        the band the tool took round each cut, one kerf wide
keep-out    regions not to be cut into a piece
wall        room that the next piece must leave: beside an earlier kerf the wall and then a tool's
            width; beside a keep-out and a reservation a tool's width; beside the board's own edge
            and its holes none, as a piece may use that edge and the tool may run off it
reserved    held for an order
usable      where the smallest shape still fits: what a disc of its width can sweep
unusable    the rest: necks and corners too narrow for that
==========  =====================================================================================

Each layer's area is measured on its own polygons, none is worked out from the others, so their sum
against the outline is a real check. Whatever lies in the usable layer may be cut with the tool of
the rules without any conflict (:mod:`salvage.geometry.conflicts`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from salvage.errors import BadValue
from salvage.frozen import dataclass
from salvage.geometry.outline import to_polygon, to_regions
from salvage.geometry.overlay import (
    COARSE_EXCESS_MM,
    grow,
    intersect,
    open_by,
    polygon_parts,
    polygons,
    subtract,
    unite,
)
from salvage.records.region import Region
from salvage.units import from_um

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

TakenKind = Literal["cut", "keep-out", "reservation"]

LAYERS = ("cut", "kerf", "keep-out", "wall", "reserved", "usable", "unusable")

# The centre of the largest circle in a fragment is found to this distance. The circle given is
# never too large, only too small by up to this.
_CIRCLE_TOLERANCE_MM = 0.01


@dataclass(frozen=True, slots=True)
class Rules:
    """
    What the workshop's tools ask for.

    Args:
        tool_mm: Width of the cutter; 0 for shears.
        wall_mm: Least material left standing between neighbouring kerfs.
        least_mm: Least width of the smallest shape the workshop makes.

    Raises:
        BadValue: If one of them is negative.
    """

    tool_mm: float
    wall_mm: float
    least_mm: float

    def __post_init__(self) -> None:
        for name in ("tool_mm", "wall_mm", "least_mm"):
            value = getattr(self, name)
            if not 0 <= value < float("inf"):
                raise BadValue(f"{value:g} mm is out of range", hint="0 or more", field=name)


@dataclass(frozen=True, slots=True)
class Taken:
    """
    A region of a board that is spoken for.

    Args:
        kind: What for.
        label: What to call it: a piece's code, or a name such as ``serial port``.
        region: Where, in board coordinates.
        kerf_um: Width the tool took round a cut; counts for cuts only.
    """

    kind: TakenKind
    label: str
    region: Region
    kerf_um: int = 0


@dataclass(frozen=True, slots=True)
class Fragment:
    """
    One connected stretch of usable board.

    Args:
        region: Where it is.
        area_mm2: Its area.
        inscribed_mm: Diameter of the largest circle in it; never too large.
        inscribed_at_mm: Centre of that circle.
        width_mm: Width of its bounding box.
        height_mm: Height of its bounding box.
    """

    region: Region
    area_mm2: float
    inscribed_mm: float
    inscribed_at_mm: tuple[float, float]
    width_mm: float
    height_mm: float


class _SnappedLayers(Mapping[str, tuple[Region, ...]]):
    """Regions by layer, brought to the grid when first asked for: that takes longer than areas."""

    __slots__ = ("_polygons", "_snapped")

    def __init__(self, polygons_of_layers: Mapping[str, MultiPolygon]) -> None:
        self._polygons = polygons_of_layers
        self._snapped: dict[str, tuple[Region, ...]] = {}

    def __getitem__(self, layer: str) -> tuple[Region, ...]:
        if layer not in self._snapped:
            self._snapped[layer] = to_regions(self._polygons[layer])
        return self._snapped[layer]

    def __iter__(self) -> Iterator[str]:
        return iter(self._polygons)

    def __len__(self) -> int:
        return len(self._polygons)


@dataclass(frozen=True, slots=True)
class Ledger:
    """
    The areas of one board.

    Args:
        outline_mm2: Area of the board with its holes left out.
        areas_mm2: Area of each layer, measured on its own polygons.
        layers: Regions of each layer on the micrometre grid, largest first.
        fragments: Connected stretches of the usable layer, largest first.
    """

    outline_mm2: float
    areas_mm2: Mapping[str, float]
    layers: Mapping[str, tuple[Region, ...]]
    fragments: tuple[Fragment, ...]

    def area_mm2(self, layer: str) -> float:
        """Area of one of :data:`LAYERS`."""
        return self.areas_mm2[layer]

    @property
    def usable_mm2(self) -> float:
        """Area where the smallest shape still fits."""
        return self.areas_mm2["usable"]

    @property
    def usable_percent(self) -> float:
        """Usable share of the outline, from 0 to 100."""
        return 100 * self.usable_mm2 / self.outline_mm2

    @property
    def imbalance_mm2(self) -> float:
        """Outline less the sum of all layers: 0 but for rounding in the last digits."""
        return self.outline_mm2 - sum(self.areas_mm2.values())


def account(outline: Region, taken: Sequence[Taken], rules: Rules) -> Ledger:
    """
    The ledger of a board.

    Args:
        outline: The board's true edge with its holes.
        taken: Cuts, keep-outs and reservations, in any order; parts outside the outline and
            overlaps among them count once or not at all.
        rules: Tool, wall and smallest shape.

    >>> from salvage.geometry.outline import rectangle
    >>> fresh = account(rectangle(100, 50), [], Rules(tool_mm=2, wall_mm=1, least_mm=0))
    >>> fresh.usable_mm2, fresh.usable_percent
    (5000.0, 100.0)
    """
    board = to_polygon(outline)
    rest = polygons(board)
    layers: dict[str, MultiPolygon] = {}
    for layer, claim in _claims(taken, rules).items():
        layers[layer] = intersect(rest, claim)
        rest = subtract(rest, claim)
    layers["usable"] = open_by(rest, rules.least_mm)
    layers["unusable"] = subtract(rest, layers["usable"])
    return Ledger(
        outline_mm2=board.area,
        areas_mm2=MappingProxyType({layer: layers[layer].area for layer in LAYERS}),
        layers=_SnappedLayers({layer: layers[layer] for layer in LAYERS}),
        fragments=_fragments(layers["usable"]),
    )


def usable_area_mm2(outline: Region, taken: Sequence[Taken], rules: Rules) -> float:
    """
    The usable area alone, in a fraction of the time that the whole ledger takes.

    Args:
        outline: The board's true edge with its holes.
        taken: Cuts, keep-outs and reservations, in any order.
        rules: Tool, wall and smallest shape.

    >>> from salvage.geometry.outline import rectangle
    >>> usable_area_mm2(rectangle(100, 50), [], Rules(tool_mm=2, wall_mm=1, least_mm=0))
    5000.0
    """
    claims = _claims(taken, rules).values()
    free = subtract(to_polygon(outline), unite(claims)) if taken else to_polygon(outline)
    return float(open_by(free, rules.least_mm).area)


def _claims(taken: Sequence[Taken], rules: Rules) -> dict[str, MultiPolygon]:
    """What each layer would take if it stood alone, in order of priority."""
    by_kerf: dict[int, list[Polygon]] = defaultdict(list)
    for item in taken:
        if item.kind == "cut":
            by_kerf[max(0, item.kerf_um)].append(to_polygon(item.region))
    groups = [(from_um(kerf_um), unite(cuts)) for kerf_um, cuts in by_kerf.items()]
    keep_outs = unite(to_polygon(item.region) for item in taken if item.kind == "keep-out")
    reserved = unite(to_polygon(item.region) for item in taken if item.kind == "reservation")
    beside_cut = rules.wall_mm + rules.tool_mm
    walls = [_room(cuts, kerf_mm + beside_cut) for kerf_mm, cuts in groups if beside_cut]
    walls.append(_room(keep_outs, rules.tool_mm))
    walls.append(subtract(_room(reserved, rules.tool_mm), reserved))
    return {
        "cut": unite(cuts for _, cuts in groups),
        "kerf": unite(grow(cuts, kerf_mm) for kerf_mm, cuts in groups),
        "keep-out": keep_outs,
        "wall": unite(walls),
        "reserved": reserved,
    }


def _room(area: MultiPolygon, distance_mm: float) -> MultiPolygon:
    return grow(area, distance_mm, excess_mm=COARSE_EXCESS_MM)


def _fragments(usable: MultiPolygon) -> tuple[Fragment, ...]:
    found = []
    for part in polygon_parts(usable):
        regions = to_regions(part)
        if regions:
            found.append(_measure(part, regions[0]))
    return tuple(sorted(found, key=lambda fragment: (-fragment.area_mm2, fragment.region.outer)))


def _measure(part: Polygon, region: Region) -> Fragment:
    import shapely

    spoke = shapely.maximum_inscribed_circle(part, tolerance=_CIRCLE_TOLERANCE_MM)
    x, y = spoke.coords[0]
    left, bottom, right, top = part.bounds
    return Fragment(
        region=region,
        area_mm2=part.area,
        inscribed_mm=2 * spoke.length,
        inscribed_at_mm=(x, y),
        width_mm=right - left,
        height_mm=top - bottom,
    )
