"""What a shape asks of the workshop's bit and walls, and what to do where it asks too much."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.records.region import Region
from salvage.units import from_um
from salvage.work.settings import Settings
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.geometry.shape_facts import ShapeFacts
    from salvage.geometry.symmetry import Symmetry

# Rounded up by so much, a scaled shape is on the safe side of its own rounding.
_SPARE = 1.02
_MOST_TOLD = 4


@dataclass(frozen=True, slots=True)
class ShapeReport:
    """
    A shape looked at with the workshop's own bit and wall.

    Args:
        facts: Its measures, and what the bit cannot do.
        symmetry: How it falls on itself; equal angles are not searched twice.
        tool_mm: The bit.
        wall_mm: The least wall.
        losses: Every place that will not come out as drawn, in words.
        mend: What to do where it cannot be cut; empty where it can.
    """

    facts: ShapeFacts
    symmetry: Symmetry
    tool_mm: float
    wall_mm: float
    losses: tuple[str, ...]
    mend: str

    @property
    def symmetry_words(self) -> str:
        """The symmetry in plain words."""
        if self.symmetry.is_round:
            return "round: every angle is the same"
        turns = f"the same after 1/{self.symmetry.order} turn" if self.symmetry.order > 1 else ""
        mirror = "equal to its mirror image" if self.symmetry.mirrored else ""
        return ", ".join(words for words in (turns, mirror) if words) or "none"


def report_shape(settings: Settings, region: Region) -> ShapeReport:
    """
    The facts of a shape for the workshop's bit and wall.

    Args:
        settings: The workshop's settings.
        region: The shape at its size.
    """
    from salvage.geometry.shape_facts import say, shape_facts
    from salvage.geometry.symmetry import symmetry_of

    tool_mm, wall_mm = from_um(settings.tool_um), from_um(settings.wall_um)
    facts = shape_facts(region, tool_mm=tool_mm, least_wall_mm=wall_mm)
    losses = tuple(say(loss) for loss in facts.what_is_lost)
    mend = "" if facts.cuttable else _mend(facts, tool_mm, wall_mm)
    return ShapeReport(facts, symmetry_of(region), tool_mm, wall_mm, losses, mend)


def _mend(facts: ShapeFacts, tool_mm: float, wall_mm: float) -> str:
    """A larger scale, and a smaller bit where the gaps are what is too narrow."""
    kinds = {loss.kind for loss in facts.what_is_lost}
    factors = []
    if "thin part" in kinds and facts.least_width_mm > 0:
        factors.append(wall_mm / facts.least_width_mm)
    if "slot" in kinds and facts.least_gap_mm:
        factors.append(tool_mm / facts.least_gap_mm)
    width = facts.size_mm[0] * max([1.0, *factors]) * _SPARE
    ways = [f"draw it at least {width:.1f} mm wide"] if factors else ["draw it wider there"]
    if "slot" in kinds and facts.least_gap_mm and "thin part" not in kinds:
        ways.append(f"take a bit of {facts.least_gap_mm:g} mm or less (salvage setup tool-mm=…)")
    return ", or ".join(ways)


def check_region_cuttable(settings: Settings, name: str, region: Region) -> None:
    """
    Raise if the workshop's bit cannot cut a shape as it is drawn.

    Raises:
        Refused: With what is lost, and the mend.
    """
    report = report_shape(settings, region)
    if report.facts.cuttable:
        return
    grave = [
        words
        for loss, words in zip(report.facts.what_is_lost, report.losses, strict=True)
        if loss.kind in ("slot", "thin part")
    ]
    more = f"; and {len(grave) - _MOST_TOLD} more" if len(grave) > _MOST_TOLD else ""
    told = "; ".join(grave[:_MOST_TOLD])
    raise Refused(
        f"a {report.tool_mm:g} mm bit cannot cut '{name}' as drawn: {told}{more}",
        hint=f"{report.mend}; --anyway goes on all the same",
    )


def cutting_caution(settings: Settings, name: str, region: Region, tool: str) -> str:
    """
    What to know before a shape is cut that the workshop's bit cannot cut as it is drawn.

    Args:
        settings: The workshop's settings.
        name: What the shape is called.
        region: The shape at its size.
        tool: Only a router has a bit.

    Returns:
        One line with the mend; empty if all is well.
    """
    if tool != "router":
        return ""
    report = report_shape(settings, region)
    if report.facts.cuttable:
        return ""
    return (
        f"a {report.tool_mm:g} mm bit cannot cut '{name}' as drawn:"
        f" {'; '.join(report.losses[:_MOST_TOLD])}; {report.mend}"
    )


def shape_cautions(shop: Workshop, region: Region) -> tuple[str, ...]:
    """One line for each thing to know about a shape before it is cut; empty if all is well."""
    report = report_shape(shop.settings, region)
    found = []
    if not report.facts.cuttable:
        found.append(f"a {report.tool_mm:g} mm bit cannot cut it as drawn; {report.mend}")
    found += report.losses[:_MOST_TOLD]
    if len(report.losses) > _MOST_TOLD:
        found.append(f"and {len(report.losses) - _MOST_TOLD} more such places")
    return tuple(found)
