"""Gray pictures made easier to read: enlarged, sharpened, with local contrast, or of one size."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Pixels = npt.NDArray[np.uint8]


def resize(pixels: Pixels, factor: float) -> Pixels:
    """A picture enlarged smoothly or shrunk without aliasing."""
    import cv2
    import numpy as np

    way = cv2.INTER_CUBIC if factor > 1 else cv2.INTER_AREA
    return np.asarray(cv2.resize(pixels, None, fx=factor, fy=factor, interpolation=way), np.uint8)


def sharpen(pixels: Pixels, *, sigma_px: float = 2.0, amount: float = 1.5) -> Pixels:
    """A picture with its blurred edges steepened (unsharp mask); helps defocus and low light."""
    import cv2
    import numpy as np

    soft = cv2.GaussianBlur(pixels, (0, 0), sigma_px)
    return np.asarray(cv2.addWeighted(pixels, 1 + amount, soft, -amount, 0), np.uint8)


def even_out(pixels: Pixels) -> Pixels:
    """A picture with its contrast raised in each neighbourhood; helps against glare."""
    import cv2
    import numpy as np

    # Contrast-limited adaptive histogram equalisation, eight by eight tiles.
    return np.asarray(cv2.createCLAHE(3.0, (8, 8)).apply(pixels), np.uint8)


def smooth(pixels: Pixels) -> Pixels:
    """A picture without grains smaller than a module; helps noise at large modules."""
    import cv2
    import numpy as np

    return np.asarray(cv2.medianBlur(pixels, 5), np.uint8)
