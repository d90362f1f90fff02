"""
The last resort for dirty and glared symbols: the grid is fitted, and doubtful codewords mended.

Each module's tone tells how sure it is. The least sure codewords are given up first, a few more
each time, and worked out from the rest. What comes out is drawn again as a whole symbol, held
against the picture module by module, and read by the first reader, as any other symbol.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from salvage.codes.ecc import mend
from salvage.codes.grid import CELL_PX, Grid, guess_grid, level_tones, refine_grid, sample_grid
from salvage.codes.layout import (
    DATA_MATRIX_CHECKS,
    MASKS,
    QR_CHECKS,
    Layout,
    data_matrix_layout,
    format_cells,
    format_words,
    qr_layout,
)
from salvage.codes.locate import place_back, straighten
from salvage.codes.reading import Corners, Reading
from salvage.codes.zxing import see_with_zxing

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Pixels = npt.NDArray[np.uint8]
    Floats = npt.NDArray[np.float32]

STEP = "rebuilt"
_LEAST_GUESS = 0.2  # before the corners are moved
_MOST_GUESSES = 4
_LEAST_FIT = 0.42  # of the known modules; random print and textures stay below 0.35
_TOLD_FIT = 0.66  # from here on an unread place is told as a label
_MOST_UNLIKE = 0.16  # share of the modules that may differ from what was made out of them
_MARGIN = 0.3
_SPARE = 1  # check codewords that must be left over, so that chance cannot fill a symbol


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """
    What came of a place.

    Args:
        reading: What the symbol says; None where it could not be made out.
        corners_px: Where a symbol certainly lies, read or not; empty where none was found.
    """

    reading: Reading | None = None
    corners_px: Corners = ()


def rebuild(pixels: Pixels, around_px: Corners) -> Rebuilt:
    """
    A symbol of ours read though parts of it are hidden.

    Args:
        pixels: The gray picture.
        around_px: About its corners, in any turn.
    """
    guesses = []
    seen_at: Corners = ()
    for layout in _layouts():
        side_px = round(layout.side * CELL_PX * (1 + 2 * _MARGIN))
        patch, back = straighten(pixels, around_px, margin=_MARGIN, side_px=side_px)
        tones, room = level_tones(patch), _MARGIN / (1 + 2 * _MARGIN) * side_px
        frame = (room, room, patch.shape[1] - room, patch.shape[0] - room)
        guesses.append((guess_grid(tones, layout, frame), tones, back))
    guesses.sort(key=lambda guess: -abs(guess[0].score))
    for guess, tones, back in guesses[:_MOST_GUESSES]:
        if abs(guess.score) < _LEAST_GUESS:
            break
        seen = tones if guess.score > 0 else -tones  # light on dark is read as its negative
        grid = refine_grid(seen, replace(guess, score=abs(guess.score)))
        if grid.score < _LEAST_FIT:
            continue
        corners = tuple((round(x), round(y)) for x, y in grid.corners.tolist())
        rim = place_back(corners, back)
        if grid.score >= _TOLD_FIT:
            seen_at = seen_at or rim
        if found := _read_grid(grid, sample_grid(seen, grid)):
            return Rebuilt(_placed(found, rim, grid.layout.side), rim)
    return Rebuilt(None, seen_at)


def _layouts() -> tuple[Layout, ...]:
    return (
        *(qr_layout(side) for side in QR_CHECKS),
        *(data_matrix_layout(side) for side in DATA_MATRIX_CHECKS if side < 16),
    )


def _placed(reading: Reading, corners_px: Corners, side: int) -> Reading:
    (x1, y1), (x2, y2), (x3, y3) = corners_px[:3]
    across, down = math.hypot(x2 - x1, y2 - y1), math.hypot(x3 - x2, y3 - y2)
    return Reading(
        reading.text,
        reading.symbology,
        corners_px,
        reading.reader,
        STEP,
        module_px=round((across * down) ** 0.5 / side, 2),
    )


def _read_grid(grid: Grid, tones: Floats) -> Reading | None:
    """What the modules say, if it says a code of ours and looks like the picture."""
    layout = grid.layout
    if layout.kind == "Data Matrix":
        return _mend_and_read(layout, tones, {}, None, DATA_MATRIX_CHECKS[layout.side])
    for (level, mask), word in _likely_formats(layout, tones):
        known = {
            cell: dark
            for cells in format_cells(layout.side)
            for cell, dark in zip(cells, word, strict=True)
        }
        if found := _mend_and_read(layout, tones, known, mask, QR_CHECKS[layout.side][level]):
            return found
    return None


def _likely_formats(
    layout: Layout, tones: Floats
) -> list[tuple[tuple[str, int], tuple[bool, ...]]]:
    """The levels and masks that the format modules look most like."""

    def likeness(word: tuple[bool, ...]) -> float:
        return sum(
            float(tones[cell]) * (-1 if dark else 1)
            for cells in format_cells(layout.side)
            for cell, dark in zip(cells, word, strict=True)
        )

    return sorted(format_words().items(), key=lambda item: -likeness(item[1]))[:3]


def _mend_and_read(
    layout: Layout,
    tones: Floats,
    known: dict[tuple[int, int], bool],
    mask: int | None,
    checks: int,
) -> Reading | None:
    turned = [mask is not None and MASKS[mask](row, column) for row, column in layout.bits]
    light = [float(tones[cell]) for cell in layout.bits]
    bits = [(tone < 0) != turn for tone, turn in zip(light, turned, strict=True)]
    codewords, trust = [], []
    for start in range(0, len(bits), 8):
        codewords.append(int("".join("01"[bit] for bit in bits[start : start + 8]), 2))
        trust.append(min(abs(tone) for tone in light[start : start + 8]))
    least_sure = sorted(range(len(codewords)), key=lambda place: trust[place])
    tried = set()
    for given_up in range(checks - _SPARE + 1):
        mended = mend(codewords, checks, layout.field, least_sure[:given_up])
        if mended is None or tuple(mended) in tried:
            continue
        tried.add(tuple(mended))
        rows = _draw(layout, mended, turned, known)
        if _unlike(rows, tones) <= _MOST_UNLIKE and (found := _read_rows(rows)):
            return found
    return None


def _draw(
    layout: Layout,
    codewords: list[int],
    turned: list[bool],
    known: dict[tuple[int, int], bool],
) -> npt.NDArray[np.bool_]:
    """The whole symbol, true where dark."""
    import numpy as np

    rows = np.zeros((layout.side, layout.side), bool)
    for cell, dark in (layout.fixed | known).items():
        rows[cell] = dark
    for place, (cell, turn) in enumerate(zip(layout.bits, turned, strict=True)):
        bit = codewords[place // 8] >> 7 - place % 8 & 1
        rows[cell] = bool(bit) != turn
    return rows


def _unlike(rows: npt.NDArray[np.bool_], tones: Floats) -> float:
    """Share of the picture's tones that speak against a drawn symbol, the surer the heavier."""
    import numpy as np

    against = np.abs(tones) * (rows != (tones < 0))
    return float(against.sum() / max(1e-6, np.abs(tones).sum()))


def _read_rows(rows: npt.NDArray[np.bool_]) -> Reading | None:
    import numpy as np

    tones = np.where(np.pad(rows, 4), 0, 255).repeat(4, axis=0).repeat(4, axis=1)
    readings, _ = see_with_zxing(tones.astype(np.uint8), step=STEP)
    return next((reading for reading in readings if reading.code), None)
