"""
Mass of board material per area, with how far it may be off and where the figures come from.

An estimate stands in where nothing was weighed; it is stated with its bounds. Copper is kept in
ounces per square foot, which is a mass: 305.15 g/m2 each.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from salvage.knowledge.materials import areal_mass_g_per_mm2, find_material_fact
from salvage.knowledge.source import Source
from salvage.knowledge.table import read_table, source_of


@dataclass(frozen=True, slots=True)
class Range:
    """
    Bounds of a figure.

    Args:
        slug: Its name, such as ``density``.
        name: What it is, for people.
        least: Smallest that we reckon with.
        most: Largest.
        source: Where they come from.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    name: str
    least: float
    most: float
    source: Source
    note: str


@dataclass(frozen=True, slots=True)
class Stack:
    """
    What a board is made of, as far as it is known.

    Args:
        thickness_mm: As measured; None where nobody did.
        copper_layers: As counted; None where nobody did, and two are reckoned with.
        copper_oz: Ounces per square foot on each.
    """

    thickness_mm: float | None = None
    copper_layers: int | None = None
    copper_oz: float = 1.0


@dataclass(frozen=True, slots=True)
class ArealMass:
    """
    Milligrams per square millimetre, which are kilograms per square metre.

    Args:
        usual: The estimate.
        least: Lower bound.
        most: Upper bound.
    """

    usual: float
    least: float
    most: float


@cache
def mass_ranges() -> tuple[Range, ...]:
    """All bounds."""
    return tuple(
        Range(
            row["slug"],
            row["name"],
            float(row["least"]),
            float(row["most"]),
            source_of(row),
            row["note"],
        )
        for row in read_table("mass_ranges.csv")
    )


def find_mass_range(slug: str) -> Range:
    """The bounds of a slug; KeyError where there are none, since only our own code asks."""
    return {one.slug: one for one in mass_ranges()}[slug]


@cache
def areal_mass(stack: Stack) -> ArealMass:
    """
    Mass per area of bare board.

    Args:
        stack: What is known of it.

    >>> round(areal_mass(Stack(1.57, 2)).usual, 2)
    3.27
    """
    usual_mm = stack.thickness_mm or find_material_fact("fr4-thickness").value
    is_measured = stack.thickness_mm is not None
    thickness = find_mass_range("measured-thickness" if is_measured else "assumed-thickness")
    layers = stack.copper_layers
    most_layers = find_mass_range("assumed-copper").most if layers is None else layers
    least_layers = 0 if layers is None else layers
    usual_layers = find_mass_range("assumed-copper").least if layers is None else layers
    density, cover = find_mass_range("density"), find_mass_range("copper-cover")
    foil = find_material_fact("copper-1oz").value * stack.copper_oz / 1000  # mg/mm2, whole layer
    return ArealMass(
        1000
        * areal_mass_g_per_mm2(
            usual_mm, copper_layers=int(usual_layers), copper_oz=stack.copper_oz
        ),
        usual_mm * thickness.least * density.least + least_layers * foil * cover.least,
        usual_mm * thickness.most * density.most + most_layers * foil * cover.most,
    )


def areal_sources() -> tuple[tuple[str, Source], ...]:
    """What an estimate of mass rests on, each figure with its source, in words."""
    facts = [
        find_material_fact(slug)
        for slug in ("fr4-density", "fr4-thickness", "copper-1oz", "copper-cover")
    ]
    told = [
        (
            f"{fact.name}: {fact.value:g} {fact.unit if fact.unit != '1' else ''}".strip(),
            fact.source,
        )
        for fact in facts
    ]
    bounds = [(f"{one.name}: {one.least:g} to {one.most:g}", one.source) for one in mass_ranges()]
    return (*told, *bounds)
