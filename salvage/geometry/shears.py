"""
Layouts for hand shears: straight cuts from edge to edge, and no kerf.

Each cut runs right across the panel that is in the hand and makes two of it. Every piece comes out
within a rectangle of its own, turned by right angles; the rest of its outline is sawn or filed
later. Rectangles may share a cut. A piece lies on the ground; its rectangle may reach over what is
no ground, such as a hole's margin, but no cut runs through what is to be spared. Lengths are
millimetres.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import unite
from salvage.geometry.pack import Demand, PackBoard, PackedPiece, Packing
from salvage.geometry.patience import Patience
from salvage.geometry.placing import Placement, place
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from shapely import MultiPolygon

_RIGHT_ANGLES = (0, 90_000, 180_000, 270_000)
# Where a panel's corner is no ground, a piece is tried farther in, at steps of this.
_STEP_UM = 2_000
_MOST_PIECES = 200
# A cut may run along the edge of what is spared, and into it by no more than this.
_ALONG_MM = 0.01
_MOST_TRIES = 4_000

BoxUm = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class ShearCut:
    """
    One cut from edge to edge of a panel.

    Args:
        start_mm: Where it starts, in board coordinates.
        end_mm: Where it ends; straight up or straight to the right of the start.
    """

    start_mm: tuple[float, float]
    end_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ShearPlan:
    """
    A layout and the cuts that make it, in their order.

    Args:
        packing: What lies where.
        panel_mm: Left, bottom, right and top of the panel at the start.
        cuts: The first cuts the whole panel, each later one a panel that came of it.
    """

    packing: Packing
    panel_mm: tuple[float, float, float, float]
    cuts: tuple[ShearCut, ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """Cuts that free a piece, in their order, and the panels that they leave."""

    cuts: list[ShearCut]
    rests: list[BoxUm]


@dataclass(frozen=True, slots=True)
class _Try:
    """Order of the pieces and which way to cut first."""

    sequence: tuple[int, ...]
    upright_first: bool | None


def plan_shears(
    board: PackBoard,
    demands: Sequence[Demand],
    *,
    patience: Patience,
    panel: Region | None = None,
    spare: Sequence[Region] = (),
    seed: int = 0,
) -> ShearPlan:
    """
    As much as straight cuts give, by area.

    Args:
        board: Where pieces may lie.
        demands: What; a shape without quantity is repeated until nothing more goes in.
        patience: How long to search; at least one layout is made.
        panel: The board's edge, whose box is the panel at the start; the ground's if left out.
        spare: What no cut may run through, such as keep-outs; a cut may run along their edge.
        seed: For chance.

    >>> from salvage.geometry.outline import rectangle
    >>> plan = plan_shears(PackBoard("BA100X", (rectangle(100, 50),)),
    ...                    [Demand("tag", rectangle(25, 50))], patience=Patience(0, lambda: 0.0))
    >>> len(plan.packing.pieces), len(plan.cuts)
    (4, 3)
    """
    import numpy as np

    watch = patience.start()
    chance = np.random.default_rng(seed)
    bench = _Bench(board, demands, spare)
    box = panel.bounds_um if panel else bench.box
    best = _Layout(bench, box)
    for attempt in bench.tries(chance):
        if best.pieces and not watch.next_round():
            break
        layout = _Layout(bench, box)
        layout.cut_up(attempt)
        if layout.area_mm2 > best.area_mm2 or (
            layout.area_mm2 == best.area_mm2 and len(layout.cuts) < len(best.cuts)
        ):
            best = layout
            watch.tell(len(best.pieces))
        if not watch.go_on():
            break
    left, bottom, right, top = (value / 1000 for value in box)
    return ShearPlan(bench.packing(best.pieces), (left, bottom, right, top), tuple(best.cuts))


class _Bench:
    """The ground and the turned shapes, ready to be tried at a place."""

    def __init__(
        self, board: PackBoard, demands: Sequence[Demand], spare: Sequence[Region] = ()
    ) -> None:
        import shapely

        self.board = board
        self.demands = tuple(demands)
        self.ground: MultiPolygon = unite(to_polygon(region) for region in board.area)
        shapely.prepare(self.ground)
        self._spare = [to_polygon(region).buffer(-_ALONG_MM) for region in spare]
        bounds = [region.bounds_um for region in board.area] or [(0, 0, 0, 0)]
        lows, highs = [b[:2] for b in bounds], [b[2:] for b in bounds]
        self.box: BoxUm = (
            min(x for x, _ in lows),
            min(y for _, y in lows),
            max(x for x, _ in highs),
            max(y for _, y in highs),
        )
        self.turned = [
            [(angle, place(d.shape, Placement(0, 0, angle))) for angle in _RIGHT_ANGLES]
            for d in self.demands
        ]
        self.areas = [demand.shape.area_mm2 for demand in self.demands]

    def quantities(self) -> list[int]:
        """How many of each are wanted at most."""
        ground = self.ground.area
        return [
            min(_MOST_PIECES, int(ground / area)) if d.quantity is None else d.quantity
            for d, area in zip(self.demands, self.areas, strict=True)
        ]

    def tries(self, chance: np.random.Generator) -> list[_Try]:
        """Plain orders first, each way of cutting; then shuffled ones."""
        numbers = range(len(self.demands))
        sizes = [demand.shape.size_mm for demand in self.demands]
        plain = [
            sorted(numbers, key=lambda n: -self.areas[n]),
            sorted(numbers, key=lambda n: -max(sizes[n])),
            sorted(numbers, key=lambda n: -min(sizes[n])),
        ]
        found = [_Try(tuple(order), way) for order in plain for way in (None, True, False)]
        for _ in range(200):
            order = chance.permutation(len(self.demands)).tolist()
            found.append(_Try(tuple(order), (None, True, False)[int(chance.integers(3))]))
        return found

    def fits(self, number: int, turn: int, x: int, y: int) -> bool:
        """Whether a shape's box may have its lower left corner there."""
        from shapely import affinity

        _, region = self.turned[number][turn]
        left, bottom, _, _ = region.bounds_um
        moved = affinity.translate(to_polygon(region), (x - left) / 1000, (y - bottom) / 1000)
        return bool(self.ground.covers(moved))

    def spares(self, cuts: Sequence[ShearCut]) -> bool:
        """Whether no cut runs through what is to be spared."""
        import shapely

        lines = shapely.MultiLineString([(cut.start_mm, cut.end_mm) for cut in cuts])
        return not any(area.intersects(lines) for area in self._spare)

    def piece(self, number: int, turn: int, x: int, y: int) -> PackedPiece:
        """The piece whose box has its lower left corner there."""
        angle, region = self.turned[number][turn]
        left, bottom, _, _ = region.bounds_um
        placement = Placement(x - left, y - bottom, angle)
        shape = self.demands[number].shape
        return PackedPiece(self.demands[number].name, placement, place(shape, placement))

    def packing(self, pieces: Sequence[PackedPiece]) -> Packing:
        """The layout as it is given to others; every piece is looked at once more."""
        kept = tuple(p for p in pieces if self.ground.covers(to_polygon(p.region)))
        placed = Counter(piece.name for piece in kept)
        missing = {
            d.name: d.quantity - placed[d.name]
            for d in self.demands
            if d.quantity is not None and d.quantity > placed[d.name]
        }
        area = sum(piece.region.area_mm2 for piece in kept)
        return Packing(self.board.code, kept, missing, area, area / (self.board.area_mm2 or 1.0))


