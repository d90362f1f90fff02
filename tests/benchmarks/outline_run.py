"""
Measuring of drawn photos, one after the other, with all that is to be told of each.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.errors import SalvageError
from salvage.photo.measure.mat import PrintScale, standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.register import register_back
from salvage.photo.richness import richness_map
from tests.benchmarks.outline_score import OutlineScore, align, judge_outline
from tests.benchmarks.photo_bad import BadPhoto
from tests.benchmarks.photo_layout import make_layout
from tests.benchmarks.photo_paint import true_density
from tests.benchmarks.photo_scene import Placed, Scene, render
from tests.benchmarks.photo_shots import Case, make_case
from tests.benchmarks.richness_score import RichnessScore, judge_richness

if TYPE_CHECKING:
    from salvage.photo.measure.result import Measurement

CALIBRATION_SEEDS = range(1_000, 5_000)
"""For setting factors; never for telling numbers."""

TEST_SEEDS = range(5_000, 9_000)
"""For telling numbers; never for setting factors."""

_RULER_MM = 200.0

# The system's own record of this process: getrusage would count the parent's peak in.
_PEAK = """
import sys
from salvage.photo.measure.mat import standard_mat
from salvage.photo.measure.measuring import measure_photo
measure_photo(sys.stdin.buffer.read(), mats=[standard_mat("a4")])
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


@dataclass(frozen=True, slots=True)
class Try:
    """
    One attempt to measure.

    Args:
        refusal: Slug or first words of why not; empty if measured.
        score: How far off it was, if measured.
        height_error_mm: Of the upper face, if measured.
        richness: How good the hint was, if measured and asked for.
        seconds: Of the whole call, by the clock on the wall.
        cpu_s: Of the processor, both cores added, which a busy machine does not lengthen.
        stages_s: Of its stages, by the processor.
        interval_mm: Stated for points of the outline.
        area_half_share: Half the stated interval of the area, as a share of the area.
    """

    refusal: str
    score: OutlineScore | None = None
    height_error_mm: float = 0.0
    richness: RichnessScore | None = None
    seconds: float = 0.0
    cpu_s: float = 0.0
    stages_s: tuple[tuple[str, float], ...] = ()
    interval_mm: float = 0.0
    area_half_share: float = 0.0


@dataclass(frozen=True, slots=True)
class Photographed:
    """One case, tried with its first photo alone and with both."""

    seed: int
    board: Placed
    tilt_deg: float
    one: Try
    two: Try

    @property
    def is_bare(self) -> bool:
        """Whether all parts are off."""
        return not self.board.layout.parts


def told_scale(case: Case, *, ruler_sd_mm: float) -> PrintScale:
    """What a maker reads on the printed bars with a ruler."""
    dice = random.Random(f"ruler {case.seed}")
    x, y = (true + dice.gauss(0, ruler_sd_mm) / _RULER_MM for true in case.scene.print_scale)
    return PrintScale(x, y)


def drawn_photos(case: Case, keep_in: Path | None) -> tuple[bytes, bytes]:
    """
    Both photos of a case.

    Args:
        case: The case.
        keep_in: Folder of photos that were drawn before; one that is missing is drawn and kept.
    """
    if keep_in is None:
        return case.photos()
    width = case.first.camera.size_px[0]
    places = [keep_in / f"{case.seed}-{width}-{number}.jpg" for number in (1, 2)]
    if not all(place.exists() for place in places):
        keep_in.mkdir(parents=True, exist_ok=True)
        for place, photo in zip(places, case.photos(), strict=True):
            place.write_bytes(photo)
    return places[0].read_bytes(), places[1].read_bytes()


def try_case(
    seed: int,
    *,
    megapixels: int,
    ruler_sd_mm: float,
    told_thickness: bool = False,
    keep_in: Path | None = None,
) -> Photographed:
    """
    Photograph a board and measure it.

    Args:
        seed: Of the case.
        megapixels: Of the photos.
        ruler_sd_mm: Error of reading a printed bar of 200 mm.
        told_thickness: Whether the maker laid calipers on the board.
        keep_in: Folder for photos, which take longer to draw than to measure.
    """
    case = make_case(seed, megapixels=megapixels)
    first, second = drawn_photos(case, keep_in)
    scale = told_scale(case, ruler_sd_mm=ruler_sd_mm)
    thick = case.board.layout.thickness_mm if told_thickness else None
    one = try_photo(first, None, case.board, scale, thickness_mm=thick)
    two = try_photo(first, second, case.board, scale, thickness_mm=thick, with_richness=True)
    return Photographed(seed, case.board, case.first.camera.tilt_deg, one, two)


def try_bare(seed: int, *, megapixels: int) -> Try:
    """
    Photograph a bare board once, leaning 20 degrees at most, with its height known, for its holes.

    Args:
        seed: Of the case.
        megapixels: Of the photo.
    """
    dice = random.Random(f"bare {seed}")
    layout = make_layout(seed, populated=False)
    tilt = dice.uniform(0, 20)
    case = make_case(seed, megapixels=megapixels, tilt_deg=tilt, layout=layout)
    return try_photo(
        render(case.scene, case.first),
        None,
        case.board,
        told_scale(case, ruler_sd_mm=0.0),
        thickness_mm=layout.thickness_mm,
        standoff_mm=case.board.stand_off_mm,
    )


