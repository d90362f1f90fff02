"""
Accuracy of measuring a board from a photo, on drawn photos with known truth.

``python -m tests.benchmarks.outline --json --photos 60`` tells numbers under stable keys for 60
pairs of photos; ``--bare`` adds bare boards for their holes, ``--bad`` the photos that must be
refused, ``--sides`` both sides of boards in one frame, and ``--sheet out.png`` draws pictures for
looking at instead. ``--so-far FILE`` is written anew after each pair, so that a stopped run
tells something too; ``--keep-in FOLDER`` keeps the drawn photos for the next run.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from tests.benchmarks.outline_run import (
    CALIBRATION_SEEDS,
    TEST_SEEDS,
    Photographed,
    Try,
    decode_cpu_s,
    enlarged,
    peak_memory_mb,
    try_bad,
    try_bare,
    try_case,
    try_sides,
)
from tests.benchmarks.outline_score import OutlineScore
from tests.benchmarks.outline_sheet import draw_sheet
from tests.benchmarks.photo_bad import BAD_KINDS, EYES_ONLY, MUST_REFUSE, make_bad
from tests.benchmarks.photo_scene import render
from tests.benchmarks.photo_shots import make_case

# Boards with holes are judged for holes where nothing hides them.
_HOLE_TILT_DEG = 20.0


def quantile(values: Iterable[float], share: float) -> float:
    """A quantile by linear interpolation; 0 of nothing."""
    ranked = sorted(values)
    if not ranked:
        return 0.0
    place = share * (len(ranked) - 1)
    low = int(place)
    high = min(low + 1, len(ranked) - 1)
    return ranked[low] + (place - low) * (ranked[high] - ranked[low])


def mean(values: Sequence[float]) -> float:
    """The mean; 0 of nothing."""
    return sum(values) / len(values) if values else 0.0


def summarize(tries: Sequence[Try]) -> dict[str, object]:
    """Figures of good photos."""
    scores = [one.score for one in tries if one.score]
    stages = {name for one in tries for name, _ in one.stages_s}
    by_stage = {
        name: [sum(s for n, s in one.stages_s if n == name) for one in tries if one.stages_s]
        for name in sorted(stages)
    }
    areas = [abs(score.area_error) for score in scores]
    refused = [one.refusal for one in tries if one.refusal]
    done = [one.seconds for one in tries if one.score]
    return {
        "photos": len(tries),
        "refused_good": len(refused),
        "refused_good_share": round(len(refused) / max(1, len(tries)), 3),
        "refused_good_why": {slug: refused.count(slug) for slug in sorted(set(refused))},
        "outline_mean_mm": round(mean([s.mean_mm for s in scores]), 4),
        "outline_mean_mm_worst": round(max((s.mean_mm for s in scores), default=0), 4),
        "outline_p95_mm": round(mean([s.p95_mm for s in scores]), 4),
        "outline_p95_mm_q95": round(quantile([s.p95_mm for s in scores], 0.95), 4),
        "outline_max_mm_median": round(quantile([s.max_mm for s in scores], 0.5), 4),
        "outline_max_mm_worst": round(max((s.max_mm for s in scores), default=0), 4),
        "area_error_percent": {
            name: round(100 * quantile(areas, share), 3)
            for name, share in (("q50", 0.5), ("q90", 0.9), ("q95", 0.95), ("max", 1.0))
        },
        "area_error_within_0.3_percent": round(mean([float(a <= 0.003) for a in areas]), 3),
        "area_error_within_1_percent": round(mean([float(a <= 0.01) for a in areas]), 3),
        **summarize_intervals(tries),
        "gross_errors_accepted": sum(score.is_gross for score in scores),
        "height_error_mm_rms": round(
            mean([t.height_error_mm**2 for t in tries if t.score]) ** 0.5, 3
        ),
        "seconds": {"median": round(quantile(done, 0.5), 2), "worst": round(max(done or [0]), 2)},
        "cpu_seconds": {
            "median": round(quantile([t.cpu_s for t in tries if t.score], 0.5), 2),
            "worst": round(max((t.cpu_s for t in tries if t.score), default=0), 2),
        },
        "cpu_seconds_by_stage": {
            name: round(quantile(times, 0.5), 3) for name, times in by_stage.items()
        },
    }


def summarize_intervals(tries: Sequence[Try]) -> dict[str, float]:
    """How often stated intervals hold the truth, and how much wider than the error they are."""
    told = [(one, one.score) for one in tries if one.score]
    wide = [one.interval_mm / score.p95_mm for one, score in told]
    wide_area = [one.area_half_share / max(1e-6, abs(score.area_error)) for one, score in told]
    return {
        "interval_mm_median": round(quantile([one.interval_mm for one, _ in told], 0.5), 3),
        "interval_over_p95_median": round(quantile(wide, 0.5), 2),
        "area_interval_over_error_median": round(quantile(wide_area, 0.5), 2),
        "interval_coverage_photos": round(mean([float(s.inside >= 0.95) for _, s in told]), 3),
        "interval_coverage_points": round(mean([s.inside for _, s in told]), 3),
        "area_interval_coverage": round(mean([float(s.area_inside) for _, s in told]), 3),
    }


def summarize_holes(scores: Sequence[OutlineScore]) -> dict[str, float | int]:
    """Figures of holes from 2.0 mm on bare boards."""
    true, found = sum(s.holes.true for s in scores), sum(s.holes.found for s in scores)
    false = sum(s.holes.false for s in scores)
    apart = [value for s in scores for value in s.holes.apart_mm]
    wider = [abs(value) for s in scores for value in s.holes.wider_mm]
    return {
        "boards": len(scores),
        "holes": true,
        "recall": round(found / max(1, true), 4),
        "precision": round(found / max(1, found + false), 4),
        "position_mm_q95": round(quantile(apart, 0.95), 3),
        "position_mm_max": round(max(apart, default=0), 3),
        "diameter_mm_q95": round(quantile(wider, 0.95), 3),
        "diameter_mm_max": round(max(wider, default=0), 3),
    }


def summarize_richness(tries: Sequence[Try]) -> dict[str, float | int]:
    """Figures of the hint where traces run densest."""
    scores = [one.richness for one in tries if one.richness]
    return {
        "maps": len(scores),
        "rank_correlation_median": round(quantile([s.rho for s in scores], 0.5), 3),
        "percentile_mean": round(mean([s.percentile for s in scores]), 1),
        "percentile_best_possible": round(mean([s.best_percentile for s in scores]), 1),
        "yield_share_mean": round(mean([s.yield_share for s in scores]), 3),
    }


def run_good(arguments: argparse.Namespace) -> dict[str, object]:
    """Measure good photos."""
    done: list[Photographed] = []
    for seed in range(arguments.seed, arguments.seed + arguments.photos):
        case = try_case(
            seed,
            megapixels=arguments.megapixels,
            ruler_sd_mm=arguments.ruler_sd_mm,
            told_thickness=arguments.told_thickness,
            keep_in=arguments.keep_in,
        )
        done.append(case)
        if arguments.verbose:
            print(_line_of(case), file=sys.stderr, flush=True)
        if arguments.so_far:
            arguments.so_far.write_text(json.dumps(summarize_good(done), indent=2) + "\n")
    sample = make_case(arguments.seed, megapixels=arguments.megapixels)
    photo = render(sample.scene, sample.first)
    return {
        **summarize_good(done),
        "decode_alone_cpu_seconds": round(min(decode_cpu_s(photo) for _ in range(3)), 3),
        "peak_memory_mb": round(peak_memory_mb(photo)),
        "peak_memory_mb_four_times_the_pixels": round(peak_memory_mb(enlarged(photo, times=2))),
    }


def summarize_good(done: Sequence[Photographed]) -> dict[str, object]:
    """Figures of pairs of good photos."""
    holes = [
        case.two.score
        for case in done
        if case.two.score and case.is_bare and case.tilt_deg <= _HOLE_TILT_DEG
    ]
    return {
        "pairs": len(done),
        "one_photo": summarize([case.one for case in done]),
        "two_photos": summarize([case.two for case in done]),
        "holes": summarize_holes(holes),
        "richness_bare": summarize_richness([case.two for case in done if case.is_bare]),
        "richness_populated": summarize_richness([c.two for c in done if not c.is_bare]),
    }


def run_bare(arguments: argparse.Namespace) -> dict[str, float | int]:
    """Measure bare boards for their holes."""
    seeds = range(arguments.seed, arguments.seed + arguments.bare)
    tried = [try_bare(seed, megapixels=arguments.megapixels) for seed in seeds]
    told = summarize_holes([one.score for one in tried if one.score])
    return {**told, "refused": sum(bool(one.refusal) for one in tried)}


def _line_of(case: Photographed) -> str:
    words = [f"{case.seed} {case.board.layout.shape}/{case.board.layout.mask}"]
    words.append(f"{'bare' if case.is_bare else 'parts'} tilt {case.tilt_deg:.0f}")
    for name, tried in (("one", case.one), ("two", case.two)):
        if tried.score:
            s = tried.score
            words.append(
                f"{name}: mean {s.mean_mm:.3f} p95 {s.p95_mm:.3f} max {s.max_mm:.2f} "
                f"area {s.area_error:+.2%} +-{tried.interval_mm:.2f} in {s.inside:.2f}"
                f"{'' if s.area_inside else ' AREA OUT'} h {tried.height_error_mm:+.2f} "
                f"holes {s.holes.found}/{s.holes.true}+{s.holes.false} {tried.seconds:.1f}s"
            )
        else:
            words.append(f"{name}: refused {tried.refusal}")
    if case.two.richness:
        words.append(f"rho {case.two.richness.rho:.2f} pct {case.two.richness.percentile:.0f}")
    return " | ".join(words)


def run_bad(arguments: argparse.Namespace) -> dict[str, object]:
    """Measure what should be refused, each kind from several seeds."""
    by_kind: dict[str, list[str]] = {}
    gross: list[str] = []
    wrongly_taken: list[str] = []
    counted = 0
    for place, (kind, wanted) in enumerate(BAD_KINDS.items()):
        by_kind[kind] = []
        for again in range(arguments.bad):
            seed = arguments.seed + place + 100 * again
            tried = try_bad(make_bad(kind, seed, megapixels=arguments.megapixels))
            score = tried.score
            told = tried.refusal or "accepted"
            if score:
                told += f", max {score.max_mm:.2f} mm, area {score.area_error:+.2%}"
            by_kind[kind].append(told)
            is_gross = not tried.refusal and (score is None or score.is_gross)
            gross += [f"{kind} {seed}"] if is_gross and wanted != EYES_ONLY else []
            counted += wanted == MUST_REFUSE
            if wanted == MUST_REFUSE and not tried.refusal:
                wrongly_taken.append(f"{kind} {seed}")
            if arguments.verbose:
                print(f"{kind} {seed} ({wanted}): {told}", file=sys.stderr, flush=True)
    return {
        "kinds": len(BAD_KINDS),
        "kinds_that_must_be_refused": sum(want == MUST_REFUSE for want in BAD_KINDS.values()),
        "must_refuse": counted,
        "refused_bad_share": round(1 - len(wrongly_taken) / max(1, counted), 3),
        "accepted_that_must_be_refused": wrongly_taken,
        "gross_errors_accepted": gross,
        "by_kind": by_kind,
    }


def run_sides(arguments: argparse.Namespace) -> dict[str, object]:
    """Register fronts and backs."""
    seeds = range(arguments.seed, arguments.seed + arguments.sides)
    tried = [try_sides(seed, megapixels=arguments.megapixels) for seed in seeds]
    errors = [float(one["error_mm"]) for one in tried if "error_mm" in one]
    certain = [one for one in tried if one.get("places") == 1]
    return {
        "boards": len(tried),
        "registered": len(errors),
        "asked": len(errors) - len(certain),
        "error_mm_median": round(quantile(errors, 0.5), 3),
        "error_mm_max": round(max(errors, default=0), 3),
        "residual_mm_max": max((float(one.get("residual_mm", 0)) for one in tried), default=0),
        "each": tried,
    }


def parse_arguments(words: Sequence[str] | None = None) -> argparse.Namespace:
    """The benchmark's own command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print JSON with stable keys")
    parser.add_argument("--photos", type=int, default=12, help="pairs of good photos to measure")
    parser.add_argument("--seed", type=int, default=TEST_SEEDS.start, help="first seed")
    parser.add_argument(
        "--calibrate", action="store_true", help="use the seeds for setting factors"
    )
    parser.add_argument("--megapixels", type=int, choices=(3, 12), default=12)
    parser.add_argument("--ruler-sd-mm", type=float, default=0.0, help="error of reading a bar")
    parser.add_argument(
        "--told-thickness", action="store_true", help="the board's thickness is known"
    )
    parser.add_argument("--bare", type=int, default=0, help="bare boards to look for holes in")
    parser.add_argument(
        "--bad",
        type=int,
        nargs="?",
        const=1,
        default=0,
        help="also the photos to be refused, of so many seeds for each kind",
    )
    parser.add_argument("--sides", type=int, default=0, help="boards to photograph on both sides")
    parser.add_argument("--sheet", type=Path, help="draw pictures for looking at into this PNG")
    parser.add_argument("--keep-in", type=Path, help="folder for drawn photos")
    parser.add_argument("--so-far", type=Path, help="file for the figures after each pair")
    parser.add_argument("--verbose", action="store_true", help="a line for each photo")
    arguments = parser.parse_args(words)
    if arguments.calibrate:
        arguments.seed = CALIBRATION_SEEDS.start
    return arguments


def main(words: Sequence[str] | None = None) -> None:
    """Run what was asked for and print it."""
    arguments = parse_arguments(words)
    if arguments.sheet:
        seeds = range(arguments.seed, arguments.seed + arguments.photos)
        arguments.sheet.write_bytes(draw_sheet(seeds, megapixels=arguments.megapixels))
        return
    result: dict[str, object] = {
        "benchmark": "outline",
        "first_seed": arguments.seed,
        "megapixels": arguments.megapixels,
        "ruler_sd_mm": arguments.ruler_sd_mm,
        "told_thickness": arguments.told_thickness,
        "good": run_good(arguments) if arguments.photos else {},
    }
    if arguments.bare:
        result["bare"] = run_bare(arguments)
    if arguments.bad:
        result["bad"] = run_bad(arguments)
    if arguments.sides:
        result["sides"] = run_sides(arguments)
    print(json.dumps(result, indent=None if arguments.json else 2))


if __name__ == "__main__":
    main()
