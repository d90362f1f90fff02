"""Places that are held on one board, as its screens tell them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.cli.count import count_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from salvage.ids import Code
    from salvage.records.things import Reservation
    from salvage.work.workshop import Workshop


def read_held(shop: Workshop, board: Code) -> tuple[Reservation, ...]:
    """The reservations that are held on a board, by code."""
    from salvage.work.planning import list_reservations

    held = (held for held in list_reservations(shop) if held.board == board)
    return tuple(sorted(held, key=lambda reservation: reservation.code))


def held_lines(held: Sequence[Reservation], *, most: int = 100) -> list[str]:
    """
    A line for each place: its code, what goes there, and for whom.

    Args:
        held: On one board.
        most: Tell only so many, and how many more there are.
    """
    from salvage.work.cutting import describe_spot, spot_of_reservation

    lines = [
        f"  reserved {one.code}: {describe_spot(spot_of_reservation(one))}, for {one.for_whom}"
        for one in held[:most]
    ]
    if len(held) > most:
        left = count_of(len(held) - most, "place")
        lines.append(f"  … and {left} more; see 'salvage board show {held[0].board}'")
    return lines
