"""Readings of several readers and steps brought together; no difference is settled silently."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from salvage.codes.reading import Corners, PictureCodes, Reading, is_inside, middle, same_place


def bring_together(
    readings: Iterable[Reading], unread: Iterable[Corners], *, width_px: int, height_px: int
) -> PictureCodes:
    """
    What a picture shows, judged.

    Readings of one text at one place count as one. Different texts at one place are doubtful, all
    of them. A code of ours at several places is given once.

    Args:
        readings: Of all readers and steps.
        unread: Places that look like labels and gave no reading.
        width_px: Width of the picture.
        height_px: Its height.
    """
    merged = sorted(_merged(readings), key=lambda one: (_top(one.corners_px), one.text))
    doubtful = [one for one in merged if any(_differs(one, other) for other in merged)]
    sure = [one for one in merged if one not in doubtful]
    disputed = {one.code for one in doubtful}
    codes: dict[str, Reading] = {}
    for one in sure:
        if one.code and one.code not in disputed:
            codes.setdefault(one.code, one)
    return PictureCodes(
        width_px,
        height_px,
        codes=tuple(codes.values()),
        strangers=tuple(one for one in sure if not one.code),
        doubtful=tuple(doubtful),
        unread=tuple(sorted(_apart(unread, merged), key=_top)),
    )


def is_read(place: Corners, readings: Iterable[Reading]) -> bool:
    """Whether one of the readings lies at a place."""
    return any(same_place(place, one.corners_px) for one in readings)


def _merged(readings: Iterable[Reading]) -> list[Reading]:
    merged: list[Reading] = []
    for reading in readings:
        for place, one in enumerate(merged):
            if one.text == reading.text and same_place(one.corners_px, reading.corners_px):
                both = one.reader
                if reading.reader not in one.reader:
                    both = f"{one.reader} + {reading.reader}"
                merged[place] = replace(one, reader=both, agreeing=one.agreeing + 1)
                break
        else:
            merged.append(reading)
    return merged


def _differs(one: Reading, other: Reading) -> bool:
    return one.text != other.text and same_place(one.corners_px, other.corners_px)


def _apart(unread: Iterable[Corners], readings: list[Reading]) -> list[Corners]:
    """Unread places that hold no reading, each once."""
    kept: list[Corners] = []
    for place in unread:
        if is_read(place, readings) or any(same_place(place, other) for other in kept):
            continue
        if not any(is_inside(middle(one.corners_px), place) for one in readings):
            kept.append(place)
    return kept


def _top(corners_px: Corners) -> int:
    return min(y for _, y in corners_px)
