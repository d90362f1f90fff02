"""The part of a board's picture round one place, with the place outlined."""

from __future__ import annotations

from io import BytesIO

from salvage.photo.upright import upright_image
from salvage.records.region import Region

_LINE_PX = 3
_DARK, _LIGHT = (18, 63, 76), (255, 255, 255)
_QUALITY = 85
_LONGEST_PX = 65_535  # as it is


def draw_spot(
    picture_png: bytes, outline: Region, place: Region, *, px_per_mm: float, margin_mm: float = 8.0
) -> bytes:
    """
    A cut-out of a board's picture as JPEG, without metadata.

    Args:
        picture_png: The board in board coordinates, over its outline's bounding box.
        outline: The board's outline.
        place: The region to show.
        px_per_mm: Resolution of the picture.
        margin_mm: How much of what lies round the place is shown.

    Raises:
        BadFile: If the picture cannot be opened.
    """
    from PIL import ImageDraw

    image = upright_image(picture_png, longest_px=_LONGEST_PX)
    left_um, _, _, top_um = outline.bounds_um

    def to_px(point: tuple[int, int]) -> tuple[float, float]:
        x_um, y_um = point
        return (x_um - left_um) / 1000 * px_per_mm, (top_um - y_um) / 1000 * px_per_mm

    draw = ImageDraw.Draw(image)
    for ring in (place.outer, *place.holes):
        points = [to_px(point) for point in (*ring, ring[0])]
        draw.line(points, fill=_LIGHT, width=_LINE_PX + 4, joint="curve")
        draw.line(points, fill=_DARK, width=_LINE_PX, joint="curve")
    x0, y0, x1, y1 = place.bounds_um
    near, far = to_px((x0, y1)), to_px((x1, y0))
    margin = margin_mm * px_per_mm
    box = (
        max(0, int(near[0] - margin)),
        max(0, int(near[1] - margin)),
        min(image.width, int(far[0] + margin) + 1),
        min(image.height, int(far[1] + margin) + 1),
    )
    out = BytesIO()
    image.crop(box).save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()
