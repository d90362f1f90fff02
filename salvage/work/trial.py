"""Trying a place: whether a shape may be cut there, why not, and how much room it has."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import NoRoom, Refused
from salvage.ids import Code
from salvage.records.region import Region
from salvage.store.lookup import load_board
from salvage.work.area import board_outline, read_taken
from salvage.work.cut_spot import Spot
from salvage.work.cutting import check_room
from salvage.work.verdict import find_obstacles
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.room import Room


@dataclass(frozen=True, slots=True)
class Trial:
    """
    What would come of a cut.

    Args:
        region: Where the shape would lie.
        reason: Why it does not fit there; empty where it fits.
        room: How far it is from the next thing.
        held: Why the board may not be cut at all now; empty where it may.
    """

    region: Region
    reason: str
    room: Room
    held: str

    @property
    def fits(self) -> bool:
        """Whether the place is free, whatever holds the board."""
        return not self.reason


def try_spot(
    shop: Workshop, *, board: Code, spot: Spot, kerf_mm: float, ignore: Collection[str] = ()
) -> Trial:
    """
    Whether a shape may be cut at a place, by the same test as the cut itself.

    Args:
        shop: The open workshop.
        board: The board's code.
        spot: Where.
        kerf_mm: Width that the tool removes.
        ignore: Codes of reservations that do not count.

    Raises:
        NotFound: If there is no such board.
        BadOutline: If it has no outline yet.
    """
    from salvage.geometry.room import find_room

    found = load_board(shop.conn, board)
    region = spot.region()
    reason = ""
    try:
        check_room(shop.conn, found, region, kerf_mm=kerf_mm, ignore=ignore)
    except (NoRoom, Refused) as refusal:
        reason = refusal.message
    outline = board_outline(found)
    assert outline is not None  # the check of the room has asked
    taken = read_taken(shop.conn, board)
    room = find_room(region, kerf_mm=kerf_mm, outline=outline, taken=taken, ignore=ignore)
    held = [o.words for o in find_obstacles(shop.conn, found) if o.forbids_cutting]
    return Trial(region, reason, room, "; ".join(held))
