"""How a photo gets its scale: a printed mat, a bank card, picked corners, or a scanner's dots."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.photo.measure.refusal import PhotoRefused
from salvage.records.things import PrintedMat
from salvage.work.mat_seen import MatRecogniser, SeenMat
from salvage.work.photos import Corners, NewPhoto

if TYPE_CHECKING:
    from salvage.photo.measure.result import Measurement

_PLACES: dict[str, Callable[[tuple[float, float]], float]] = {
    "left": lambda at: at[0],
    "right": lambda at: -at[0],
    "upper": lambda at: at[1],
    "lower": lambda at: -at[1],
}
PLACES = tuple(_PLACES)
"""Where in the upright photo one of several boards lies."""

_CLEARLY = 0.3
"""Boards one above the other are never quite so: this much of a slant tells left from right."""


@dataclass(frozen=True, slots=True)
class Taking:
    """
    What must be told of a photo; nothing for one board on a printed mat.

    Args:
        serial: The mat that it must show.
        card_px: Corners of a bank card beside the board, in pixels of the upright photo: lower
            left, lower right, upper right and upper left, its long side below.
        corners_px: Corners of a rectangle of known size, in the same order.
        size_mm: Width and height of that rectangle.
        dpi: Dots per inch of a flatbed scan; 0 for a photo.
        take: Which of several boards on a mat; one of :data:`PLACES`, or empty.
    """

    serial: str = ""
    card_px: Corners | None = None
    corners_px: Corners | None = None
    size_mm: tuple[float, float] | None = None
    dpi: float = 0.0
    take: str = ""

    @property
    def is_on_mat(self) -> bool:
        """Whether a mat gives the scale."""
        return self.card_px is None and self.corners_px is None and not self.dpi


ON_MAT = Taking()
"""One board on whichever mat the photo shows."""


@dataclass(frozen=True, slots=True)
class Look:
    """
    What a photo says of one board.

    Args:
        measurement: Outline, holes, area, and how far to trust them.
        mat: The mat that gave the scale; None without one.
    """

    measurement: Measurement
    mat: SeenMat | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person should know, of the mat first."""
        return (*(self.mat.notes if self.mat else ()), *self.measurement.warnings)

    @property
    def words(self) -> str:
        """
        Where the outline is from and how far to trust it, for the record.
        """
        within = f"within {self.measurement.interval_mm:.2f} mm"
        if self.mat:
            checked = "" if self.mat.is_checked else ", print scale not checked"
            return f"photo on {self.mat.words}, {within}{checked}"
        words = {
            "card": "photo beside a bank card",
            "corners": f"photo with four picked corners of {self.measurement.mat}",
            "scan": f"flatbed scan at {self.measurement.mat}",
        }[self.measurement.method]
        coarse = "" if self.measurement.method == "scan" else ", not good enough to cut by"
        return f"{words}, {within}{coarse}"


def check_taking(taking: Taking, photos: Sequence[NewPhoto]) -> None:
    """
    Refuse what cannot be meant together.

    Raises:
        BadValue: With the one thing to leave out or add.
    """
    told = {
        "--mat": bool(taking.serial),
        "--card": taking.card_px is not None,
        "--corners": taking.corners_px is not None,
        "--dpi": bool(taking.dpi),
    }
    given = [name for name, is_given in told.items() if is_given]
    if len(given) > 1:
        raise BadValue(
            f"{' and '.join(given)} both tell the scale", hint="give one of them, or none on a mat"
        )
    if taking.corners_px is not None and taking.size_mm is None:
        raise BadValue(
            "the corners' rectangle has no size", hint="add --size 175x107", field="--corners"
        )
    if taking.size_mm is not None and taking.corners_px is None:
        raise BadValue(
            "a size alone says nothing of the photo",
            hint='pick its corners: --corners "X,Y X,Y X,Y X,Y"',
            field="--size",
        )
    if not 1 <= len(photos) <= 2:
        raise BadValue(f"{len(photos)} photos", hint="one, or two of the same lying board")
    if not taking.is_on_mat and len(photos) > 1:
        raise BadValue("a second photo measures the height on a printed mat only", field="--second")
    if not taking.is_on_mat and taking.take:
        raise BadValue(
            "only boards on a printed mat can be told apart so",
            hint="leave one board in the photo",
            field="--take",
        )
    if taking.take and taking.take not in PLACES:
        raise BadValue(
            f"'{taking.take}' is no place in the photo",
            hint="use " + ", ".join(PLACES),
            field="--take",
        )


