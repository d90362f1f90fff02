"""
What is kept of a board to tell quickly whether a shape may fit on it: a few kilobytes.

The bytes hold the measures of the ground's parts and its distance map at 1 mm, rounded up to one of
256 lengths, so that what they rule out is ruled out. A map that would take more than 10 000 bytes
is rounded more coarsely. The bytes are derived: made again whenever the board changes. Lengths are
millimetres.

Layout, little-endian: two letters and a version; left and bottom of the map and its area as
doubles; columns, rows, number of parts and grade as 16-bit numbers; the parts as six doubles each;
then the map, each row as differences from pixel to pixel, compressed with zlib.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from salvage.errors import BadFile
from salvage.geometry.distance import UNITS_PER_MM
from salvage.geometry.ground import COARSE_MM, Ground, Part
from salvage.geometry.raster import Frame

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MARK = b"sh1"
_HEAD = struct.Struct("<3sdddHHHH")
_PART = struct.Struct("<6d")
STEP_MM = 2 * COARSE_MM
_MOST_PARTS = 32
MOST_BYTES = 10_000
_FINE_TO, _MIDDLE_TO = 6 * UNITS_PER_MM, 26 * UNITS_PER_MM


@dataclass(frozen=True, slots=True)
class _Grade:
    """How a map is rounded: lengths in units, and pixels that share their largest value."""

    lowest: int
    fine: int
    middle: int
    block: int


_GRADES = (
    _Grade(-400, 10, 25, 1),
    _Grade(-200, 25, 50, 1),
    _Grade(-100, 50, 100, 1),
    _Grade(-100, 25, 50, 2),
    _Grade(-100, 50, 100, 2),
    _Grade(-100, 50, 100, 4),
)


@dataclass(frozen=True, slots=True)
class IndexHead:
    """
    The measures in an index, without its map.

    Args:
        area_mm2: Area of the ground.
        frame: Frame of the map.
        parts: Measures of the connected parts, by their largest circle; if there are more than 32,
            the last stands for all the rest: its circle is one of theirs, its other measures the
            largest of theirs.
        grade: How coarsely the map is rounded, 0 for least.
        map_at: Where the compressed map starts.
    """

    area_mm2: float
    frame: Frame
    parts: tuple[Part, ...]
    grade: int
    map_at: int


def write_index(ground: Ground) -> bytes:
    """
    The index of a board's ground.

    >>> from salvage.geometry.ground import ground_of_regions
    >>> from salvage.geometry.outline import rectangle
    >>> index = write_index(ground_of_regions([rectangle(305, 244)]))
    >>> len(index) < 3000, read_head(index).area_mm2
    (True, 74420.0)
    """

    parts = _few_parts(ground.parts)
    if not parts:
        return _HEAD.pack(_MARK, 0.0, 0.0, 0.0, 0, 0, 0, 0)
    drawn, frame = ground.distance_map(COARSE_MM)
    # Every second pixel of every second row; its middle lies a quarter millimetre off a 1 mm one.
    thinned = drawn[1::2, 1::2]
    body = b"".join(_PART.pack(*_numbers(part)) for part in parts)
    room = MOST_BYTES - _HEAD.size - len(body)
    for grade in range(len(_GRADES)):
        packed = _pack(thinned, grade)
        if len(packed) <= room:
            break
    head = _HEAD.pack(
        _MARK,
        frame.left_mm + COARSE_MM / 2,
        frame.bottom_mm + COARSE_MM / 2,
        ground.area.area,
        thinned.shape[1],
        thinned.shape[0],
        len(parts),
        grade,
    )
    return head + body + packed


def read_head(index: bytes) -> IndexHead:
    """
    The measures in an index.

    Raises:
        BadFile: If the bytes are no index, or one of another version.
    """
    if len(index) < _HEAD.size or index[: len(_MARK)] != _MARK:
        raise BadFile("the index of a board cannot be read", hint="have it made again")
    _, left, bottom, area, columns, rows, count, grade = _HEAD.unpack_from(index)
    map_at = _HEAD.size + count * _PART.size
    parts = tuple(Part(*numbers) for numbers in _PART.iter_unpack(index[_HEAD.size : map_at]))
    return IndexHead(area, Frame(left, bottom, STEP_MM, columns, rows), parts, grade, map_at)


def read_map(index: bytes, head: IndexHead) -> NDArray[np.int16]:
    """
    The distance map in an index, rows by columns, in the units of the distance maps.

    Raises:
        BadFile: If the bytes are damaged.
    """
    import numpy as np

    frame, block = head.frame, _GRADES[head.grade].block
    rows, columns = -(-frame.rows // block), -(-frame.columns // block)
    try:
        data = zlib.decompress(index[head.map_at :])
        steps = np.frombuffer(data, dtype=np.uint8).reshape(rows, columns)
    except (zlib.error, ValueError):
        raise BadFile("the index of a board is damaged", hint="have it made again") from None
    codes = _added_up(steps)
    drawn = _lengths(head.grade).take(codes)
    if block > 1:
        drawn = drawn.repeat(block, axis=0).repeat(block, axis=1)[: frame.rows, : frame.columns]
    return drawn


def _added_up(steps: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Sums along each row, by doubling: twice as fast as one after another."""
    import numpy as np

    sums, ahead = steps, 1
    while ahead < steps.shape[1]:
        more = sums.copy()
        np.add(sums[:, ahead:], sums[:, :-ahead], out=more[:, ahead:])
        sums, ahead = more, 2 * ahead
    return sums


