"""
Printers and the label stock of the workshop, one record for each row of the projection.

Lengths are whole micrometres. A printer that stretches by ``stretch_x_ppm`` and shifts by
``shift_x_um`` puts what is meant for ``x`` at ``x * (1 + stretch_x_ppm / 1e6) + shift_x_um``,
counted from the left edge of the sheet; likewise from its top edge.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Printer:
    """A printer; its readings are zero, and ``checked_at`` empty, until somebody took them."""

    name: str
    dpi: int
    stock: str
    shift_x_um: int
    shift_y_um: int
    stretch_x_ppm: int
    stretch_y_ppm: int
    checked_at: str


@dataclass(frozen=True, slots=True)
class LabelStock:
    """Sheets or rolls of labels by the workshop's own name."""

    name: str
    page_width_um: int
    page_height_um: int
    columns: int
    rows: int
    label_width_um: int
    label_height_um: int
    margin_left_um: int
    margin_top_um: int
    pitch_x_um: int
    pitch_y_um: int
    dpi: int
    fold: str
    tail_um: int
    described_at: str
