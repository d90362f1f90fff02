"""
Both sides of a board in one frame: the back's outline, mirrored, laid on the front's.

The back is measured as it is seen when the board is turned over. Its outline and holes are
mirrored, tried in 24 turns by overlap, and the best are fitted to the front's edges, the worst
tenth of points left out. A board that looks nearly the same after half a turn has two places; the
holes decide, and where they cannot, both places are given back as a question.

The two sides may have been measured at slightly different scales, because the board's height above
the mat is known only so well; the fit finds that too, and says it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

from salvage.errors import Refused
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy.typing as npt
    from shapely import Polygon

Array: TypeAlias = "npt.NDArray[Any]"  # Indices, places and distances.

TURNS = 24
"""First guesses: every 15 degrees, which is within reach of the fit."""

_TRIED = 6
_STEP_MM = 1.0
_TRIMMED = 0.9
_ROUNDS = 25
_SETTLED_MM = 1e-4
_TANGENT_MM = 0.05

# Heights that are off by 4 mm change the scale by 1.6 %: more is another board.
_MOST_SCALE = 0.02

# Places that differ by less are one and the same, found twice.
_SAME_TURN_DEG, _SAME_SHIFT_MM = 4.0, 3.0

# The same hole on both sides: nearer than this, and as wide but for this.
_HOLE_APART_MM, _HOLE_WIDER_MM = 0.6, 0.5

# Holes that a place must match more than the next best one to be believed.
_HOLE_MARGIN = 2

# Of the holes that both sides show, so many must agree; a mirror image of the wrong side has some
# in common by chance, such as those in the corners.
_HOLES_TO_TELL, _LEAST_MATCHED = 3, 0.6

# Nine tenths of the edge within this: the same board. Where it was cut since, it is not.
MOST_RESIDUAL_MM = 0.5
"""Root mean square distance up to which the edges of both sides are one board's."""

# A place this much worse than the best is no rival; measuring noise is well below it.
_RIVAL_MM = 0.12