def _pack(drawn: NDArray[np.int16], grade: int) -> bytes:
    """The map rounded up, compressed."""
    import numpy as np

    block = _GRADES[grade].block
    if block > 1:
        high, wide = (-size % block for size in drawn.shape)
        padded = np.pad(drawn, ((0, high), (0, wide)), constant_values=np.iinfo(np.int16).min)
        shape = (padded.shape[0] // block, block, padded.shape[1] // block, block)
        drawn = padded.reshape(shape).max(axis=(1, 3))
    codes = np.searchsorted(_lengths(grade), drawn, side="left").astype(np.uint8)
    return zlib.compress(np.diff(codes, axis=1, prepend=np.uint8(0)).tobytes(), 6)


@lru_cache(maxsize=len(_GRADES))
def _lengths(grade: int) -> NDArray[np.int16]:
    """The lengths a map of a grade may hold, in units: finer where they are short."""
    import numpy as np

    how = _GRADES[grade]
    fine = np.arange(how.lowest, _FINE_TO, how.fine)
    middle = np.arange(_FINE_TO, _MIDDLE_TO, how.middle)
    far = _MIDDLE_TO + UNITS_PER_MM * np.arange(256 - len(fine) - len(middle))
    lengths = np.concatenate([fine, middle, far])
    lengths[-1] = np.iinfo(np.int16).max
    return lengths.astype(np.int16)


def _few_parts(parts: tuple[Part, ...]) -> tuple[Part, ...]:
    if len(parts) <= _MOST_PARTS:
        return parts
    rest = parts[_MOST_PARTS - 1 :]
    return (
        *parts[: _MOST_PARTS - 1],
        Part(
            area_mm2=max(part.area_mm2 for part in rest),
            inscribed_mm=rest[0].inscribed_mm,
            x_mm=rest[0].x_mm,
            y_mm=rest[0].y_mm,
            least_width_mm=max(part.least_width_mm for part in rest),
            longest_mm=max(part.longest_mm for part in rest),
        ),
    )


def _numbers(part: Part) -> tuple[float, ...]:
    return (
        part.area_mm2,
        part.inscribed_mm,
        part.x_mm,
        part.y_mm,
        part.least_width_mm,
        part.longest_mm,
    )
