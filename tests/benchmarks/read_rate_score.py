"""How one picture of the read-rate benchmark is read, and how many pictures make a table."""

from __future__ import annotations

import math
import statistics
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from salvage.codes.cascade import read_pixels
from salvage.codes.payload import unwrap
from salvage.codes.read import read_picture
from salvage.codes.reading import is_inside, middle
from salvage.codes.zbar import second_reader
from salvage.codes.zxing import see_with_zxing
from tests.benchmarks.read_rate_paint import Raster
from tests.benchmarks.read_rate_set import Cell, Truth, photo_bytes

Record = dict[str, Any]  # one picture's outcome, as JSON takes it

ENGINES = ("zxing", "zbar", "opencv", "cascade")
LIT = ("clean", "tilt 25-35", "tilt 45-50", "jpeg 25", "light on dark")
POOR = ("motion blur", "defocus", "low light", "mixed")
SPOILT = ("dirt", "glare")


def score(cell: Cell, picture: Raster, truths: Sequence[Truth], *, third: bool) -> Record:
    """
    One picture read by each engine alone and by the cascade.

    Args:
        cell: What it is.
        picture: Gray.
        truths: The labels in it.
        third: Also read it with OpenCV's own reader, for QR codes.
    """
    codes = {truth.code for truth in truths}
    whole = photo_bytes(picture) if cell.group == "photo" else b""
    start, child_start = time.process_time(), second_reader().spent_ms
    told = read_picture(whole) if whole else read_pixels(picture, second_reader())
    spent = (time.process_time() - start) * 1000 + second_reader().spent_ms - child_start
    seen = {"cascade": {str(one.code) for one in told.codes}}
    start = time.process_time()
    seen["zxing"] = {unwrap(one.text) for one in see_with_zxing(picture)[0]}
    zxing_ms = (time.process_time() - start) * 1000
    seen["zbar"] = {unwrap(one.text) for one in second_reader().see(picture)}
    if third:
        seen["opencv"] = _see_with_opencv(picture)
    return {
        "key": cell.key,
        "group": cell.group,
        "condition": cell.condition,
        "optics": cell.optics,
        "labels": [[t.code, t.design, round(t.module_px, 2)] for t in truths],
        "read": {name: sorted(codes & found) for name, found in seen.items()},
        "wrong": sorted(seen["cascade"] - codes),
        "steps": {str(one.code): f"{one.reader}: {one.step}" for one in told.codes},
        "misplaced": _misplaced(told.codes, truths),
        "doubtful": len(told.doubtful),
        "unread_told": len(told.unread),
        "told_falsely": sum(not _is_near(rim, truths) for rim in told.unread),
        "ms": round(spent, 2),
        "zxing_ms": round(zxing_ms, 2),
    }


def _see_with_opencv(picture: Raster) -> set[str]:
    import cv2

    _, texts, _, _ = cv2.QRCodeDetector().detectAndDecodeMulti(picture)
    return {unwrap(text) for text in texts if text}


def _misplaced(codes: Iterable[Any], truths: Sequence[Truth]) -> int:
    """Codes whose told middle does not lie in their true symbol."""
    rims = {truth.code: tuple(map(tuple, truth.corners_px)) for truth in truths}
    return sum(
        one.code in rims and not is_inside(middle(one.corners_px), rims[one.code]) for one in codes
    )


def _is_near(rim: tuple[tuple[int, int], ...], truths: Sequence[Truth]) -> bool:
    x, y = middle(rim)
    for truth in truths:
        low, high = truth.corners_px.min(axis=0), truth.corners_px.max(axis=0)
        room = (high - low).max()
        if np.all(low - room < (x, y)) and np.all((x, y) < high + room):
            return True
    return False


def wilson(hits: int, count: int) -> tuple[float, float]:
    """
    The 95 % interval of a share (Wilson, 1927), in percent.

    >>> wilson(0, 10_000)
    (0.0, 0.04)
    """
    if not count:
        return 0.0, 100.0
    z = 1.959964
    share, under = hits / count, 1 + z * z / count
    centre = (share + z * z / (2 * count)) / under
    reach = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count)) / under
    return round(100 * max(0.0, centre - reach), 2), round(100 * min(1.0, centre + reach), 2)


def rate(records: Iterable[Record], engine: str, wanted: Callable[[str, float], bool]) -> Record:
    """
    Share of the labels that an engine read.

    Args:
        records: Pictures.
        engine: One of :data:`ENGINES`.
        wanted: Whether a label of a design, at some pixels per module, counts.
    """
    hits = count = 0
    for record in records:
        if engine in record["read"]:
            for code, design, module in record["labels"]:
                if wanted(design, module):
                    count += 1
                    hits += code in record["read"][engine]
    low, high = wilson(hits, count)
    percent = round(100 * hits / count, 2) if count else None
    return {"labels": count, "read": hits, "percent": percent, "interval": [low, high]}


