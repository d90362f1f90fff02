"""The page that shows how a printer is off: a frame to measure, and places to write it down."""

from __future__ import annotations

from datetime import date

from salvage.paper.correction import TRUE, Correction, frame_of
from salvage.paper.typeset import Data, typeset


def print_printer_page(
    page_mm: tuple[float, float],
    *,
    printer: str,
    next_words: str,
    made_on: date,
    correction: Correction = TRUE,
) -> bytes:
    """
    A PDF with a frame whose distances from the paper's edges a ruler reads.

    Args:
        page_mm: The paper.
        printer: Name of the printer.
        next_words: The command that takes the readings, as people type it.
        made_on: Date of the document.
        correction: How the printer is off, to see whether that is put right; the readings of such
            a page say nothing of the printer and are not asked for.
    """
    frame = frame_of(page_mm)
    left, top = correction.put((frame.left_mm, frame.top_mm))
    right, bottom = correction.put((frame.left_mm + frame.width_mm, frame.top_mm + frame.height_mm))
    data: dict[str, Data] = {
        "page_mm": page_mm,
        "printer": printer,
        "meant_mm": [frame.left_mm, frame.top_mm, frame.width_mm, frame.height_mm],
        "put_mm": [left, top, right, bottom],
        "is_corrected": correction != TRUE,
        "next_words": next_words,
    }
    return typeset("printer_page", data, pictures={}, made_on=made_on)
