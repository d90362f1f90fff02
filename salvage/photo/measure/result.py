"""
What a measurement gives: the outline, its holes, and how far to trust them.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.records.region import Region


@dataclass(frozen=True, slots=True)
class Hole:
    """
    A hole in the board, in the board frame.

    Args:
        centre_mm: Its centre.
        diameter_mm: Of a round hole; of the circle of the same area for others.
        off_round_mm: How far its rim leaves the best circle, for 95 of 100 points.
        kind: ``round``, ``slot`` or ``window``.
        size_mm: Length and width of the narrowest rectangle around it.
    """

    centre_mm: tuple[float, float]
    diameter_mm: float
    off_round_mm: float
    kind: str
    size_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """
    How the photo was taken.

    Args:
        tilt_deg: Between the camera's axis and the straight look down.
        distance_mm: From the board's plane to the camera.
        distortion_mm: By how much the lens displaces the field's farthest corner.
        residual_mm: Median miss of the markers; large where the mat is bent.
        markers: How many markers took part.
        blur_mm: Blur of edges on the mat, as a standard deviation.
    """

    tilt_deg: float
    distance_mm: float
    distortion_mm: float
    residual_mm: float
    markers: int
    blur_mm: float


@dataclass(frozen=True, slots=True)
class HeightFacts:
    """
    Where the board's upper face was taken to be.

    Args:
        upper_mm: Above the mat.
        sd_mm: Standard deviation of that.
        source: ``given``, ``assumed``, ``two photos``, ``strip`` or ``plane``.
    """

    upper_mm: float
    sd_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class Placing:
    """
    How the board frame lies in the mat frame.

    Args:
        turn_rad: From the mat's x axis to the board's, counter-clockwise.
        origin_mm: The board frame's origin, in the mat frame.
    """

    turn_rad: float
    origin_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pictures:
    """
    Pictures to look at before a measurement is believed.

    Args:
        squared_png: The board in the board frame; the upper left pixel is the upper left corner of
            the outline's bounding box.
        squared_px_per_mm: Its scale.
        overlay_jpeg: The photo with the outline drawn on it.
    """

    squared_png: bytes
    squared_px_per_mm: float
    overlay_jpeg: bytes


@dataclass(frozen=True, slots=True)
class Measurement:
    """
    A measured board.

    Args:
        outline: Its upper face in the board frame, holes included.
        holes: Its holes, largest first.
        area_mm2: Area less the holes.
        interval_mm: 95 of 100 points of the outline lie within this of the true edge.
        area_interval_mm2: The true area lies between these, with 95 % confidence.
        px_per_mm: Pixels of the photo per mm of the board.
        method: ``mat``, ``card``, ``corners`` or ``scan``.
        mat: Identity of the mat, or what else gave the scale.
        pictures: To be looked at.
        height: Where the upper face was taken to be.
        placing: How the board frame lies in the mat frame.
        seen_at: Where the board's middle is in the upright photo: shares of its width, from the
            left, and of its height, from the top.
        camera: How the photo was taken; none for a scan or picked corners.
        warnings: What a person should know, one sentence each.
        timings_s: Seconds of each stage, where a clock was handed in.
    """

    outline: Region
    holes: tuple[Hole, ...]
    area_mm2: float
    interval_mm: float
    area_interval_mm2: tuple[float, float]
    px_per_mm: float
    method: str
    mat: str
    pictures: Pictures
    height: HeightFacts
    placing: Placing
    seen_at: tuple[float, float] = (0.5, 0.5)
    camera: CameraFacts | None = None
    warnings: tuple[str, ...] = ()
    timings_s: tuple[tuple[str, float], ...] = ()

    @property
    def squared_png(self) -> bytes:
        """The board in the board frame, as a PNG."""
        return self.pictures.squared_png

    @property
    def overlay_jpeg(self) -> bytes:
        """The photo with the outline drawn on it, as a JPEG."""
        return self.pictures.overlay_jpeg
