"""
What was seen in a picture: codes of ours, other codes, doubtful ones, and labels left unread.

Nothing here looks at pixels. A reading is a text with its place; whether it is a code of ours is
decided once, by the grammar and check character of :mod:`salvage.ids`, when it is made.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.codes.payload import unwrap
from salvage.errors import BadCode
from salvage.ids import Code, parse_code

Corners = tuple[tuple[int, int], ...]
"""Four corners in pixels of the upright picture, in order around the symbol."""

SMALL_MODULE_PX = 3.0
"""Below this many pixels to a module the maker is told to come closer (measured)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """
    One text read from a picture.

    Args:
        text: What the symbol says; not yet judged.
        symbology: ``QR``, ``Micro QR``, ``Data Matrix`` or ``Code 128``.
        corners_px: Corners of the symbol in pixels of the upright picture, in order around it.
        reader: Which reader saw it, or both with `` + `` between them.
        step: The step of the cascade that read it first, such as ``as it is`` or ``enlarged``.
        module_px: Pixels along one module; 0 where it is not known.
        agreeing: How many readers or steps said the same at this place.
    """

    text: str
    symbology: str
    corners_px: Corners
    reader: str
    step: str = "as it is"
    module_px: float = 0.0
    agreeing: int = 1

    @property
    def code(self) -> Code | None:
        """
        The code of ours that it says; None if it says something else.

        A symbol is printed by a program, so only its exact spelling counts, bare or at the end of a
        web address; what people type may be tidied, what a reader gives may not.

        >>> Reading("HTTPS://TIDEBELL.EXAMPLE/C/BC0002J", "QR", (), "zxing-cpp").code
        'BC0002J'
        >>> Reading("BC0002K", "QR", (), "zxing-cpp").code is None
        True
        """
        bare = unwrap(self.text)
        try:
            code = parse_code(bare)
        except BadCode:
            return None
        return code if code == bare else None

    @property
    def is_small(self) -> bool:
        """Whether it was read so small that the next one may not be."""
        return 0 < self.module_px < SMALL_MODULE_PX


@dataclass(frozen=True, slots=True)
class PictureCodes:
    """
    Everything that the readers saw in one picture, from top to bottom.

    Args:
        width_px: Width of the upright picture.
        height_px: Its height.
        codes: Codes of ours, grammar and check character right; each code once. These alone may be
            acted on.
        strangers: Other texts: of other firms' symbols, or misread.
        doubtful: Readings that differ at the same place; none of them may be acted on.
        unread: Places where a label or symbol is seen that nobody could read.
    """

    width_px: int
    height_px: int
    codes: tuple[Reading, ...] = ()
    strangers: tuple[Reading, ...] = ()
    doubtful: tuple[Reading, ...] = ()
    unread: tuple[Corners, ...] = ()

    @property
    def is_complete(self) -> bool:
        """Whether every label that was seen was read, and without doubt."""
        return not self.doubtful and not self.unread


def middle(corners_px: Corners) -> tuple[float, float]:
    """
    The middle of a symbol.

    >>> middle(((0, 0), (4, 0), (4, 2), (0, 2)))
    (2.0, 1.0)
    """
    count = max(1, len(corners_px))
    return sum(x for x, _ in corners_px) / count, sum(y for _, y in corners_px) / count


def is_inside(point: tuple[float, float], corners_px: Corners) -> bool:
    """
    Whether a point lies inside a convex quadrilateral, in either sense of turning.

    >>> is_inside((1, 1), ((0, 0), (4, 0), (4, 2), (0, 2)))
    True
    """
    if not corners_px:
        return False
    x, y = point
    x1, y1 = corners_px[-1]
    left = right = False
    for x2, y2 in corners_px:
        if (x2 - x1) * (y - y1) >= (y2 - y1) * (x - x1):
            left = True
        else:
            right = True
        if left and right:
            return False  # most points are outside, and this is asked very often
        x1, y1 = x2, y2
    return True


def same_place(one: Corners, other: Corners) -> bool:
    """Whether two quadrilaterals show one symbol: the middle of either lies inside the other."""
    return is_inside(middle(one), other) or is_inside(middle(other), one)
