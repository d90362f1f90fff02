"""
A photo of a board on a printed mat, measured.

Read the photo, find the mat's markers, fit the camera, learn the field's hue, find the board,
refine its edge on the photo, lift it to the board's height, and say how far the result may be off.
Every doubt that a person can mend by a better photo is a refusal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from salvage.photo.measure.contour import Heights
from salvage.photo.measure.field import Body, find_bodies, see_field, square_codes
from salvage.photo.measure.fit import CameraFit, fit_camera
from salvage.photo.measure.height import (
    SD_STRIP_MM,
    SD_TWO_PHOTOS_MM,
    HeightKnowledge,
    height_of_two,
    strip_height,
    told_heights,
)
from salvage.photo.measure.markers import FoundMarkers, mat_markers
from salvage.photo.measure.mat import BoxMm, Mat, PrintScale, print_scale_of_bars
from salvage.photo.measure.pictures import distortion_mm
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.measure.quality import (
    check_blur,
    check_bodies,
    check_camera,
    check_field,
    check_holes,
    check_rim,
    field_exposure,
    field_scale,
)
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.result import CameraFacts, HeightFacts, Measurement
from salvage.photo.measure.sharpness import Blur, marker_blur
from salvage.photo.measure.trace import (
    Settled,
    Sight,
    Traced,
    draw_pictures,
    settle_body,
    trace_body,
    trace_rim,
)
from salvage.photo.measure.uncertainty import (
    Sources,
    area_half_interval_mm2,
    point_interval_mm,
    print_share,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_MOST_APART_MM = 0.25
_TILT_TO_TELL_DEG = 30.0

# What moves single markers, such as paper that is not flat, moves the board too, evened out.
_RESIDUAL_SHARE = 0.3
_EXPOSURE_PX_PER_MM = 1.0


@dataclass(slots=True)
class _Stopwatch:
    """Seconds of each stage, by a clock that was handed in."""

    clock: Callable[[], float] | None
    laps: list[tuple[str, float]] = field(default_factory=list)
    _last: float = 0.0

    def __post_init__(self) -> None:
        self._last = self.clock() if self.clock else 0.0

    def lap(self, stage: str) -> None:
        """Note the time since the last stage ended."""
        if self.clock:
            now = self.clock()
            self.laps.append((stage, now - self._last))
            self._last = now


@dataclass(frozen=True, slots=True)
class _Seen:
    """One photo, understood as far as the board's place on the mat."""

    mat: Mat
    found: FoundMarkers
    fit: CameraFit
    sight: Sight
    body: Body
    others: tuple[Body, ...]
    blur_mm: float


def measure_photo(
    data: bytes,
    *,
    mats: Sequence[Mat],
    thickness_mm: float | None = None,
    standoff_mm: float | None = None,
    print_scale: PrintScale | None = None,
    second_photo: bytes | None = None,
    clock: Callable[[], float] | None = None,
) -> Measurement:
    """
    The outline and holes of the board in a photo, true to scale.

    Args:
        data: Bytes of the photo.
        mats: Mats that it may show.
        thickness_mm: Thickness of the board; the usual 1.6 mm is assumed if not known.
        standoff_mm: How high its lower face lies above the mat; assumed if not known, and measured
            with a second photo or a height strip.
        print_scale: What a ruler said of the printed mat; see
            :func:`~salvage.photo.measure.mat.print_scale_of_bars`.
        second_photo: Another photo of the board, lying still, from another side.
        clock: Tells seconds, for the timings.

    Raises:
        PhotoRefused: If the photo cannot be measured honestly; its ``reason`` is a stable slug.
        BadFile: If it is no photo at all.
        BadValue: If a length makes no sense.
    """
    if print_scale:
        print_scale_of_bars(200 * print_scale.x, 200 * print_scale.y)
    told = told_heights(thickness_mm, standoff_mm)
    watch = _Stopwatch(clock)
    seen = _see(data, mats, print_scale, watch)
    known, warnings = _know_height(seen, told, standoff_mm, print_scale)
    if second_photo is not None:
        other = _see(second_photo, [seen.mat], print_scale, watch)
        known, more = _compare(seen, other, known, thickness_mm)
        warnings = more
        watch.lap("height")
    traced = trace_body(seen.sight, seen.body, known.heights)
    watch.lap("edges")
    _check_traced(seen, traced, known)
    settled = settle_body(traced)
    result = _describe(seen, traced, settled, known, print_scale)
    watch.lap("pictures")
    notes = (*warnings, *_warn(seen, known, print_scale, standoff_mm))
    return _with(result, warnings=notes, timings=tuple(watch.laps))


def _see(
    data: bytes, mats: Sequence[Mat], print_scale: PrintScale | None, watch: _Stopwatch
) -> _Seen:
    import numpy as np

    pixels = read_pixels(data)
    watch.lap("read")
    mat, found = mat_markers(pixels.rgb, mats)
    watch.lap("markers")
    fit = fit_camera(
        mat, found, size=pixels.size, focal_px=pixels.focal_px, print_scale=print_scale
    )
    own = found.only({marker.number for marker in mat.markers})
    blur_px = marker_blur(pixels.rgb, np.asarray(own.corners_px))
    scale = field_scale(mat, fit.camera)
    check_blur(blur_px, scale)
    check_camera(mat, own, fit)
    watch.lap("camera")
    box = _scaled(mat.field, print_scale)
    field = see_field(pixels.rgb, fit.camera, box)
    coded, _ = square_codes(pixels.rgb, fit.camera, box, scale=_EXPOSURE_PX_PER_MM)
    check_field(field, field_exposure(coded))
    board, others = check_bodies(find_bodies(field))
    watch.lap("field")
    sight = Sight(pixels.rgb, fit.camera, field, Blur(blur_px, pixels.colour_px))
    return _Seen(mat, found, fit, sight, board, tuple(others), blur_px / scale)


