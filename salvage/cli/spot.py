"""Where a shape goes, from the options that cuts and reservations share."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from salvage.cli.failures import Misuse
from salvage.cli.files import read_file
from salvage.cli.gather import Gatherer
from salvage.cli.session import Session
from salvage.units import parse_length_mm
from salvage.work.cutting import Spot
from salvage.work.library import ChosenShape, choose_shape, shape_of_drawing
from salvage.work.spots import parse_spot
from salvage.work.workshop import Workshop


@dataclass(frozen=True)
class TypedSpot:
    """
    What was typed for a spot; empty for what was left out.

    Args:
        shape: Name in the library.
        svg: File of a drawing instead.
        width, height: Size to draw the shape to.
        at: Where its middle goes.
        angle: Turned by.
        side: Face that the cutter sees.
    """

    shape: str = ""
    svg: str = ""
    width: str = ""
    height: str = ""
    at: str = ""
    angle: str = "0"
    side: str = "front"


def read_spot(session: Session, shop: Workshop, typed: TypedSpot) -> Spot:
    """
    The spot that was typed.

    Raises:
        Misuse: If shape or place is missing, or the shape is told twice.
        SalvageError: If something does not parse.
    """
    if bool(typed.shape) == bool(typed.svg):
        raise Misuse("give one of --shape and --svg")
    if not typed.at:
        raise Misuse("give --at X,Y: where the middle of the shape goes")
    return parse_spot(
        _read_shape(session, shop, typed), at=typed.at, angle=typed.angle, side=typed.side
    )


def _read_shape(session: Session, shop: Workshop, typed: TypedSpot) -> ChosenShape:
    if typed.svg:
        if typed.width or typed.height:
            raise Misuse("a drawing keeps its own size; leave --width and --height out")
        return shape_of_drawing(read_file(session, typed.svg), file_name=Path(typed.svg).name)
    gather = Gatherer()
    width_mm = gather.take(lambda: _length(typed.width, "--width"), None)
    height_mm = gather.take(lambda: _length(typed.height, "--height"), None)
    gather.finish()
    return choose_shape(shop, name=typed.shape, width_mm=width_mm, height_mm=height_mm)


def _length(text: str, field: str) -> float | None:
    return parse_length_mm(text, field=field) if text else None
