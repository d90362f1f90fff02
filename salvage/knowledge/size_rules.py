"""
The size rules for parts of electronic waste, read strictly where they can be read in two ways.

WEEE Annex VII asks for electrolyte capacitors "height > 25 mm, diameter > 25 mm or proportionately
similar volume". It does not say whether one dimension is enough, nor which volume is similar. We
flag on either dimension, and on the volume of a cylinder of 25 mm by 25 mm; what was not measured
counts as too large. The circuit board rule is 10 cm², taken as the area of one face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from salvage.errors import BadValue
from salvage.knowledge.date_codes import DateReading, read_date_code
from salvage.knowledge.hazards import find_hazard
from salvage.knowledge.source import Source

CAPACITOR_MM = 25.0
"""Directive 2012/19/EU (WEEE), Annex VII point 1, last item: height and diameter in mm."""

CAPACITOR_CM3 = math.pi / 4 * CAPACITOR_MM**2 * CAPACITOR_MM / 1000
"""Volume of a cylinder of that height and diameter, 12.27 cm3: our reading of "similar"."""

BOARD_CM2 = 10.0
"""Directive 2012/19/EU (WEEE), Annex VII point 1, fourth item: boards above this area."""

PCB_DAY = date(1979, 7, 2)
"""40 CFR 761.2(a)(4): a capacitor made before this day, or on an unknown one, counts as PCB."""


@dataclass(frozen=True, slots=True)
class SizeVerdict:
    """
    What a size rule says of one part.

    Args:
        flagged: True if it must come off, on the strict reading.
        reasons: Why, or how it stays below; one line each.
        source: What the rule rests on.
    """

    flagged: bool
    reasons: tuple[str, ...]
    source: Source


def judge_capacitor(height_mm: float | None, diameter_mm: float | None) -> SizeVerdict:
    """
    Whether an electrolytic capacitor counts as large, on the strict reading.

    Args:
        height_mm: Of the can, without its leads; None if nobody measured it.
        diameter_mm: Of the can; None likewise.

    Raises:
        BadValue: If a size is not above 0.

    >>> judge_capacitor(35.5, 18).reasons[0]
    'its height of 35.5 mm is above 25 mm'
    """
    sizes = {"height": height_mm, "diameter": diameter_mm}
    if any(size is not None and size <= 0 for size in sizes.values()):
        raise BadValue("height and diameter must be above 0 mm")
    found = [
        f"its {name} of {size:g} mm is above {CAPACITOR_MM:g} mm"
        for name, size in sizes.items()
        if size is not None and size > CAPACITOR_MM
    ]
    unknown = [name for name, size in sizes.items() if size is None]
    found += [f"its {name} is not known: the strict case" for name in unknown]
    if height_mm is not None and diameter_mm is not None:
        volume = math.pi / 4 * diameter_mm**2 * height_mm / 1000
        told = f"{volume:.2f} cm³, against {CAPACITOR_CM3:.2f} cm³ of 25 mm by 25 mm"
        if volume > CAPACITOR_CM3:
            found.append(f"its volume is similar or more: {told}")
        elif not found:
            return SizeVerdict(
                False,
                (f"neither dimension is above 25 mm; its volume is {told}",),
                find_hazard("large-capacitor").source,
            )
    return SizeVerdict(bool(found), tuple(found), find_hazard("large-capacitor").source)


def judge_pcb_date(date_code: str, *, today: date) -> SizeVerdict:
    """
    Whether an oil capacitor must be taken to hold PCB, from its own date code.

    Args:
        date_code: As printed on the capacitor; empty if it has none.
        today: The workshop's date now.
    """
    reading = read_date_code(date_code, today=today)
    return SizeVerdict(*_pcb(reading), find_hazard("pcb-oil-capacitor").source)


def _pcb(reading: DateReading) -> tuple[bool, tuple[str, ...]]:
    if reading.earliest is None:
        why = f"{reading.note}; " if reading.raw else ""
        return True, (f"{why}its date is not known: it counts as made before {PCB_DAY}",)
    if reading.earliest < PCB_DAY:
        return True, (f"{reading.raw} can mean the week of {reading.earliest}, before {PCB_DAY}",)
    return False, (f"{reading.raw} means the week of {reading.earliest}, not before {PCB_DAY}",)


def judge_board(area_mm2: float | None, board_type: str) -> SizeVerdict:
    """
    Whether a circuit board is to be taken out of its device as waste of its own.

    Args:
        area_mm2: Area of one face; None if it is not measured.
        board_type: Slug of its type; a phone's board counts at any size.
    """
    source = find_hazard("board-as-waste").source
    if board_type == "phone-board":
        return SizeVerdict(True, ("boards of mobile phones count at any size",), source)
    if area_mm2 is None:
        return SizeVerdict(True, ("its area is not known: the strict case",), source)
    told = f"its face of {area_mm2 / 100:.2f} cm² is {{}} {BOARD_CM2:g} cm²"
    flagged = area_mm2 / 100 > BOARD_CM2
    return SizeVerdict(flagged, (told.format("above" if flagged else "not above"),), source)
