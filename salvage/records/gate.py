"""Records of assays and of the gate before a sale, and the words their fields may hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

ANALYTES = ("lead", "cadmium", "nickel", "mercury", "chromium", "other")
"""What is looked for."""

MEASURES = ("content", "release", "soluble", "wipe")
"""What is measured: all of it, what comes off in a time, what dissolves, what rubs off."""

ASSAY_METHODS = (
    "x-ray fluorescence",
    "digestion",
    "release test",
    "wipe",
    "supplier declaration",
    "other",
)
"""How it was measured; a supplier's declaration gives a figure that nobody here measured."""


@dataclass(frozen=True, slots=True)
class Assay:
    """One test of one part; figures are exact decimal text, ``lab`` is empty for an own test."""

    code: Code
    n: int
    part: str
    analyte: str
    measure: str
    method: str
    figure: str
    unit: str
    is_below: int
    detection_limit: str
    uncertainty: str
    instrument: str
    lab: str
    tested_on: str
    document: str
    note: str
    by: str
    at: str
    voided: str


@dataclass(frozen=True, slots=True)
class PieceProduct:
    """What a piece is to be, and what was seen of each part beside its laminate."""

    piece: Code
    product: str
    solder: str
    component: str
    metal: str
    finding: str
    coating: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class PieceAudience:
    """Whom a piece is meant for."""

    piece: Code
    audience: str
    reason: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Accepted:
    """An open question of a sale that somebody answers for, with the reason."""

    piece: Code
    n: int
    point: str
    reason: str
    by: str
    at: str