@dataclass(frozen=True, slots=True)
class SidePlace:
    """
    Where the back lies in the front's frame.

    Args:
        turn_deg: Counter-clockwise turn after mirroring left to right.
        scale: Size of the front's measure for one of the back's.
        shift_mm: Shift after mirroring, turning and scaling.
        residual_mm: Root mean square distance of nine tenths of the outer edge.
        matched_holes: Holes that lie on one another.
        holes: Holes that could have, the lesser number of both sides.
    """

    turn_deg: float
    scale: float
    shift_mm: tuple[float, float]
    residual_mm: float
    matched_holes: int
    holes: int

    @property
    def turn_word(self) -> int:
        """
        The turn in whole degrees, 0 to 359, by which a person names this place.

        >>> SidePlace(359.8, 1.0, (0.0, 0.0), 0.0, 0, 0).turn_word
        0
        """
        return round(self.turn_deg) % 360

    def to_front(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """
        A place on the back, as measured there, in the front's frame.

        >>> SidePlace(0.0, 1.0, (80.0, 0.0), 0.0, 0, 0).to_front(10.0, 5.0)
        (70.0, 5.0)
        """
        turn = math.radians(self.turn_deg)
        cos, sin = self.scale * math.cos(turn), self.scale * math.sin(turn)
        return (
            self.shift_mm[0] - cos * x_mm - sin * y_mm,
            self.shift_mm[1] - sin * x_mm + cos * y_mm,
        )


@dataclass(frozen=True, slots=True)
class Registration:
    """
    The places of the back that fit.

    Args:
        places: Best first. More than one is a question for a person: show each, and ask.
    """

    places: tuple[SidePlace, ...]

    @property
    def is_certain(self) -> bool:
        """Whether there is only one place."""
        return len(self.places) == 1


def register_back(
    front: Region, back: Region, *, most_residual_mm: float = MOST_RESIDUAL_MM
) -> Registration:
    """
    The back of a board in the frame of its front.

    Args:
        front: Outline and holes of the front, in board coordinates.
        back: The same of the back, as seen when the board is turned over.
        most_residual_mm: Edges that lie farther apart are not those of one board; more where the
            front was not measured, but typed or taken from a form factor.

    Raises:
        Refused: If no place fits, because the two are not sides of one board.
    """
    target, moving = _polygon(front), _mirrored(_polygon(back))
    found: list[SidePlace] = []
    for turn in _promising(target, moving):
        place = _fit(target, moving, turn)
        if place and not any(_is_same(place, other, target) for other in found):
            found.append(place)
    fitting = [place for place in found if place.residual_mm <= most_residual_mm]
    if not fitting:
        best = min((place.residual_mm for place in found), default=math.inf)
        sizes = " and ".join("{:.1f} x {:.1f} mm".format(*side.size_mm) for side in (front, back))
        apart = (
            f"{best:.1f} mm apart at best" if math.isfinite(best) else f"of unlike size, {sizes}"
        )
        raise Refused(
            f"front and back are not sides of one board: their edges are {apart}",
            hint="take both photos of the same board, and none of them after a cut",
        )
    return Registration(_ranked(fitting))


def _ranked(fitting: list[SidePlace]) -> tuple[SidePlace, ...]:
    """The one place that holes or edges prove, or those between which a person must choose."""
    closest = min(place.residual_mm for place in fitting)
    rivals = [place for place in fitting if place.residual_mm <= closest + _RIVAL_MM]
    rivals.sort(key=lambda place: (-place.matched_holes, place.residual_mm))
    best, *others = rivals
    strays = best.holes >= _HOLES_TO_TELL and best.matched_holes < _LEAST_MATCHED * best.holes
    if strays or (best.holes and not best.matched_holes):
        raise Refused(
            f"the edges fit, but only {best.matched_holes} of {best.holes} holes do",
            hint="look whether the photo shows the same board, and its other side",
        )
    doubtful = [
        place for place in others if best.matched_holes - place.matched_holes < _HOLE_MARGIN
    ]
    return best, *doubtful


def _polygon(region: Region) -> Polygon:
    from shapely import Polygon

    rings = [[(x / 1000, y / 1000) for x, y in ring] for ring in (region.outer, *region.holes)]
    return Polygon(rings[0], rings[1:])


def _filled(polygon: Polygon) -> Polygon:
    """Without its holes, which one of the photos may not show."""
    from shapely import Polygon

    return Polygon(polygon.exterior)


def _mirrored(polygon: Polygon) -> Polygon:
    from shapely import transform

    return transform(polygon, lambda points: points * (-1, 1))


def _promising(target: Polygon, moving: Polygon) -> list[float]:
    """Turns, in degrees, at which the outlines overlap best when laid centre on centre."""
    from shapely.affinity import rotate, translate

    ahead = _filled(target), _filled(moving)
    here, there = (shape.centroid for shape in ahead)
    centred = translate(ahead[1], here.x - there.x, here.y - there.y)
    turns = [360 / TURNS * k for k in range(TURNS)]
    shares = [rotate(centred, t, origin=here).intersection(ahead[0]).area for t in turns]
    peaks = [
        (-share, turn)
        for k, (share, turn) in enumerate(zip(shares, turns, strict=True))
        if share >= max(shares[k - 1], shares[(k + 1) % TURNS])
    ]
    return [turn for _, turn in sorted(peaks)[:_TRIED]]


def _fit(target: Polygon, moving: Polygon, turn_deg: float) -> SidePlace | None:
    """The place near a first turn where the edges fit best; none if the fit runs away."""
    import numpy as np

    points = _along(moving)
    turn = math.radians(turn_deg)
    linear = np.array([math.cos(turn), math.sin(turn)])
    shift = np.array(_filled(target).centroid.coords[0])
    shift -= _moved(np.array(_filled(moving).centroid.coords), linear, np.zeros(2))[0]
    missed = math.inf
    for _ in range(_ROUNDS):
        placed = _moved(points, linear, shift)
        foot, normal = _feet(target, placed)
        far = np.hypot(*(placed - foot).T)
        kept = far <= np.quantile(far, _TRIMMED)
        before, missed = missed, float(np.sqrt((far[kept] ** 2).mean()))
        if abs(before - missed) < _SETTLED_MM:
            break
        gap = ((placed - foot) * normal).sum(axis=1)
        linear, shift = _step(points[kept], normal[kept], gap[kept], linear, shift)
    # Holes help to fit, but whether they agree is counted by itself.
    rim = np.sort(far[: len(_along(_filled(moving)))])
    residual = float(np.sqrt((rim[: math.ceil(_TRIMMED * len(rim))] ** 2).mean()))
    scale = float(np.hypot(*linear))
    if abs(scale - 1) > _MOST_SCALE or not math.isfinite(missed):
        return None
    matched, holes = _match_holes(target, moving, linear, shift)
    turned = math.degrees(math.atan2(linear[1], linear[0])) % 360
    return SidePlace(turned, scale, (float(shift[0]), float(shift[1])), residual, matched, holes)


def _step(
    points: Array, normal: Array, gap: Array, linear: Array, shift: Array
) -> tuple[Array, Array]:
    """The similarity that brings the points nearest to the tangents at their feet."""
    import numpy as np

    x, y = points.T
    across, up = normal.T
    design = np.column_stack((x * across + y * up, x * up - y * across, across, up))
    # The weak pull towards no change keeps a round board from spinning.
    pull = np.diag([1e-3 * float(np.abs(points).max()), 1e-3 * float(np.abs(points).max()), 0, 0])
    solved, *_ = np.linalg.lstsq(
        np.vstack((design, pull)), np.concatenate((-gap, np.zeros(4))), rcond=None
    )
    return linear + solved[:2], shift + solved[2:]


def _moved(points: Array, linear: Array, shift: Array) -> Array:
    import numpy as np

    a, b = linear
    moved: Array = points @ np.array([[a, b], [-b, a]]) + shift
    return moved


def _along(shape: Polygon) -> Array:
    """Points along all rings, a millimetre apart (N x 2)."""
    import numpy as np
    from shapely import get_coordinates, line_interpolate_point

    places = [
        line_interpolate_point(ring, np.arange(0, ring.length, _STEP_MM))
        for ring in (shape.exterior, *shape.interiors)
    ]
    return get_coordinates(np.concatenate(places))


def _feet(shape: Polygon, places: Array) -> tuple[Array, Array]:
    """Nearest points of a shape's edge, and the edge's normals there."""
    import numpy as np
    from shapely import STRtree, get_coordinates, line_interpolate_point, line_locate_point, points

    rings = np.array([shape.exterior, *shape.interiors], dtype=object)
    dots = points(places)
    if len(rings) == 1:
        owner = np.zeros(len(places), int)
    else:
        # The tree answers in the order of the dots, one ring for each.
        owner = STRtree(rings).query_nearest(dots, all_matches=False)[1]
    ring = rings[owner]
    along = line_locate_point(ring, dots)
    foot = get_coordinates(line_interpolate_point(ring, along))
    ahead, behind = (
        get_coordinates(line_interpolate_point(ring, np.clip(along + way, 0, None)))
        for way in (_TANGENT_MM, -_TANGENT_MM)
    )
    tangent = ahead - behind
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0]))
    length = np.hypot(*normal.T)
    return foot, normal / np.maximum(length, 1e-9)[:, None]


