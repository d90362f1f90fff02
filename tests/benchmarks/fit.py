"""
Measure "fits here?": speed, false answers, and what other methods find.

Run ``python -m tests.benchmarks.fit --json``. Times are processor time of one thread, as the
machine may be busy. Every fit is checked with the library's distance alone; every no and every
tight answer that the plain measures did not give is searched again by correlation, a part of them
exhaustively.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from shapely import Polygon, union_all

from salvage.geometry.filling import count_fits
from salvage.geometry.fit import FitAnswer, fit
from salvage.geometry.ground import COARSE_MM, Ground
from salvage.geometry.outline import scale_to, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.preference import Whole
from salvage.geometry.probes import probe_shape
from salvage.geometry.spot import with_room
from salvage.geometry.spots import find_spots
from salvage.records.region import Region
from tests.benchmarks.boards import KERF_MM, SHAPES, MadeBoard, make_board
from tests.benchmarks.correlation import correlate, is_clear

CLEARANCE_MM = 0.5
SPARE_MM = 0.5
QUICK = ("no circle as large", "its area is", "it is wider")


@dataclass(frozen=True, slots=True)
class Pair:
    """A question, its answer, and what it took."""

    board: MadeBoard
    ground: Ground
    shape: Region
    answer: FitAnswer
    cpu_ms: float
    board_ms: float


def ask(shape: Region, ground: Ground, *, clearance_mm: float) -> tuple[FitAnswer, float]:
    """The answer and its processor time in milliseconds; the shape is prepared before."""
    probe_shape(shape)
    begun = time.process_time()
    answer = fit(shape, ground, clearance_mm=clearance_mm)
    return answer, (time.process_time() - begun) * 1000


def trade_pairs(count: int, seed: int) -> list[Pair]:
    """Each shape on each of many boards."""
    pairs: list[Pair] = []
    number = 0
    while len(pairs) < count:
        board, ground, board_ms = _prepared(seed * 1_000_000 + number)
        for shape in list(SHAPES.values())[: count - len(pairs)]:
            answer, cpu_ms = ask(shape, ground, clearance_mm=CLEARANCE_MM)
            pairs.append(Pair(board, ground, shape, answer, cpu_ms, board_ms))
        number += 1
    return pairs


def near_pairs(count: int, seed: int) -> list[Pair]:
    """Shapes scaled to the largest circle of the board: about as large as just fits."""
    rng = random.Random(f"near {seed}")
    pairs: list[Pair] = []
    number = 0
    while len(pairs) < count:
        board, ground, board_ms = _prepared(seed * 1_000_000 + 500_000 + number)
        number += 1
        if not ground.parts or ground.parts[0].inscribed_mm < 6:
            continue
        for plain in rng.sample([s for n, s in SHAPES.items() if "round " not in n], 4):
            wanted = ground.parts[0].inscribed_mm * rng.uniform(0.75, 1.0)
            width = plain.size_mm[0] * wanted / probe_shape(plain).inscribed_mm
            shape = scale_to(plain, width_mm=round(min(width, 400.0), 2))
            answer, cpu_ms = ask(shape, ground, clearance_mm=CLEARANCE_MM)
            pairs.append(Pair(board, ground, shape, answer, cpu_ms, board_ms))
    return pairs[:count]


def planted(count: int, seed: int) -> dict[str, float]:
    """Used-up ground with one hidden slot, half a millimetre wider all round than asked for."""
    rng = random.Random(f"planted {seed}")
    found = 0
    for number in range(count):
        board = make_board(seed * 1_000_000 + 700_001 + 2 * number)
        shape = rng.choice([s for n, s in SHAPES.items() if n != "round 75"])
        spot = Placement(rng.randrange(200_000), rng.randrange(150_000), rng.randrange(360_000))
        slot = with_room(to_polygon(place(shape, spot)), CLEARANCE_MM + SPARE_MM)
        moat = slot.buffer(3)
        ground = Ground(union_all([board.ground().area.difference(moat), slot]))
        answer, _ = ask(shape, ground, clearance_mm=CLEARANCE_MM)
        found += answer.verdict == "fit"
    return {"planted_pairs": count, "planted_found": found}


def _prepared(number: int) -> tuple[MadeBoard, Ground, float]:
    board = make_board(number)
    ground = board.ground()
    begun = time.process_time()
    if ground.parts:
        ground.distance_map(COARSE_MM)
    return board, ground, (time.process_time() - begun) * 1000


def summary(pairs: list[Pair]) -> dict[str, float]:
    """Counts and times of a set of pairs."""
    times = np.array([pair.cpu_ms for pair in pairs])
    verdicts = [pair.answer.verdict for pair in pairs]
    return {
        "pairs": len(pairs),
        "fits": verdicts.count("fit"),
        "noes": verdicts.count("no"),
        "tight": verdicts.count("tight"),
        "tight_percent": round(100 * verdicts.count("tight") / len(pairs), 3),
        "median_ms": round(float(np.median(times)), 3),
        "mean_ms": round(float(times.mean()), 3),
        "p99_ms": round(float(np.percentile(times, 99)), 3),
        "max_ms": round(float(times.max()), 3),
        "board_ms_median": round(float(np.median([pair.board_ms for pair in pairs])), 3),
        "p99_with_board_ms": round(
            float(np.percentile([pair.cpu_ms + pair.board_ms for pair in pairs], 99)), 3
        ),
    }


def judge(pairs: list[Pair], *, exhaustive: int) -> dict[str, float]:
    """False fits, wrong noes and missed fits with room to spare, by other methods."""
    false_fits = sum(
        not is_clear(spot, pair.board, kerf_mm=KERF_MM, clearance_mm=CLEARANCE_MM)
        for pair in pairs
        for spot in pair.answer.spots
    )
    searched = [p for p in pairs if not p.answer.spots and not p.answer.reason.startswith(QUICK)]
    quick = [p for p in pairs if p.answer.reason.startswith(QUICK)]
    wrong_no = tight_that_fit = spare_missed = deep = 0
    for pair in searched:
        found = _correlated(pair, CLEARANCE_MM, step_mm=0.5, angles=72)
        if not found and pair.answer.verdict == "no" and deep < exhaustive:
            deep += 1
            found = _correlated(pair, CLEARANCE_MM, step_mm=0.25, angles=144)
        wrong_no += found and pair.answer.verdict == "no"
        tight_that_fit += found and pair.answer.verdict == "tight"
        spare_missed += found and _correlated(pair, CLEARANCE_MM + SPARE_MM, step_mm=0.5, angles=72)
    for pair in quick[:: max(1, len(quick) // 60)]:
        wrong_no += _correlated(pair, CLEARANCE_MM, step_mm=0.5, angles=36)
    with_spare = _fits_with_spare(pairs)
    return {
        "false_fits": false_fits,
        "wrong_no": wrong_no,
        "noes_and_tight_searched_by_correlation": len(searched),
        "noes_searched_exhaustively": deep,
        "tight_that_fit": tight_that_fit,
        "fits_with_spare": with_spare + spare_missed,
        "fits_with_spare_found": with_spare,
        "recall_with_spare_percent": round(100 * with_spare / max(1, with_spare + spare_missed), 3),
    }


def _fits_with_spare(pairs: list[Pair]) -> int:
    """Pairs found to fit that also fit with half a millimetre more all round."""
    return sum(
        pair.answer.verdict == "fit"
        and fit(pair.shape, pair.ground, clearance_mm=CLEARANCE_MM + SPARE_MM).verdict == "fit"
        for pair in pairs
    )


def _correlated(pair: Pair, clearance_mm: float, *, step_mm: float, angles: int) -> bool:
    return correlate(
        _shape_with_room(pair.shape, clearance_mm),
        pair.ground.area,
        step_mm=step_mm,
        angles=angles,
    ).fits


def _shape_with_room(shape: Region, clearance_mm: float) -> Polygon:
    grown = to_polygon(shape).buffer(clearance_mm, quad_segs=16)
    assert isinstance(grown, Polygon)
    return grown


def baselines(pairs: list[Pair], *, most: int) -> dict[str, dict[str, float]]:
    """The same pairs by correlation, and a few of them exhaustively; only those not plain."""
    open_pairs = [p for p in pairs if "circle" not in p.answer.reason][:most]
    ways = (("fft_0.5mm_72", 0.5, 72, most), ("exhaustive_0.25mm_144", 0.25, 144, most // 6))
    result: dict[str, dict[str, float]] = {}
    for name, step_mm, angles, count in ways:
        chosen = open_pairs[:count]
        begun = time.process_time()
        fits = [_correlated(pair, CLEARANCE_MM, step_mm=step_mm, angles=angles) for pair in chosen]
        took = (time.process_time() - begun) * 1000
        ours = [pair.answer.verdict == "fit" for pair in chosen]
        result[name] = {
            "pairs": len(chosen),
            "fits_found": sum(fits),
            "ms_per_pair": round(took / max(1, len(chosen)), 2),
            "engine_fits_found": sum(ours),
            "engine_ms_per_pair": round(float(np.mean([p.cpu_ms for p in chosen])), 2),
            "found_by_it_only": sum(f and not o for f, o in zip(fits, ours, strict=True)),
        }
    return result


def one_board(seed: int) -> dict[str, float]:
    """What a maker waits for who asks about one fresh 305 x 244 mm board, the slowest shape."""
    ground = next(
        board.ground()
        for board in (make_board(seed * 1_000_000 + 2 * n) for n in range(1000))
        if board.outline.size_mm == (305.0, 244.0)
    )
    fit_ms, spots_ms, count_ms = [], [], []
    for shape in SHAPES.values():
        fit_ms.append(ask(shape, ground, clearance_mm=CLEARANCE_MM)[1])
        begun = time.process_time()
        find_spots(shape, ground, clearance_mm=CLEARANCE_MM, most=5, prefer=Whole(KERF_MM))
        spots_ms.append((time.process_time() - begun) * 1000)
        begun = time.process_time()
        count_fits(shape, ground, kerf_mm=KERF_MM, clearance_mm=CLEARANCE_MM, mirrored_allowed=True)
        count_ms.append((time.process_time() - begun) * 1000)
    together = np.array([fit_ms, spots_ms, count_ms]).sum(axis=0)
    return {
        "shapes": len(SHAPES),
        "fit_ms_max": round(max(fit_ms), 1),
        "spots_ms_max": round(max(spots_ms), 1),
        "count_ms_max": round(max(count_ms), 1),
        "all_three_ms_median": round(float(np.median(together)), 1),
        "all_three_ms_max": round(float(together.max()), 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--pairs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--baseline-pairs", type=int, default=30)
    parser.add_argument("--exhaustive", type=int, default=4)
    parser.add_argument("--part-file", default="", help="write each part as soon as it is known")
    chosen = parser.parse_args()
    cv2.setNumThreads(1)
    report: dict[str, object] = {"seed": chosen.seed, "clearance_mm": CLEARANCE_MM}

    def note(part: str, values: object) -> None:
        report[part] = values
        print(part, "done", file=sys.stderr, flush=True)
        if chosen.part_file:
            Path(chosen.part_file).write_text(json.dumps(report, indent=1), encoding="utf-8")

    pairs = trade_pairs(chosen.pairs, chosen.seed)
    note("trade", summary(pairs))
    near = near_pairs(max(1, chosen.pairs // 10), chosen.seed)
    note("near_the_limit", summary(near))
    note("planted", planted(max(1, chosen.pairs // 10), chosen.seed))
    note("one_board", one_board(chosen.seed))
    note("trade_judged", judge(pairs, exhaustive=chosen.exhaustive))
    note("near_the_limit_judged", judge(near, exhaustive=chosen.exhaustive))
    note("baselines", baselines(pairs, most=chosen.baseline_pairs))
    if chosen.json:
        print(json.dumps(report, indent=1))
        return
    for part, values in report.items():
        print(part, values)


if __name__ == "__main__":
    main()
