"""Batches of materials as they stand now: one record for each row of the projection."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from fractions import Fraction

    from salvage.ids import Code

MATERIALS = (
    "sealant",
    "resin",
    "coating",
    "finding",
    "adhesive",
    "cord or chain",
    "filter",
    "other",
)
"""What a batch is; a finding is an ear hook, jump ring, clasp, pin and the like."""

STAGE_OF = {
    "sealant": "sealed",
    "resin": "sealed",
    "coating": "sealed",
    "finding": "assembled",
    "adhesive": "assembled",
    "cord or chain": "assembled",
}
"""The stage at which a material usually goes into a piece; the others go into none."""


@dataclass(frozen=True, slots=True)
class Batch:
    """One batch of a material, as it was received; ``pack_milli`` in thousandths of ``unit``."""

    code: Code
    material: str
    name: str
    maker: str
    lot: str
    received_on: str
    pack_milli: int | None
    unit: str
    cost_minor: int | None
    currency: str
    notes: str
    recalled: int
    recorded_by: str
    recorded_at: str

    @property
    def title(self) -> str:
        """Name, maker and lot in words, as far as they are known."""
        maker = f", {self.maker}" if self.maker else ""
        return f"{self.name}{maker}{f', lot {self.lot}' if self.lot else ''}"

    def cost_of(self, each_milli: int | None) -> Fraction | None:
        """
        What an amount of it costs, in exact minor units; None where cost or amount is not known.

        Args:
            each_milli: Thousandths of the unit that went into one piece.
        """
        if self.cost_minor is None or not self.pack_milli or not each_milli:
            return None
        from fractions import Fraction

        return Fraction(self.cost_minor * each_milli, self.pack_milli)


@dataclass(frozen=True, slots=True)
class BatchPaper:
    """One of a batch's papers; the file lies in the store under its hash."""

    batch: Code
    n: int
    sha256: str
    title: str
    at: str


@dataclass(frozen=True, slots=True)
class MaterialUse:
    """
    A batch that went into a piece: at which stage, how much, by whom and when.

    ``voided`` says why the use was taken back; it is empty while it stands.
    """

    batch: Code
    n: int
    code: Code
    stage: str
    each_milli: int | None
    note: str
    by: str
    at: str
    voided: str
