"""
The steps of reading, cheap first, ending as soon as nothing unread is suspected.

First the whole picture is read by the first reader. Then places that look like labels and gave
nothing are looked at one by one: by the second reader, straightened, sharpened, as bars, and at
last rebuilt from their grid. A picture in which nothing was seen is tried once more as a whole,
enlarged. Which steps pay, and for what, stands in the project's measurements.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from salvage.codes.agree import bring_together, is_read
from salvage.codes.enhance import even_out, resize, sharpen
from salvage.codes.locate import (
    Patch,
    end_squares,
    find_bars,
    find_patches,
    is_squarish,
    place_back,
    straighten,
)
from salvage.codes.reading import Corners, PictureCodes, Reading
from salvage.codes.rebuild import Rebuilt, rebuild
from salvage.codes.zxing import BARS, is_foreign_bars, see_with_zxing

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Pixels = npt.NDArray[np.uint8]

_MOST_PLACES = 16  # looked at one by one
_LEAST_TOLD_SHAPE = 0.6  # short to long side; a square tilted by 50 degrees has 0.64
_MOST_REBUILT = 6
_MOST_MORE_REBUILT = 3  # where others were read
_SMALL_PX = 3_200_000  # pictures up to this are tried as a whole again
_UPRIGHT_PX = (320, 480)  # sides of a straightened place; one suits small modules, one large
_BARS_PX = 900
_BAR_SEARCH_PX = 1_600_000
_LARGE_PX = 6_000_000  # from here on the whole is read at half size, and small places at full size
_SMALL_PLACE_PX = 400_000


class Second(Protocol):
    """A second reader."""

    def see(self, pixels: Pixels, *, step: str = "as it is") -> list[Reading]:
        """What it reads in a gray picture."""
        ...


def read_pixels(pixels: Pixels, second: Second | None) -> PictureCodes:
    """
    Everything in a gray picture.

    Args:
        pixels: Rows by columns.
        second: The second reader; None to do without.
    """
    patches = find_patches(pixels)
    readings, broken = _read_whole(pixels, patches)
    patches = [patch for patch in patches if not is_read(patch.corners_px, readings)]
    if readings:  # then only what looks like one more label is worth the time
        patches = [
            patch for patch in patches if patch.is_symbol or (patch.is_bars and patch.is_calm)
        ]
    places = [Patch(rim, (8.0, 8.0)) for rim in broken] + sorted(patches, key=_promise)
    unread: list[Corners] = []
    rebuilt = 0
    for place in places[:_MOST_PLACES]:
        if is_read(place.corners_px, readings):
            continue
        found = _look_closer(pixels, place, second, alone=not readings)
        if (
            not found
            and rebuilt < (_MOST_MORE_REBUILT if readings else _MOST_REBUILT)
            and _may_be_square(place)
        ):
            rebuilt += 1
            last = _rebuilt(pixels, place)
            found = [last.reading] if last.reading else []
            unread += [last.corners_px] if last.corners_px else []
        readings += found
    if not any(reading.code for reading in readings):
        readings += _try_whole(pixels, second)
    unread = [rim for rim in unread if is_squarish(rim, least=_LEAST_TOLD_SHAPE)]
    unread += [
        place.corners_px
        for place in places
        if place.is_surely_bars
        and not is_read(place.corners_px, readings)
        and not _is_cut_off(pixels, place.corners_px)
        and not _is_foreign(pixels, place.corners_px)
    ]
    height, width = pixels.shape
    return bring_together(readings, unread, width_px=width, height_px=height)


def _read_whole(pixels: Pixels, patches: list[Patch]) -> tuple[list[Reading], list[Corners]]:
    """
    The first reader's pass; in a large picture at half size, and then each small place in full.

    Half size costs a quarter of the time and loses only symbols of small modules.
    """
    if pixels.size < _LARGE_PX:
        return see_with_zxing(pixels)
    readings, broken = see_with_zxing(resize(pixels, 0.5))
    if not readings:
        return see_with_zxing(pixels)
    readings = [_scaled(one, 2.0) for one in readings]
    for patch in patches:
        small = _area(patch.corners_px) <= _SMALL_PLACE_PX and min(patch.changes) >= 3.0
        if small and not is_read(patch.corners_px, readings):
            part, (left, top) = _cut_out(pixels, patch.corners_px)
            readings += [_moved(one, left, top) for one in see_with_zxing(part)[0]]
    return readings, [tuple((2 * x, 2 * y) for x, y in rim) for rim in broken]


def _is_cut_off(pixels: Pixels, rim: Corners) -> bool:
    """Whether a place reaches the edge of the picture, as a board or a ruler does."""
    height, width = pixels.shape
    return any(not (1 < x < width - 6 and 1 < y < height - 6) for x, y in rim)


def _is_foreign(pixels: Pixels, rim: Corners) -> bool:
    """Whether bars are those of goods and parcels, which are read and are none of ours."""
    upright, _ = straighten(pixels, rim, margin=0.12, side_px=_BARS_PX)
    return is_foreign_bars(upright)


def _promise(patch: Patch) -> tuple[bool, bool]:
    """Sorts the likely places to the front."""
    return not patch.is_symbol, not patch.is_bars


def _may_be_square(place: Patch) -> bool:
    return min(place.changes) >= 3.0 and not place.is_bars


def _look_closer(
    pixels: Pixels, place: Patch, second: Second | None, *, alone: bool
) -> list[Reading]:
    """The first steps on one place that give a reading; more steps if nothing else was read."""
    for step in _steps(pixels, place, second, alone=alone):
        if found := [one for one in step() if one.code]:
            return found
    return []


def _steps(
    pixels: Pixels, place: Patch, second: Second | None, *, alone: bool
) -> Iterator[Callable[[], list[Reading]]]:
    if place.is_bars:
        yield lambda: _read_bars(pixels, place.corners_px)
    if second is not None and not place.is_bars:
        yield lambda: _second_look(pixels, place.corners_px, second)
    if not place.is_bars:
        yield lambda: _read_upright(pixels, place.corners_px, "straightened")
        yield lambda: _read_upright(pixels, place.corners_px, "sharpened")
    elif alone:
        yield lambda: _locate_bars(pixels, place.corners_px)


def _second_look(pixels: Pixels, rim: Corners, second: Second) -> list[Reading]:
    part, (left, top) = _cut_out(pixels, rim)
    return [_moved(one, left, top) for one in second.see(part, step="close up")]


def _read_upright(pixels: Pixels, rim: Corners, step: str) -> list[Reading]:
    found: list[Reading] = []
    for side_px in _UPRIGHT_PX:
        upright, back = straighten(pixels, rim, side_px=side_px)
        seen = sharpen(upright) if step == "sharpened" else upright
        readings, _ = see_with_zxing(seen, step=step)
        found += [_placed(one, back) for one in readings]
        if found:
            break
    return found


def _read_bars(pixels: Pixels, rim: Corners) -> list[Reading]:
    upright, back = straighten(pixels, rim, margin=0.12, side_px=_BARS_PX)
    for seen in (upright, 255 - upright):  # bars, unlike squares, are not tried light on dark
        readings, _ = see_with_zxing(seen, formats=BARS, step="bars turned upright")
        if readings:
            return [_placed(one, back) for one in readings]
    return []


def _locate_bars(pixels: Pixels, rim: Corners) -> list[Reading]:
    part, (left, top) = _cut_out(pixels, rim)
    return [_moved(one, left, top) for one in _find_and_read_bars(part)]


def _find_and_read_bars(pixels: Pixels) -> list[Reading]:
    """Bars found by OpenCV's locator, dark on light and then light on dark."""
    for seen in (pixels, 255 - pixels):
        factor = min(1.0, (_BAR_SEARCH_PX / seen.size) ** 0.5)
        places = find_bars(resize(seen, factor) if factor < 1 else seen)
        found: list[Reading] = []
        for place in places:
            rim = tuple((round(x / factor), round(y / factor)) for x, y in place)
            found += _read_bars(seen, rim)
        if found:
            return found
    return []