def try_photo(
    first: bytes,
    second: bytes | None,
    board: Placed | None,
    scale: PrintScale | None,
    *,
    thickness_mm: float | None = None,
    standoff_mm: float | None = None,
    with_richness: bool = False,
) -> Try:
    """Measure one photo, or two, and compare with the truth if there is one."""
    start, start_cpu = time.perf_counter(), time.process_time()
    try:
        found = measure_photo(
            first,
            mats=[standard_mat("a4")],
            thickness_mm=thickness_mm,
            standoff_mm=standoff_mm,
            second_photo=second,
            print_scale=scale,
            clock=time.process_time,
        )
    except SalvageError as told:
        slug = told.reason if isinstance(told, PhotoRefused) else type(told).__name__
        return Try(slug, seconds=time.perf_counter() - start)
    seconds, cpu = time.perf_counter() - start, time.process_time() - start_cpu
    if board is None:
        return Try("", seconds=seconds, cpu_s=cpu)
    low, high = found.area_interval_mm2
    return Try(
        "",
        judge_outline(found, board),
        found.height.upper_mm - board.top_mm,
        _try_richness(found, board) if with_richness else None,
        seconds,
        cpu,
        found.timings_s,
        found.interval_mm,
        (high - low) / 2 / found.area_mm2,
    )


def _try_richness(found: Measurement, board: Placed) -> RichnessScore:
    """The hint judged in the measured frame, to which the true map is turned."""
    import cv2
    import numpy as np

    hint = richness_map(
        found.squared_png, px_per_mm=found.pictures.squared_px_per_mm, outline=found.outline
    )
    density, share = true_density(board.layout)
    x, y = np.meshgrid(np.arange(hint.columns), np.arange(hint.rows))
    places = np.column_stack((x.ravel() + 0.5, hint.rows - y.ravel() - 0.5)) / 2
    there = align(found, board)(places).astype(np.float32)
    columns = (2 * there[:, 0] - 0.5).reshape(x.shape)
    rows = (density.shape[0] - 2 * there[:, 1] - 0.5).reshape(x.shape)
    turned = [
        cv2.remap(grid.astype(np.float32), columns, rows, cv2.INTER_LINEAR)
        for grid in (density, share)
    ]
    return judge_richness(hint, turned[0], turned[1])


def try_bad(bad: BadPhoto) -> Try:
    """Measure what should be refused."""
    return try_photo(bad.first, bad.second, bad.board, PrintScale())


def try_sides(seed: int, *, megapixels: int) -> dict[str, float | int | str]:
    """Measure both sides of a board, register them, and tell how far places then disagree."""
    import numpy as np

    case = make_case(seed, megapixels=megapixels)
    scale = PrintScale(*case.scene.print_scale)
    other = make_case(seed + 100_000, megapixels=megapixels, layout=case.board.layout.back())
    back_scene: Scene = replace(other.scene, print_scale=case.scene.print_scale)
    try:
        first, second = case.photos()
        mats = [standard_mat("a4")]
        front = measure_photo(first, mats=mats, second_photo=second, print_scale=scale)
        third, fourth = render(back_scene, other.first), render(back_scene, other.second)
        back = measure_photo(third, mats=mats, second_photo=fourth, print_scale=scale)
        found = register_back(front.outline, back.outline)
    except SalvageError as told:
        return {"seed": seed, "refused": str(told)[:90]}
    width, height = case.board.layout.size_mm
    truth = np.array([(x, y) for x in (0, width / 2, width) for y in (0, height / 2, height)])
    on_back = align(back, other.board).back(np.column_stack((width - truth[:, 0], truth[:, 1])))
    on_front = align(front, case.board).back(truth)
    errors = [
        float(np.hypot(*(np.array([place.to_front(*at) for at in on_back]) - on_front).T).max())
        for place in found.places
    ]
    best = found.places[0]
    return {
        "seed": seed,
        "places": len(found.places),
        "residual_mm": round(best.residual_mm, 3),
        "error_mm": round(min(errors) if len(errors) > 1 else errors[0], 3),
        "holes": best.holes,
        "matched": best.matched_holes,
    }


def decode_cpu_s(photo: bytes) -> float:
    """Processor seconds of decoding a photo and nothing else: what this machine does meanwhile."""
    from PIL import Image

    start = time.process_time()
    with Image.open(BytesIO(photo)) as image:
        image.load()
    return time.process_time() - start


def enlarged(photo: bytes, *, times: int) -> bytes:
    """The same photo as a camera of more pixels would have written it."""
    from PIL import Image

    out = BytesIO()
    with Image.open(BytesIO(photo)) as image:
        size = image.width * times, image.height * times
        image.resize(size, Image.Resampling.BICUBIC).save(
            out, "JPEG", quality=88, exif=image.getexif()
        )
    return out.getvalue()


def peak_memory_mb(photo: bytes) -> float:
    """Peak memory of a process that measures one photo and does nothing else."""
    ran = subprocess.run(
        [sys.executable, "-c", _PEAK], input=photo, capture_output=True, check=True
    )
    return int(ran.stdout.split()[-1]) / 1024