class _Layout:
    """One way of cutting a panel up."""

    def __init__(self, bench: _Bench, box: BoxUm) -> None:
        self._bench = bench
        self._panels: list[BoxUm] = [box]
        self.pieces: list[PackedPiece] = []
        self.cuts: list[ShearCut] = []
        self.area_mm2 = 0.0

    def cut_up(self, attempt: _Try) -> None:
        """Put the pieces down one after another, smallest panel that takes it first."""
        left = self._bench.quantities()
        for number in attempt.sequence:
            while left[number] and self._put(number, attempt.upright_first):
                left[number] -= 1

    def _put(self, number: int, upright_first: bool | None) -> bool:
        for panel in sorted(self._panels, key=lambda p: ((p[2] - p[0]) * (p[3] - p[1]), p)):
            found = self._place_in(panel, number, upright_first)
            if found:
                (turn, x, y), way = found
                self.pieces.append(self._bench.piece(number, turn, x, y))
                self.area_mm2 += self._bench.areas[number]
                self._panels.remove(panel)
                self._panels += way.rests
                self.cuts += way.cuts
                return True
        return False

    def _place_in(
        self, panel: BoxUm, number: int, upright_first: bool | None
    ) -> tuple[tuple[int, int, int], _Way] | None:
        """Turn and lower left corner of the piece's box: the panel's own corner if it can be."""
        seen: set[tuple[int, int, int]] = set()
        best: tuple[tuple[int, int], tuple[tuple[int, int, int], _Way]] | None = None
        tries = 0
        for turn, (_, region) in enumerate(self._bench.turned[number]):
            left, bottom, right, top = region.bounds_um
            across, upward = panel[2] - panel[0] - right + left, panel[3] - panel[1] - top + bottom
            if across < 0 or upward < 0:
                continue
            for y in (*range(0, upward, _STEP_UM), upward):
                for x in (*range(0, across, _STEP_UM), across):
                    if best and (y + x, y) >= best[0]:
                        break
                    tries += 1
                    if tries > _MOST_TRIES:
                        return best[1] if best else None
                    spot = (turn, panel[0] + x, panel[1] + y)
                    if spot in seen or not self._bench.fits(number, *spot):
                        continue
                    _, x0, y0 = spot
                    box = (x0, y0, x0 + right - left, y0 + top - bottom)
                    way = self._way_round(panel, box, upright_first)
                    if way:
                        best = ((y + x, y), (spot, way))
        return best[1] if best else None

    def _way_round(self, panel: BoxUm, piece: BoxUm, upright_first: bool | None) -> _Way | None:
        """How to cut a box out of a panel; None if every way runs through what is to be spared."""
        if upright_first is None:
            # The cut that leaves the larger rest in one panel goes first.
            beside = (panel[2] - piece[2]) * (panel[3] - panel[1])
            above = (panel[3] - piece[3]) * (panel[2] - panel[0])
            upright_first = beside >= above
        for first in (upright_first, not upright_first):
            way = _cut_out(panel, piece, upright_first=first)
            if self._bench.spares(way.cuts):
                return way
        return None


def _cut_out(panel: BoxUm, piece: BoxUm, *, upright_first: bool) -> _Way:
    """Cut a box out of a panel: along its sides one way, then the other."""
    way = _Way([], [])
    for upright in (upright_first, not upright_first):
        for at in (piece[0], piece[2]) if upright else (piece[1], piece[3]):
            panel = _cut(panel, piece, at, upright=upright, way=way)
    return way


def _cut(panel: BoxUm, piece: BoxUm, at: int, *, upright: bool, way: _Way) -> BoxUm:
    """Cut a panel in two; what does not hold the piece is a rest, the other is given."""
    left, bottom, right, top = panel
    if upright:
        if at in (left, right):
            return panel
        halves = (left, bottom, at, top), (at, bottom, right, top)
        cut = ShearCut((at / 1000, bottom / 1000), (at / 1000, top / 1000))
        keep = 0 if piece[0] < at else 1
    else:
        if at in (bottom, top):
            return panel
        halves = (left, bottom, right, at), (left, at, right, top)
        cut = ShearCut((left / 1000, at / 1000), (right / 1000, at / 1000))
        keep = 0 if piece[1] < at else 1
    way.cuts.append(cut)
    way.rests.append(halves[1 - keep])
    return halves[keep]
