"""A sheet of labels from what a ruler or the packet says: pairs of millimetres, such as 66x33.9."""

from __future__ import annotations

import re
from dataclasses import dataclass

from salvage.errors import BadValue
from salvage.paper.stock import A4_MM, FOLDS, LETTER_MM, Stock, check_stock

PAPERS = {"a4": A4_MM, "letter": LETTER_MM}
"""Pages that have a name."""

_PAIR = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:mm)?\s*[x×]\s*([0-9]+(?:[.,][0-9]+)?)\s*(?:mm)?")
_MOST_MM = 1000.0
_MOST_LABELS = 500


@dataclass(frozen=True, slots=True)
class TypedSheet:
    """
    A sheet or roll as typed; an empty text stands for what follows from the others.

    Args:
        label: Size of one label; the only one that is always needed.
        page: ``a4``, ``letter`` or a size; the label's own for a roll.
        grid: Labels across x down; 1x1 for a roll.
        pitch: From one label's edge to the same edge of the next, across x down.
        gap: Between labels, instead of *pitch*.
        margin: Left x top, from the page to the first label; centred without it.
        fold: ``side`` or ``top`` for tags that are folded.
        tail: Width of the unprinted strip between the halves.
    """

    label: str
    page: str = ""
    grid: str = ""
    pitch: str = ""
    gap: str = ""
    margin: str = ""
    fold: str = ""
    tail: str = ""


def parse_sheet(name: str, typed: TypedSheet, *, dpi: int = 203) -> Stock:
    """
    The stock that was described.

    Args:
        name: What the workshop calls it.
        typed: As typed.
        dpi: Resolution of the printer that it goes through.

    Raises:
        BadValue: If a pair cannot be read, or the labels do not fit on the page.

    >>> parse_sheet("s", TypedSheet("63.5x33.9", page="a4", grid="3x8", gap="2.5x0")).margin_mm
    (7.25, 12.9)
    """
    label = _pair(typed.label, "--label")
    page = PAPERS.get(typed.page.strip().lower()) or _pair(typed.page or typed.label, "--page")
    columns, rows = _grid(typed.grid)
    if typed.pitch and typed.gap:
        raise BadValue("pitch and gap say the same thing twice", hint="give one", field="--gap")
    gap = _pair(typed.gap or "0x0", "--gap", least=0)
    between = (label[0] + gap[0], label[1] + gap[1])
    pitch = _pair(typed.pitch, "--pitch") if typed.pitch else between
    if typed.margin:
        margin = _pair(typed.margin, "--margin", least=0)
    else:
        counts = (columns - 1, rows - 1)
        ends = [counts[n] * pitch[n] + label[n] for n in (0, 1)]
        margin = (max(0.0, page[0] - ends[0]) / 2, max(0.0, page[1] - ends[1]) / 2)
    tail = _pair(f"{typed.tail}x0", "--tail", least=0)[0] if typed.tail else 0.0
    fold = typed.fold.strip().lower() or ("side" if tail else "")
    if fold not in FOLDS:
        raise BadValue(f"'{typed.fold}' is no fold", hint="use side or top", field="--fold")
    margin = (round(margin[0], 3), round(margin[1], 3))
    stock = Stock(
        name, page, columns, rows, label, margin, pitch, dpi, "given", fold=fold, tail_mm=tail
    )
    return check_stock(stock)


def _pair(text: str, field: str, *, least: float = 1.0) -> tuple[float, float]:
    match = _PAIR.fullmatch(text.strip().lower())
    if not match:
        raise BadValue(
            f"'{text}' is not a pair of millimetres", hint="write such as 63.5x33.9", field=field
        )
    first, second = (float(match[n].replace(",", ".")) for n in (1, 2))
    if not (least <= min(first, second) and max(first, second) <= _MOST_MM):
        raise BadValue(f"'{text}' is out of range", hint="in millimetres", field=field)
    return first, second


def _grid(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"([0-9]{1,3})\s*[x×]\s*([0-9]{1,3})", (text or "1x1").strip().lower())
    columns, rows = (int(match[1]), int(match[2])) if match else (0, 0)
    if not 1 <= columns * rows <= _MOST_LABELS:
        raise BadValue(
            f"'{text}' is not a number of labels across and down",
            hint="write such as 3x8",
            field="--grid",
        )
    return columns, rows
