"""
Many shapes on one board.

A first layout fills the board from a corner (:mod:`salvage.geometry.pack_fill`), from several
corners while there is time. Then one more piece at a time is laid over the others and all are
pulled apart (:mod:`salvage.geometry.untangle`). Both work on a grid; every layout that is given has
been checked on the true outlines: each piece on the ground, each pair at least the gap apart.
Lengths are millimetres.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.geometry.ledger import Rules
from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import unite
from salvage.geometry.pack_fill import CORNERS, Corner, Fill
from salvage.geometry.pack_site import Cutouts, Site, Turning
from salvage.geometry.patience import Patience, Watch
from salvage.geometry.placing import Placement, place
from salvage.geometry.untangle import Spot, Tangle
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np

# Every 15 degrees; a shape that falls on itself when turned needs fewer.
ANGLES_MDEG = tuple(range(0, 360_000, 15_000))
# Of these the first layouts use every third, to be there within a second.
_FIRST_ANGLES = 3
# A third of a per cent of a 305 mm board.
STEP_MM = 1.0
# No board holds more than this; it bounds the work for tiny shapes.
_MOST_PIECES = 400
_PULLING_ROUNDS = 60
_POSES_AT_ONCE = 6
# The last digits of the arithmetic.
_EXACT_MM = 1e-6


@dataclass(frozen=True, slots=True)
class PackBoard:
    """
    A board to place on.

    Args:
        code: Its label code.
        area: Ground where pieces may lie, such as the usable layer of its ledger.
    """

    code: str
    area: tuple[Region, ...]

    @property
    def area_mm2(self) -> float:
        """Area of the ground."""
        return sum(region.area_mm2 for region in self.area)


@dataclass(frozen=True, slots=True)
class Demand:
    """
    A shape that is wanted.

    Args:
        name: What to call it.
        shape: The shape, in its own coordinates.
        quantity: How many; as many as the board holds if left out.
    """

    name: str
    shape: Region
    quantity: int | None = None


@dataclass(frozen=True, slots=True)
class PackedPiece:
    """
    A piece where it may be cut.

    Args:
        name: Of the demand.
        placement: Where the shape lies on the board.
        region: The shape there.
    """

    name: str
    placement: Placement
    region: Region


@dataclass(frozen=True, slots=True)
class Packing:
    """
    A layout of one board, checked on the true outlines.

    Args:
        code: The board.
        pieces: What lies where.
        missing: How many of each demand with a quantity found no place; none of those that did.
        area_mm2: Area of the pieces.
        share: The same as a share of the ground, from 0 to 1.
    """

    code: str
    pieces: tuple[PackedPiece, ...]
    missing: Mapping[str, int]
    area_mm2: float
    share: float


def gap_of_rules(rules: Rules) -> float:
    """Room between two pieces: the tool's width round each, and the wall between."""
    return 2 * rules.tool_mm + rules.wall_mm


def pack(
    board: PackBoard,
    demands: Sequence[Demand],
    *,
    gap_mm: float,
    patience: Patience,
    angles_mdeg: Sequence[int] = ANGLES_MDEG,
    mirrored_allowed: bool = False,
    seed: int = 0,
) -> Packing:
    """
    As many of the shapes as find a place, largest first.

    Args:
        board: Where.
        demands: What; a shape without quantity is repeated until the board is full.
        gap_mm: Least room between two pieces (:func:`gap_of_rules`).
        patience: How long to search.
        angles_mdeg: Angles to try, in thousandths of a degree.
        mirrored_allowed: Whether pieces may be turned over, the picture on the other face.
        seed: For chance; the same seed and rounds give the same layout.

    Raises:
        BadValue: If the gap is negative or a quantity below 1.

    >>> from salvage.geometry.outline import rectangle
    >>> board = PackBoard("BA100X", (rectangle(100, 50),))
    >>> packing = pack(board, [Demand("tag", rectangle(30, 20))], gap_mm=2,
    ...                patience=Patience(1, lambda: 0.0, rounds=8))
    >>> len(packing.pieces)
    6
    """
    import numpy as np

    if gap_mm < 0:
        raise BadValue(f"a gap of {gap_mm:g} mm is out of range", hint="0 or more")
    for demand in demands:
        if demand.quantity is not None and demand.quantity < 1:
            raise BadValue(f"{demand.quantity} of '{demand.name}' is no quantity", hint="1 or more")
    watch = patience.start()
    shapes = [demand.shape for demand in demands]
    turnings = [Turning(tuple(angles_mdeg), mirrored_allowed)] * len(shapes)
    cutouts = Cutouts(shapes, gap_mm=gap_mm, step_mm=STEP_MM, turnings=turnings)
    search = _Search(Site(board.area, cutouts), demands, watch, np.random.default_rng(seed))
    search.fill()
    search.squeeze_in()
    return report(board, demands, search.best, cutouts, gap_mm)


def report(
    board: PackBoard,
    demands: Sequence[Demand],
    spots: Sequence[tuple[int, Spot]],
    cutouts: Cutouts,
    gap_mm: float,
) -> Packing:
    """The layout on true outlines; a piece that fails the check there is left out."""
    found = []
    for kind, spot in spots:
        placement = cutouts.placement(spot)
        region = place(cutouts.shapes[kind], placement)
        found.append(PackedPiece(demands[kind].name, placement, region))
    pieces = sound_pieces(board, found, gap_mm=gap_mm)
    placed = Counter(piece.name for piece in pieces)
    missing = {
        demand.name: demand.quantity - placed[demand.name]
        for demand in demands
        if demand.quantity is not None and demand.quantity > placed[demand.name]
    }
    area = sum(piece.region.area_mm2 for piece in pieces)
    return Packing(board.code, pieces, missing, area, area / (board.area_mm2 or 1.0))


