"""
A printer's own shift and stretch, and where to put things so that they land where they should.

A printer puts what is meant for ``x`` at ``x * stretch + shift``, counted from the left edge of the
sheet, and likewise from the top. Only positions are corrected; symbols keep their size, so that
their modules stay whole printer dots.
"""

from __future__ import annotations

from dataclasses import dataclass

from salvage.errors import BadValue

Pair = tuple[float, float]

# A page that was fitted to the paper is 3 to 6 per cent smaller; no feed is off by as much as 2
# (common practice, no source).
_MOST_STRETCH = 0.02
_MOST_SHIFT_MM = 8.0


@dataclass(frozen=True, slots=True)
class Correction:
    """
    How a printer is off.

    Args:
        shift_mm: To the right and down.
        stretch: Across and down; 1 for a printer that is true.
    """

    shift_mm: Pair = (0.0, 0.0)
    stretch: Pair = (1.0, 1.0)

    def put(self, point_mm: Pair) -> Pair:
        """
        Where to put what shall land at a point.

        >>> Correction(shift_mm=(1.0, -0.5)).put((20.0, 20.0))
        (19.0, 20.5)
        """
        x, y = (
            (value - shift) / stretch
            for value, shift, stretch in zip(point_mm, self.shift_mm, self.stretch, strict=True)
        )
        return x, y

    def land(self, point_mm: Pair) -> Pair:
        """Where something lands that was put at a point."""
        x, y = (
            value * stretch + shift
            for value, shift, stretch in zip(point_mm, self.shift_mm, self.stretch, strict=True)
        )
        return x, y


TRUE = Correction()
"""A printer that is not off, or was never measured."""


@dataclass(frozen=True, slots=True)
class Frame:
    """
    The frame on a printer's test page, in millimetres.

    Args:
        left_mm: From the left edge of the paper to its left line.
        top_mm: From the upper edge of the paper to its upper line.
        width_mm: From its left to its right line.
        height_mm: From its upper to its lower line.
    """

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


def frame_of(page_mm: Pair) -> Frame:
    """
    The frame that a page's test print has.

    >>> frame_of((210.0, 297.0))
    Frame(left_mm=20.0, top_mm=20.0, width_mm=170.0, height_mm=257.0)
    """
    shorter = min(page_mm)
    margin = 20.0 if shorter >= 100 else 10.0 if shorter >= 50 else 4.0 if shorter >= 20 else 2.0
    return Frame(
        margin, margin, round(page_mm[0] - 2 * margin, 2), round(page_mm[1] - 2 * margin, 2)
    )


def correction_of(meant: Frame, read: Frame) -> Correction:
    """
    What a ruler's readings say of the printer.

    Args:
        meant: The frame as it was drawn.
        read: The frame as it was measured on the paper.

    Raises:
        BadValue: If it is further off than any printer gets, with the likely reason.

    >>> found = correction_of(Frame(20, 20, 170, 257), Frame(20.5, 19, 170.34, 257))
    >>> round(found.shift_mm[0], 3), round(found.stretch[0], 4)
    (0.46, 1.002)
    """
    stretch = (read.width_mm / meant.width_mm, read.height_mm / meant.height_mm)
    for field, factor, wanted in (
        ("--width", stretch[0], meant.width_mm),
        ("--height", stretch[1], meant.height_mm),
    ):
        if abs(factor - 1) > _MOST_STRETCH:
            raise BadValue(
                f"{factor * wanted:g} mm for {wanted:g} mm: the page was not printed at its size",
                hint="print the test page again at 100 %, without fitting it to the paper",
                field=field,
            )
    shift = (
        read.left_mm - stretch[0] * meant.left_mm,
        read.top_mm - stretch[1] * meant.top_mm,
    )
    for field, off in (("--left", shift[0]), ("--top", shift[1])):
        if abs(off) > _MOST_SHIFT_MM:
            raise BadValue(
                f"the frame lies {abs(off):.1f} mm off: that is more than a printer is off",
                hint="measure from the edge of the paper to the line nearest to it, in millimetres",
                field=field,
            )
    return Correction(shift, stretch)
