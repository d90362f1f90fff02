"""Maps of many boards in one row do not run into one another."""

from __future__ import annotations

import numpy as np

from salvage.geometry.raster import Frame
from salvage.geometry.sheet import OUTSIDE, lay_out


def test_every_board_is_found_by_its_number() -> None:
    """Two boards of different size: each pixel where it belongs, and empty margin between."""
    frames = [Frame(0, 0, 1.0, 4, 2), Frame(5, 5, 1.0, 6, 3)]
    maps = [np.full((frame.rows, frame.columns), 7 + n, np.int16) for n, frame in enumerate(frames)]
    sheet = lay_out(maps, frames, reach_mm=3.0)
    places = np.array([start + sheet.width for start in sheet.starts])

    assert sheet.values[sheet.starts].tolist() == [7, 8]
    assert sheet.board_of(places).tolist() == [0, 1]
    assert int((sheet.values == 7).sum()) == 8
    assert int((sheet.values == 8).sum()) == 18
    assert int((sheet.values == OUTSIDE).sum()) == sheet.values.size - 26


def test_a_shape_reaching_out_meets_only_margin() -> None:
    """From the last column, as far as the reach, nothing of the next row or board is seen."""
    frame = Frame(0, 0, 0.5, 10, 6)
    sheet = lay_out([np.ones((6, 10), np.int16)] * 2, [frame] * 2, reach_mm=4.0)
    last = int(sheet.starts[0]) + 2 * sheet.width + 9
    above = int(sheet.starts[0]) + 5 * sheet.width

    assert (sheet.values[last + 1 : last + 9] == OUTSIDE).all()
    assert (
        sheet.values[above + sheet.width : above + 8 * sheet.width : sheet.width] == OUTSIDE
    ).all()
    assert (sheet.values[: int(sheet.starts[0])] == OUTSIDE).all()