def sound_pieces(
    board: PackBoard, pieces: Sequence[PackedPiece], *, gap_mm: float
) -> tuple[PackedPiece, ...]:
    """
    The pieces that lie on the ground, each at least the gap from those before it.

    This is the exact test: it looks at the true outlines, not at the grid.
    """
    import shapely

    ground = unite(to_polygon(region) for region in board.area)
    shapely.prepare(ground)
    kept: list[PackedPiece] = []
    solid: list[shapely.Polygon] = []
    for piece in pieces:
        polygon = to_polygon(piece.region)
        if not ground.covers(polygon):
            continue
        if solid and float(shapely.distance(polygon, solid).min()) < gap_mm - _EXACT_MM:
            continue
        if any(polygon.intersection(other).area > _EXACT_MM for other in solid):
            continue
        kept.append(piece)
        solid.append(shapely.Polygon(polygon.exterior))
    return tuple(kept)


class _Search:
    """The search for one board; *best* is the best layout so far."""

    def __init__(
        self, site: Site, demands: Sequence[Demand], watch: Watch, chance: np.random.Generator
    ) -> None:
        self._site = site
        self._cutouts = site.cutouts
        self._watch = watch
        self._chance = chance
        self._wanted = _wanted(site, demands)
        self.best: list[tuple[int, Spot]] = []

    def fill(self) -> None:
        """Fill from one corner after the other; at least from one."""
        if not self._wanted:
            return
        for number, corner in enumerate(CORNERS):
            if number and not self._watch.next_round():
                return
            spots = self._fill_from(corner, lambda poses: poses[::_FIRST_ANGLES] or poses)
            self._keep(spots)
            if len(self.best) == len(self._wanted):
                return

    def _fill_from(
        self, corner: Corner, share: Callable[[Sequence[int]], Sequence[int]]
    ) -> list[tuple[int, Spot]]:
        shapes = sorted(set(self._wanted), key=self._wanted.index)
        fill = Fill(self._site, corner, shapes, share)
        full: set[int] = set()
        for shape in self._wanted:
            if shape not in full and not fill.put(shape):
                full.add(shape)
        return fill.spots

    def _value(self, spots: Sequence[tuple[int, Spot]]) -> float:
        return sum(self._cutouts.areas_mm2[shape] for shape, _ in spots)

    def _keep(self, spots: list[tuple[int, Spot]]) -> None:
        if self._value(spots) > self._value(self.best) + _EXACT_MM:
            self.best = spots
            self._watch.tell(len(spots))

    def squeeze_in(self) -> None:
        """Lay one more piece over the others and pull all apart, while there is time."""
        failures: Counter[int] = Counter()
        while self._watch.next_round():
            left = Counter(self._wanted) - Counter(shape for shape, _ in self.best)
            if not left:
                return
            # Mostly the largest that is missing; one that has failed often gives way to others.
            shape = min(left, key=lambda s: (failures[s], -self._cutouts.areas_mm2[s]))
            spots = self._with_one_more(shape)
            if spots is None:
                failures[shape] += 1
            else:
                self._keep(spots)

    def _with_one_more(self, shape: int) -> list[tuple[int, Spot]] | None:
        kinds = [*(kind for kind, _ in self.best), shape]
        choices = [self._cutouts.of_shape[kind] for kind in kinds]
        tangle = Tangle(self._cutouts.poses, self._site.room, choices, self._chance)
        tangle.spots = [Spot(s.pose, s.x, s.y) for _, s in self.best] + [None]
        self._shake(tangle)
        poses = tangle.choices[-1]
        some = self._chance.choice(len(poses), min(len(poses), _POSES_AT_ONCE), replace=False)
        first = tangle.best_spot(len(kinds) - 1, [poses[n] for n in some])
        if first is None or first[0] >= 1e8:
            return None
        tangle.spots[-1] = first[1]
        apart = tangle.separate(
            self._watch.go_on, patience=_PULLING_ROUNDS, most_poses=_POSES_AT_ONCE
        )
        if not apart:
            return None
        return [(kind, spot) for kind, spot in zip(kinds, tangle.spots, strict=True) if spot]

    def _shake(self, tangle: Tangle) -> None:
        """Put one or two pieces anywhere, so that no two tries are the same."""
        laid = len(tangle.spots) - 1
        count = min(laid, int(self._chance.integers(0, 3)))
        for item in self._chance.choice(laid, count, replace=False):
            poses = tangle.choices[item]
            pose = poses[int(self._chance.integers(len(poses)))]
            free = tangle.rooms(pose)
            if not free.fits():
                continue
            for _ in range(20):
                row = int(self._chance.integers(free.rows))
                column = int(self._chance.integers(free.columns))
                if free.blocked is None or not free.blocked[row, column]:
                    tangle.spots[item] = Spot(pose, free.left + column, free.bottom + row)
                    break


def _wanted(site: Site, demands: Sequence[Demand]) -> list[int]:
    """Shape numbers, one for each piece, largest first; repeated shapes up to the ground's area."""
    ground, areas = site.area.area, site.cutouts.areas_mm2
    wanted: list[int] = []
    for number in sorted(range(len(demands)), key=lambda n: -areas[n]):
        most = min(_MOST_PIECES, int(ground / areas[number]))
        quantity = demands[number].quantity
        wanted += [number] * (most if quantity is None else min(quantity, most))
    return wanted