def square(least_px: float) -> Callable[[str, float], bool]:
    """Square symbols of at least so many pixels per module."""
    return lambda design, module: design != "code128" and module >= least_px


def bars(least_px: float) -> Callable[[str, float], bool]:
    """Code 128 of at least so many pixels per module."""
    return lambda design, module: design == "code128" and module >= least_px


def summary(records: Sequence[Record]) -> Record:
    """The table of the benchmark, under stable keys."""
    crops = [record for record in records if record["group"] == "crop"]
    sheets = [one for one in records if one["condition"] == "sheet" and one["optics"] == "12 MP"]
    photos = [one for one in records if one["group"] == "photo" and one["optics"] == "12 MP"]

    def of(names: Sequence[str], wanted: Callable[[str, float], bool]) -> Record:
        chosen = [record for record in crops if record["condition"] in names]
        return {engine: rate(chosen, engine, wanted) for engine in ENGINES}

    everything = [record for record in records if record["group"] != "photo"]
    wrong = [[record["key"], record["wrong"]] for record in records if record["wrong"]]
    return {
        "pictures": len(records),
        "negatives": sum(record["group"] == "negative" for record in records),
        "wrong_accepted": {
            "count": len(wrong),
            "interval_percent": wilson(len(wrong), len(records)),
            "which": wrong,
        },
        "targets": {
            "good_light_2d_3px": of(LIT, square(3)),
            "poor_light_2d_5px": of((*LIT, *POOR), square(5)),
            "poor_light_2d_3px": of((*LIT, *POOR), square(3)),
            "poor_light_only_2d_5px": of(POOR, square(5)),
            "poor_light_only_2d_3px": of(POOR, square(3)),
            "dirt_and_glare_2d_3px": of(SPOILT, square(3)),
            "code128_good_light_2px": of(LIT, bars(2)),
            "code128_good_light_dark_on_light_2px": of(LIT[:4], bars(2)),
            "sheet_24_12mp": {e: rate(sheets, e, square(0)) for e in ENGINES},
        },
        "by_condition": {
            name: {"2d_3px": of([name], square(3)), "code128_2px": of([name], bars(2))}
            for name in (*LIT, *POOR, *SPOILT)
        },
        "by_module_px": {
            f"{low}-{high}": of((*LIT, *POOR, *SPOILT), _between(low, high))
            for low, high in ((0, 2), (2, 3), (3, 4), (4, 5), (5, 7), (7, 99))
        },
        "cpu_ms": {
            "crop_cascade": _times(everything, "ms"),
            "crop_zxing": _times(everything, "zxing_ms"),
            "photo_12mp_cascade_with_jpeg": _times(photos, "ms"),
            "photo_12mp_zxing": _times(photos, "zxing_ms"),
        },
        "steps": _steps(records),
        "misplaced": sum(record["misplaced"] for record in records),
        "labels_told_unread_where_none_is": sum(record["told_falsely"] for record in records),
        "photos": _photos(records),
    }


def _photos(records: Sequence[Record]) -> Record:
    """Labels read in whole photos, by kind and optics."""
    rows: Record = {}
    for kind in ("eight", "sheet"):
        for optics in ("12 MP", "3 MP"):
            chosen = [r for r in records if (r["condition"], r["optics"]) == (kind, optics)]
            rows[f"{kind} {optics}"] = {e: rate(chosen, e, square(0)) for e in ENGINES}
            rows[f"{kind} {optics} bars"] = {e: rate(chosen, e, bars(0)) for e in ENGINES}
    return rows


def _between(low: float, high: float) -> Callable[[str, float], bool]:
    return lambda design, module: design != "code128" and low <= module < high


def _times(records: Sequence[Record], field: str) -> Record:
    times = sorted(record[field] for record in records)
    if not times:
        return {"pictures": 0, "median": None, "p95": None}
    p95 = times[min(len(times) - 1, math.ceil(0.95 * len(times)) - 1)]
    return {"pictures": len(times), "median": round(statistics.median(times), 1), "p95": p95}


def _steps(records: Sequence[Record]) -> dict[str, int]:
    """How many codes each step gave."""
    counts: dict[str, int] = defaultdict(int)
    for record in records:
        for step in record["steps"].values():
            counts[step] += 1
    return dict(sorted(counts.items(), key=lambda item: -item[1]))
