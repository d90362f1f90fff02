"""
A photo of a board on a printed mat, measured.

Read the photo, find the mat's markers, fit the camera, learn the field's hue, find the board,
refine its edge on the photo, lift it to the board's height, and say how far the result may be off.
Every doubt that a person can mend by a better photo is a refusal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from salvage.photo.measure.contour import Heights, Rim
from salvage.photo.measure.height import (
    SD_TWO_PHOTOS_MM,
    HeightKnowledge,
    height_of_two,
    told_heights,
)
from salvage.photo.measure.mat import Mat, PrintScale, print_scale_of_bars
from salvage.photo.measure.pictures import distortion_mm
from salvage.photo.measure.quality import (
    check_holes,
    check_rim,
)
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.result import CameraFacts, HeightFacts, Measurement
from salvage.photo.measure.seeing import ScaleAsker, Seen, Stopwatch, see
from salvage.photo.measure.strip import height_by_strips
from salvage.photo.measure.trace import (
    Settled,
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

    from salvage.photo.measure.camera import View

    Floats = NDArray[np.float64]

_MOST_APART_MM = 0.25
_STRIP_DOUBT = 3.0
_TILT_TO_TELL_DEG = 30.0

# What moves single markers, such as paper that is not flat, moves the board too, evened out.
_RESIDUAL_SHARE = 0.3


def measure_photo(
    data: bytes,
    *,
    mats: Sequence[Mat],
    thickness_mm: float | None = None,
    standoff_mm: float | None = None,
    print_scale: PrintScale | ScaleAsker | None = None,
    second_photo: bytes | None = None,
    clock: Callable[[], float] | None = None,
) -> Measurement:
    """
    The outline and holes of the only board in a photo, true to scale.

    Args:
        data: Bytes of the photo.
        mats: Mats that it may show.
        thickness_mm: Thickness of the board; the usual 1.6 mm is assumed if not known.
        standoff_mm: How high its lower face lies above the mat; assumed if not known, and measured
            with a second photo or a height strip.
        print_scale: What a ruler said of the printed mat; see
            :func:`~salvage.photo.measure.mat.print_scale_of_bars`. Or who tells it once the mat is
            seen.
        second_photo: Another photo of the board, lying still, from another side.
        clock: Tells seconds, for the timings.

    Raises:
        PhotoRefused: If the photo cannot be measured honestly; its ``reason`` is a stable slug.
        BadFile: If it is no photo at all.
        BadValue: If a length makes no sense.
    """
    found = measure_boards(
        data,
        mats=mats,
        thickness_mm=thickness_mm,
        standoff_mm=standoff_mm,
        print_scale=print_scale,
        second_photo=second_photo,
        clock=clock,
    )
    if len(found) > 1:
        raise PhotoRefused(
            "two-boards",
            f"{len(found)} boards lie on the field",
            outlines=[board.outline for board in found[:2]],
        )
    return found[0]


def measure_boards(
    data: bytes,
    *,
    mats: Sequence[Mat],
    thickness_mm: float | None = None,
    standoff_mm: float | None = None,
    print_scale: PrintScale | ScaleAsker | None = None,
    second_photo: bytes | None = None,
    clock: Callable[[], float] | None = None,
) -> tuple[Measurement, ...]:
    """
    Every board in a photo, the largest first; all of them as thick as is said.

    Arguments and errors are those of :func:`measure_photo`.
    """
    if isinstance(print_scale, PrintScale):
        print_scale_of_bars(200 * print_scale.x, 200 * print_scale.y)
    told = told_heights(thickness_mm, standoff_mm)
    watch = Stopwatch(clock)
    seen = see(data, mats, print_scale, watch)
    other = None
    if second_photo is not None:
        other = see(second_photo, [seen.mat], seen.scale, watch)
    measured = []
    for one in seen.each():
        heights, notes = _know_height(one, told, standoff_mm)
        second = None
        if other is not None:
            twin = _same_board(one, other)
            rims = tuple(trace_rim(side.sight, side.body, heights.heights) for side in (one, twin))
            heights, more = _compare((one, twin), (rims[0], rims[1]), heights, thickness_mm)
            second = rims[1], twin.sight.view
            notes = (*notes, *more)
            watch.lap("height")
        notes = (*notes, *_warn(one, heights))
        measured.append(_measure_seen(one, heights, watch, notes=notes, second=second))
    return tuple(measured)


def _measure_seen(
    seen: Seen,
    known: HeightKnowledge,
    watch: Stopwatch,
    *,
    notes: tuple[str, ...],
    second: tuple[Rim, View] | None,
) -> Measurement:
    """The board in hand, traced, described and drawn; *second* is its rim in a second photo."""
    traced = trace_body(seen.sight, seen.body, known.heights, second=second)
    watch.lap("edges")
    check_rim(traced.rim)
    check_holes(traced.doubtful)
    result = _describe(seen, traced, settle_body(traced), known)
    watch.lap("pictures")
    return replace(result, warnings=notes, timings_s=tuple(watch.laps))


def _same_board(seen: Seen, other: Seen) -> Seen:
    """The other photo with the board in hand that lies nearest to where this one lies."""

    def middle(one: Seen) -> Floats:
        place: Floats = one.sight.field.to_mm(one.body.outer).mean(axis=0)
        return place

    here = middle(seen)
    return min(other.each(), key=lambda one: float(((middle(one) - here) ** 2).sum()))


def _know_height(
    seen: Seen, told: HeightKnowledge, standoff_mm: float | None
) -> tuple[HeightKnowledge, tuple[str, ...]]:
    """What a strip on the board says, unless a person measured the height."""
    if standoff_mm is not None:
        return told, ()
    camera_mm = float(seen.fit.camera.centre[2])
    field = seen.sight.field
    by_strips = height_by_strips(seen.strips, seen.body, field, camera_mm=camera_mm, told=told)
    return by_strips or (told, ())


def _compare(
    photos: tuple[Seen, Seen],
    rims: tuple[Rim, Rim],
    known: HeightKnowledge,
    thickness_mm: float | None,
) -> tuple[HeightKnowledge, tuple[str, ...]]:
    """The height at which two photos agree."""
    cameras = (photos[0].fit.camera, photos[1].fit.camera)
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
    sd = SD_TWO_PHOTOS_MM * max(1.0, 60 / two.base_mm)
    apart = abs(two.upper_mm - known.heights.upper_mm)
    notes: tuple[str, ...] = ()
    if known.source == "strip" and apart > _STRIP_DOUBT * math.hypot(sd, known.sd_mm):
        notes = (f"the height strip is off by {apart:.1f} mm: the two photos are believed",)
    return HeightKnowledge(found, sd, "two photos"), notes


def _describe(seen: Seen, traced: Traced, settled: Settled, known: HeightKnowledge) -> Measurement:
    import numpy as np

    camera, mat = seen.fit.camera, seen.mat
    distance = float(camera.centre[2]) - known.heights.upper_mm
    sources = Sources(
        px_per_mm=traced.px_per_mm,
        blur_px=traced.rim.sigma_px,
        fit_mm=math.hypot(seen.fit.sd_mm, _RESIDUAL_SHARE * seen.fit.residual_mm),
        height_share=known.sd_mm / distance,
        print_share=print_share(seen.scale.checked_mm if seen.scale else None),
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
        seen_at=_seen_at(seen, traced),
        camera=CameraFacts(
            tilt_deg=camera.tilt_deg,
            distance_mm=distance,
            distortion_mm=distortion_mm(camera, corners),
            residual_mm=seen.fit.residual_mm,
            markers=seen.fit.markers,
            blur_mm=seen.blur_mm,
        ),
    )


def _seen_at(seen: Seen, traced: Traced) -> tuple[float, float]:
    """Where the board's middle is in the photo, as shares of its width and height."""
    import numpy as np

    x, y = traced.edge.ring.mean(axis=0)
    ((across, down),) = seen.fit.camera.project(np.array([[x, y, 0.0]]))
    height, width = seen.sight.rgb.shape[:2]
    return float(across) / width, float(down) / height


def _warn(seen: Seen, known: HeightKnowledge) -> list[str]:
    """What a person should know before the number is used."""
    notes = []
    if seen.scale is None:
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