def _is_same(place: SidePlace, other: SidePlace, target: Polygon) -> bool:
    """Whether two fits ended at one place."""
    apart = abs((place.turn_deg - other.turn_deg + 180) % 360 - 180)
    if apart > _SAME_TURN_DEG:
        return False
    return math.dist(place.shift_mm, other.shift_mm) <= _SAME_SHIFT_MM + 0.1 * target.length


def _match_holes(target: Polygon, moving: Polygon, linear: Array, shift: Array) -> tuple[int, int]:
    """Holes that lie on one another, and how many could."""
    import numpy as np
    from shapely import Polygon

    ours = [Polygon(ring) for ring in target.interiors]
    theirs = [Polygon(ring) for ring in moving.interiors]
    if not (ours and theirs):
        return 0, 0
    free = [(np.array(hole.centroid.coords[0]), _width(hole)) for hole in ours]
    matched = 0
    for hole in theirs:
        at = _moved(np.array(hole.centroid.coords), linear, shift)[0]
        wide = _width(hole)
        for k, (place, width) in enumerate(free):
            if np.hypot(*(place - at)) <= _HOLE_APART_MM and abs(width - wide) <= _HOLE_WIDER_MM:
                matched += 1
                del free[k]
                break
    return matched, min(len(ours), len(theirs))


def _width(hole: Polygon) -> float:
    """Diameter of the circle of the same area."""
    return 2 * math.sqrt(hole.area / math.pi)
