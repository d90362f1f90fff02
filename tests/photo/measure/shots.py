"""Photos that several tests look at, drawn once."""

from __future__ import annotations

from functools import lru_cache

from salvage.photo.measure.mat import PrintScale, standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.result import Measurement
from tests.photo.measure.scene import Shot, rectangle, take_photo

MATS = [standard_mat("a4"), standard_mat("a3")]
CHECKED = PrintScale(checked_mm=0.1)

BOARD = Shot(
    rectangle(55, 35, 130, 80, 7),
    holes=((85.0, 60.0, 3.2), (150.0, 100.0, 3.2), (110.0, 80.0, 2.5)),
)
"""A green board of 130 x 80 mm with three holes."""

OTHER_SIDE = Shot(BOARD.outline, BOARD.holes, tilt=25.0, azimuth=220.0, distance=290.0, seed=2)
"""The same board lying still, from another side."""


@lru_cache(maxsize=12)
def photo(shot: Shot) -> bytes:
    """The photo of a shot."""
    return take_photo(shot)


@lru_cache(maxsize=12)
def measured(shot: Shot) -> Measurement:
    """The measurement of a shot whose heights are known."""
    return measure_photo(
        photo(shot),
        mats=MATS,
        thickness_mm=shot.thickness,
        standoff_mm=shot.standoff,
        print_scale=CHECKED,
    )
