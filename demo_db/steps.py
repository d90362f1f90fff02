"""What the demo's maker does again and again: record, clear, cut, photograph."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from salvage.geometry.outline import region_of_points
from salvage.ids import Code
from salvage.records.region import Region
from salvage.records.things import Piece
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.cutting import NewCut, Spot, record_cut
from salvage.work.library import choose_shape
from salvage.work.photos import NewPhoto, add_photo
from salvage.work.pieces import set_stage
from salvage.work.record import NewBoard, record_boards
from salvage.work.workshop import Workshop

from .pictures import BoardLook, board_photo, piece_photo


class DemoClock:
    """A clock that stands where the story is and moves on a few minutes with each look."""

    def __init__(self) -> None:
        self.now = datetime(2026, 2, 14, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        """The instant of the story, three minutes on."""
        self.now += timedelta(minutes=3)
        return self.now

    def turn_to(self, day: date) -> None:
        """Go to the morning of a day."""
        self.now = datetime(day.year, day.month, day.day, 9, 0, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Place:
    """
    Where a shape goes on a board.

    Args:
        shape: Name in the workshop's library.
        x_mm, y_mm: Where its centre goes.
        angle: Turned counter-clockwise, in degrees.
    """

    shape: str
    x_mm: float
    y_mm: float
    angle: float = 0.0


def box(left: float, bottom: float, right: float, top: float) -> Region:
    """A rectangle in board coordinates, millimetres."""
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    return region_of_points(corners, field="keep-out")


def add_board(shop: Workshop, new: NewBoard, look: BoardLook) -> Code:
    """Record a board with a photo of its stripped front."""
    code = record_boards(shop, new=new)[0].code
    photograph_board(shop, code, look, populated=False)
    return code


def photograph_board(
    shop: Workshop, code: Code, look: BoardLook, *, side: str = "front", populated: bool = True
) -> None:
    """Take a photo of one side of a board and pick its corners."""
    photo = board_photo(
        seed=look.seed,
        width_mm=look.width_mm,
        height_mm=look.height_mm,
        mask=look.mask,
        side=side,
        populated=populated,
    )
    caption = "as it came" if populated else "stripped"
    name = f"{code}-{side}-{caption.replace(' ', '-')}.jpg"
    new = NewPhoto(photo.jpeg, name, side, caption, corners_px=photo.corners_px)
    add_photo(shop, code=code, new=new)


def clear_board(
    shop: Workshop, board: Code, *, removed: dict[str, tuple[str, str]] | None = None
) -> None:
    """Settle every hazard: some removed, the others looked for and absent."""
    taken = removed or {}
    checks = []
    for line in read_checklist(shop, board).lines:
        hazard = line.check.hazard
        if hazard in taken:
            how, goes_to = taken[hazard]
            checks.append(NewCheck(hazard, "present", "removed", how, goes_to))
        else:
            checks.append(NewCheck(hazard, "absent", how="looked for on both faces"))
    record_checks(shop, boards=[board], checks=checks)


def spot(shop: Workshop, place: Place) -> Spot:
    """The spot of a place."""
    chosen = choose_shape(shop, name=place.shape)
    x_um, y_um = round(place.x_mm * 1000), round(place.y_mm * 1000)
    return Spot(chosen, x_um, y_um, round(place.angle * 1000))


def make_piece(
    shop: Workshop, board: Code, look: BoardLook, place: Place, *, stage: str = "ready"
) -> Piece:
    """Cut a piece, finish it and take its photo."""
    where = spot(shop, place)
    view = record_cut(shop, new=NewCut(board, where, kerf_mm=1.5))
    assert view.piece is not None  # the cut was no scrap
    code = view.piece.code
    set_stage(shop, pieces=[code], stage=stage)
    jpeg = piece_photo(board=look, region=where.region(), turn_degrees=-place.angle)
    add_photo(shop, code=code, new=NewPhoto(jpeg, f"{code}.jpg", "front"))
    return view.piece
