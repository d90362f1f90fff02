"""
Every place of many boards at one angle, decided as a row of bits.

A disc of the shape has room where the distance map holds at least its radius. Those places are
written as bits once; for a disc that lies so far to the right and up, the same bits are read from
so much farther on. The bits of all discs together tell where the whole shape may lie, a few million
places in a millisecond. Searching cell by cell (:mod:`salvage.geometry.search`) pays only for what
is left after that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.sheet import OUTSIDE, Sheet

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Bits = NDArray[np.uint8]

# After so many discs it is asked whether any place is left.
_BETWEEN_LOOKS = 4
_WORD = "<u8"  # words whose lowest bit is the first place, on every machine


@dataclass(frozen=True, slots=True)
class Discs:
    """
    What is asked of every place at every angle: discs by angles.

    Args:
        dx: Pixels to the right of a cell's lower left pixel.
        dy: The same upward.
        least: What the map must hold there, in its units; no more than :data:`OUTSIDE` asks for
            nothing.
    """

    dx: NDArray[np.int64]
    dy: NDArray[np.int64]
    least: NDArray[np.int64]


class Sweep:
    """
    The bits of a sheet cut into square cells.

    Args:
        sheet: Maps.
        block: Pixels across a cell, at most :data:`salvage.geometry.sheet.EVEN`.
        reach: How many pixels a disc may lie away from its cell.
    """

    __slots__ = ("_block", "_open", "_pad", "_phases", "_planes", "_row", "_words", "sheet")

    def __init__(self, sheet: Sheet, *, block: int, reach: int) -> None:
        import numpy as np

        values = sheet.values.reshape(-1, sheet.width)
        self.sheet = sheet
        self._block = block
        self._row = sheet.width // block
        self._words = -(-values.size // (block * block * 64))
        self._pad = (reach // block + 2) * (self._row + 1) // 64 + 2
        self._phases = {
            (y, x): np.ascontiguousarray(values[y::block, x::block]).ravel()
            for y in range(block)
            for x in range(block)
        }
        self._planes: dict[tuple[int, int, int, int], Bits] = {}
        self._open: Bits = self._all_cells()

    def close(self, boards: Iterable[int]) -> None:
        """Leave boards out from now on."""
        import numpy as np

        marks = np.unpackbits(self._open, bitorder="little")
        ends = np.append(self.sheet.starts, len(self.sheet.values)) // self._block**2
        for board in boards:
            marks[ends[board] : ends[board + 1]] = 0
        self._open = np.packbits(marks, bitorder="little")

    def places(self, discs: Discs, order: Sequence[int], turn: int) -> NDArray[np.int64]:
        """Lower left pixels of the open cells in which each of some discs has its room."""
        import numpy as np

        left = self._open.copy()
        for count, disc in enumerate(order, 1):
            least = int(discs.least[disc, turn])
            if least > OUTSIDE:
                bits = self._bits(least, int(discs.dy[disc, turn]), int(discs.dx[disc, turn]))
                np.bitwise_and(left, bits, out=left)
            if count % _BETWEEN_LOOKS == 0 and not left.view(np.uint64).any():
                break
        return self._numbers(left)

    def _all_cells(self) -> Bits:
        import numpy as np

        marks = np.zeros(self._words * 64, dtype=np.bool_)
        for frame, start in zip(self.sheet.frames, self.sheet.starts.tolist(), strict=True):
            row, column = divmod(start, self.sheet.width)
            rows = np.arange(-(-frame.rows // self._block)) + row // self._block
            columns = np.arange(-(-frame.columns // self._block)) + column // self._block
            marks[(rows[:, None] * self._row + columns[None, :]).ravel()] = True
        return np.packbits(marks, bitorder="little")

    def _bits(self, least: int, dy: int, dx: int) -> Bits:
        """The bits where the pixel so far up and right of the cell's own holds at least so much."""
        up, y = divmod(dy, self._block)
        right, x = divmod(dx, self._block)
        ahead, shift = divmod(up * self._row + right, 8)
        plane = self._planes.get((least, y, x, shift))
        if plane is None:
            plane = self._planes[least, y, x, shift] = self._draw(least, y, x, shift)
        start = self._pad * 8 + ahead
        return plane[start : start + self._words * 8]

    def _draw(self, least: int, y: int, x: int, shift: int) -> Bits:
        import numpy as np

        if shift:
            plain = self._planes.get((least, y, x, 0))
            if plain is None:
                plain = self._planes[least, y, x, 0] = self._draw(least, y, x, 0)
            words = plain.view(_WORD)
            moved = words >> np.uint64(shift)
            moved[:-1] |= words[1:] << np.uint64(64 - shift)
            return moved.view(np.uint8)
        drawn = np.zeros((self._words + 2 * self._pad) * 8, dtype=np.uint8)
        packed = np.packbits(self._phases[y, x] >= least, bitorder="little")
        drawn[self._pad * 8 : self._pad * 8 + len(packed)] = packed
        return drawn

    def _numbers(self, bits: Bits) -> NDArray[np.int64]:
        import numpy as np

        words = np.flatnonzero(bits.view(np.uint64))
        marks = np.unpackbits(bits.reshape(-1, 8)[words], bitorder="little")
        at = np.flatnonzero(marks.view(np.bool_))
        row, column = np.divmod(words[at >> 6] * 64 + (at & 63), self._row)
        places: NDArray[np.int64] = (row * self.sheet.width + column) * self._block
        return places