def look_at_all(
    photos: Sequence[NewPhoto],
    taking: Taking,
    *,
    mats: Sequence[PrintedMat] = (),
    told: PrintedMat | None = None,
    thickness_mm: float | None = None,
) -> tuple[Look, ...]:
    """
    Every board that the photos show; nothing is kept.

    Args:
        photos: One, or two of what lies still on a mat.
        taking: How they get their scale.
        mats: This workshop's mats, newest first.
        told: The mat that somebody named.
        thickness_mm: Thickness of the boards, if known.

    Raises:
        PhotoRefused: If the photo cannot be measured honestly.
        BadFile: If it is no photo.
        BadValue: If what was told of it makes no sense.
    """
    from salvage.photo.measure import fallback
    from salvage.photo.measure.mat import PAPERS, standard_mat
    from salvage.photo.measure.measuring import measure_boards

    check_taking(taking, photos)
    data = photos[0].data
    if taking.dpi:
        return (Look(fallback.measure_scan(data, dpi=taking.dpi)),)
    if taking.card_px is not None:
        return (Look(fallback.measure_beside_card(data, card_px=taking.card_px)),)
    if taking.corners_px is not None and taking.size_mm is not None:
        width, height = taking.size_mm
        found = fallback.measure_by_corners(
            data, corners_px=taking.corners_px, width_mm=width, height_mm=height
        )
        return (Look(found),)
    recogniser = MatRecogniser(mats, told=told)
    boards = measure_boards(
        data,
        mats=[standard_mat(paper) for paper in PAPERS],
        thickness_mm=thickness_mm,
        print_scale=recogniser,
        second_photo=photos[1].data if len(photos) > 1 else None,
    )
    return tuple(Look(board, recogniser.seen) for board in boards)


def choose(looks: Sequence[Look], take: str) -> Look:
    """
    The board that is meant.

    Args:
        looks: All boards in the photo.
        take: Where it lies in the photo; empty where there is but one.

    Raises:
        PhotoRefused: ``two-boards``, if there are several and none is chosen, or one is chosen and
            there is only one.
    """
    if not take and len(looks) == 1:
        return looks[0]
    outlines = [look.measurement.outline for look in looks[:2]]
    if take and len(looks) == 1:
        raise PhotoRefused(
            "two-boards", "only one board is seen, or boards that touch", outlines=outlines
        )
    if not take:
        sizes = ", ".join(f"{place} {_size(look)}" for place, look in _placed(looks))
        raise PhotoRefused(
            "two-boards", f"{len(looks)} boards lie on the field: {sizes}", outlines=outlines
        )
    spread_x, spread_y = _spread(looks)
    along, across = (spread_x, spread_y) if take in ("left", "right") else (spread_y, spread_x)
    if along < _CLEARLY * across:
        sizes = ", ".join(f"{place} {_size(look)}" for place, look in _placed(looks))
        raise PhotoRefused(
            "two-boards", f"'{take}' does not tell the boards apart: {sizes}", outlines=outlines
        )
    return min(looks, key=lambda look: _PLACES[take](look.measurement.seen_at))


def _spread(looks: Sequence[Look]) -> tuple[float, float]:
    """How far apart the boards lie in the photo, across and down."""
    across, down = ([look.measurement.seen_at[k] for look in looks] for k in (0, 1))
    return max(across) - min(across), max(down) - min(down)


def the_other(looks: Sequence[Look], one: Look) -> Look:
    """
    The other of two boards.

    Raises:
        PhotoRefused: ``two-boards``, if there are not two.
    """
    others = [look for look in looks if look is not one]
    if len(others) != 1:
        raise PhotoRefused("two-boards", f"{len(looks)} boards lie on the field, not two")
    return others[0]


def _placed(looks: Sequence[Look]) -> list[tuple[str, Look]]:
    """Boards with where they lie: side by side, or one above the other, whichever is clearer."""
    across, down = _spread(looks)
    is_wide = across >= down
    first, last = ("left", "right") if is_wide else ("upper", "lower")
    ordered = sorted(looks, key=lambda look: look.measurement.seen_at[0 if is_wide else 1])
    names = [first, *["middle"] * (len(ordered) - 2), last]
    return list(zip(names, ordered, strict=True))


def _size(look: Look) -> str:
    width_mm, height_mm = look.measurement.outline.size_mm
    return f"{width_mm:.1f} x {height_mm:.1f} mm"