def _rebuilt(pixels: Pixels, place: Patch) -> Rebuilt:
    best = Rebuilt()
    for rim in end_squares(place.corners_px):
        found = rebuild(pixels, rim)
        if found.reading:
            return found
        best = best if best.corners_px else found
    return best


def _try_whole(pixels: Pixels, second: Second | None) -> list[Reading]:
    """More tries on a whole picture in which no code of ours was seen."""
    found = _find_and_read_bars(pixels)
    if found or pixels.size > _SMALL_PX:
        return found
    tries: list[Callable[[], list[Reading]]] = [
        lambda: see_with_zxing(resize(pixels, 1.5), step="enlarged")[0],
        lambda: second.see(pixels) if second is not None else [],
        lambda: see_with_zxing(pixels, one_threshold=True, step="one threshold")[0],
        lambda: see_with_zxing(sharpen(pixels), step="sharpened")[0],
        lambda: see_with_zxing(even_out(pixels), step="contrast evened")[0],
    ]
    for number, attempt in enumerate(tries):
        seen = attempt()
        if number == 0:
            seen = [_scaled(one, 1 / 1.5) for one in seen]
        if any(one.code for one in seen):
            return [one for one in seen if one.code]
    return []


def _cut_out(pixels: Pixels, rim: Corners) -> tuple[Pixels, tuple[int, int]]:
    """The upright frame around a place with some surroundings, and its upper left corner."""
    xs, ys = [x for x, _ in rim], [y for _, y in rim]
    room = round(0.25 * max(max(xs) - min(xs), max(ys) - min(ys))) + 8
    left, top = max(0, min(xs) - room), max(0, min(ys) - room)
    return pixels[top : max(ys) + room, left : max(xs) + room].copy(), (left, top)


def _moved(reading: Reading, left: int, top: int) -> Reading:
    corners = tuple((x + left, y + top) for x, y in reading.corners_px)
    return replace(reading, corners_px=corners)


def _scaled(reading: Reading, factor: float) -> Reading:
    corners = tuple((round(x * factor), round(y * factor)) for x, y in reading.corners_px)
    return replace(reading, corners_px=corners, module_px=round(reading.module_px * factor, 2))


def _placed(reading: Reading, back: npt.NDArray[np.float64]) -> Reading:
    corners = place_back(reading.corners_px, back)
    before, after = _area(reading.corners_px), _area(corners)
    scale = (after / before) ** 0.5 if before else 1.0
    return replace(reading, corners_px=corners, module_px=round(reading.module_px * scale, 2))


def _area(rim: Corners) -> float:
    pairs = zip(rim, rim[1:] + rim[:1], strict=True)
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs)) / 2