def _scaled(box: BoxMm, print_scale: PrintScale | None) -> BoxMm:
    if print_scale is None:
        return box
    left, bottom, right, top = box
    x, y = print_scale.x, print_scale.y
    return left * x, bottom * y, right * x, top * y


def _know_height(
    seen: _Seen, told: HeightKnowledge, standoff_mm: float | None, scale: PrintScale | None
) -> tuple[HeightKnowledge, tuple[str, ...]]:
    """What a strip on the board says, unless a person measured the height."""
    upper = strip_height(seen.found, seen.fit, print_scale=scale)
    if upper is None or standoff_mm is not None:
        return told, ()
    thick = told.heights.upper_mm - told.heights.lower_mm
    heights = Heights(max(0.0, upper - thick), max(0.0, upper))
    return HeightKnowledge(heights, SD_STRIP_MM, "strip"), ()


def _compare(
    seen: _Seen, other: _Seen, known: HeightKnowledge, thickness_mm: float | None
) -> tuple[HeightKnowledge, tuple[str, ...]]:
    """The height at which two photos agree."""
    heights = known.heights
    rims = (
        trace_rim(seen.sight, seen.body, heights),
        trace_rim(other.sight, other.body, heights),
    )
    cameras = (seen.fit.camera, other.fit.camera)
    two = height_of_two(rims, cameras, thickness_mm=thickness_mm)
    if two.apart_mm > _MOST_APART_MM:
        raise PhotoRefused(
            "different-photos",
            f"the outlines of the two photos are {two.apart_mm:.2f} mm apart at best",
        )
    if not two.is_useful:
        note = (
            f"both photos were taken from nearly the same place ({two.base_mm:.0f} mm apart), "
            "so they say nothing of the height; take the second from another side"
        )
        return known, (note,)
    found = Heights(max(0.0, two.upper_mm - two.thickness_mm), two.upper_mm)
    return HeightKnowledge(found, SD_TWO_PHOTOS_MM * max(1.0, 60 / two.base_mm), "two photos"), ()


def _check_traced(seen: _Seen, traced: Traced, known: HeightKnowledge) -> None:
    check_rim(traced.rim)
    check_holes(traced.doubtful)
    if seen.others:
        second = trace_body(seen.sight, seen.others[0], known.heights)
        raise PhotoRefused(
            "two-boards",
            f"{1 + len(seen.others)} boards lie on the field",
            outlines=(settle_body(traced).outline, settle_body(second).outline),
        )


def _describe(
    seen: _Seen,
    traced: Traced,
    settled: Settled,
    known: HeightKnowledge,
    print_scale: PrintScale | None,
) -> Measurement:
    import numpy as np

    camera, mat = seen.fit.camera, seen.mat
    distance = float(camera.centre[2]) - known.heights.upper_mm
    sources = Sources(
        px_per_mm=traced.px_per_mm,
        blur_px=traced.rim.sigma_px,
        fit_mm=math.hypot(seen.fit.sd_mm, _RESIDUAL_SHARE * seen.fit.residual_mm),
        height_share=known.sd_mm / distance,
        print_share=print_share(print_scale.checked_mm if print_scale else None),
    )
    area = settled.outline.area_mm2
    half = area_half_interval_mm2(sources, area_mm2=area, rim_mm=settled.rim_mm)
    left, bottom, right, top = mat.field
    corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    return Measurement(
        outline=settled.outline,
        holes=settled.holes,
        area_mm2=area,
        interval_mm=point_interval_mm(sources, radius_mm=settled.radius_mm),
        area_interval_mm2=(max(0.0, area - half), area + half),
        px_per_mm=traced.px_per_mm,
        method="mat",
        mat=mat.identity,
        pictures=draw_pictures(seen.sight, traced, settled, z=known.heights.upper_mm),
        height=HeightFacts(known.heights.upper_mm, known.sd_mm, known.source),
        placing=settled.placing,
        camera=CameraFacts(
            tilt_deg=camera.tilt_deg,
            distance_mm=distance,
            distortion_mm=distortion_mm(camera, corners),
            residual_mm=seen.fit.residual_mm,
            markers=seen.fit.markers,
            blur_mm=seen.blur_mm,
        ),
    )


def _warn(
    seen: _Seen,
    known: HeightKnowledge,
    print_scale: PrintScale | None,
    standoff_mm: float | None,
) -> list[str]:
    """What a person should know before the number is used."""
    notes = []
    if print_scale is None:
        notes.append(
            "the mat's print was not checked: lay a ruler on both bars and type what it reads"
        )
    if known.source == "assumed":
        share = 2 * known.sd_mm / float(seen.fit.camera.centre[2])
        notes.append(
            f"the board's height is assumed ({known.heights.upper_mm:g} mm), which leaves lengths "
            f"open by {share:.1%}: take a second photo from another side, or lay a height strip "
            "on the board"
        )
    if seen.fit.camera.tilt_deg > _TILT_TO_TELL_DEG:
        notes.append(
            f"the camera leans {seen.fit.camera.tilt_deg:.0f} degrees: tall parts may hide an edge"
        )
    if seen.fit.markers < len(seen.mat.markers) / 2:
        notes.append(
            f"only {seen.fit.markers} of {len(seen.mat.markers)} markers were seen: keep the "
            "border free"
        )
    notes.append("look at the overlay: a thing that touches the board is measured as part of it")
    return notes


def _with(
    result: Measurement, *, warnings: tuple[str, ...], timings: tuple[tuple[str, float], ...]
) -> Measurement:
    from dataclasses import replace

    return replace(result, warnings=warnings, timings_s=timings)
