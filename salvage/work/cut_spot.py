"""Where a shape goes on a board, as it is cut or reserved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.records.region import Region, region_of_text
from salvage.units import format_mm, from_um
from salvage.work.library import ChosenShape

if TYPE_CHECKING:
    from salvage.geometry.placing import Placement
    from salvage.records.things import Reservation


@dataclass(frozen=True, slots=True)
class Spot:
    """
    Where a shape goes on a board.

    Args:
        shape: The shape at its size.
        x_um, y_um: Where the centre of its bounding box goes, in board coordinates.
        angle_mdeg: Turned counter-clockwise, in thousandths of a degree.
        side: The face that the cutter sees; from the back the shape is mirrored, so that it comes
            out as drawn when the piece is turned over.
        fixed: The region itself, where it was settled before, as by a reservation.
    """

    shape: ChosenShape
    x_um: int
    y_um: int
    angle_mdeg: int = 0
    side: str = "front"
    fixed: Region | None = None

    @property
    def placement(self) -> Placement:
        """The same for the geometry."""
        from salvage.geometry.placing import Placement

        return Placement(self.x_um, self.y_um, self.angle_mdeg, self.side == "back")

    def region(self) -> Region:
        """The region of the board that the shape covers."""
        from salvage.geometry.placing import place

        return self.fixed or place(self.shape.region, self.placement)


def spot_of_reservation(reservation: Reservation) -> Spot:
    """The spot that a reservation holds, to be cut as it stands."""
    region = region_of_text(reservation.region)
    return Spot(
        ChosenShape(reservation.shape, region),
        reservation.x_um,
        reservation.y_um,
        reservation.angle_mdeg,
        "back" if reservation.mirrored else "front",
        fixed=region,
    )


def describe_spot(spot: Spot) -> str:
    """
    Where a shape goes, in words.

    >>> describe_spot(Spot(ChosenShape("kite", Region(((0, 0), (1, 0), (0, 1)))), 30500, 42000))
    'kite at 30.5 mm, 42 mm, front'
    """
    turned = f", turned {spot.angle_mdeg / 1000:g}°" if spot.angle_mdeg else ""
    where = f"{format_mm(from_um(spot.x_um))}, {format_mm(from_um(spot.y_um))}"
    return f"{spot.shape.name} at {where}{turned}, {spot.side}"
