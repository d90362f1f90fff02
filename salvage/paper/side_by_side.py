"""Pages next to one another in one picture, to be looked at together."""

from __future__ import annotations

import io
from collections.abc import Sequence

_GROUND = (226, 222, 213)
_GAP_PX = 24


def place_side_by_side(pages: Sequence[bytes], *, across: int = 4) -> bytes:
    """
    Bitmaps in rows on a plain ground, as PNG.

    Args:
        pages: PNG bytes, at least one.
        across: How many stand in a row.
    """
    from PIL import Image

    pictures = [Image.open(io.BytesIO(page)).convert("RGB") for page in pages]
    rows = [pictures[n : n + across] for n in range(0, len(pictures), across)]
    width = max(sum(p.width + _GAP_PX for p in row) for row in rows) + _GAP_PX
    height = sum(max(p.height for p in row) + _GAP_PX for row in rows) + _GAP_PX
    sheet = Image.new("RGB", (width, height), _GROUND)
    top = _GAP_PX
    for row in rows:
        left = _GAP_PX
        for picture in row:
            sheet.paste(picture, (left, top))
            left += picture.width + _GAP_PX
        top += max(p.height for p in row) + _GAP_PX
    file = io.BytesIO()
    sheet.save(file, "PNG", optimize=True)
    return file.getvalue()
