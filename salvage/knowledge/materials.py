"""
Densities, thicknesses and kerf, and the estimates of mass that follow from them.

An estimate stands in until the board is on the scale. Parts on a board are not in it: a populated
board weighs a multiple of its bare laminate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from salvage.errors import BadValue, NotFound
from salvage.knowledge.source import Source
from salvage.knowledge.table import nearest_names, read_table, source_of

_MM2_PER_M2 = 1_000_000
_MM3_PER_CM3 = 1_000


@dataclass(frozen=True, slots=True)
class MaterialFact:
    """
    One figure about a material.

    Args:
        slug: Its name, such as ``fr4-density``.
        name: What it is, for people.
        value: The figure.
        unit: Its unit as text; ``1`` for a share.
        source: Where it comes from.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    name: str
    value: float
    unit: str
    source: Source
    note: str


@dataclass(frozen=True, slots=True)
class Kerf:
    """
    Width of material that a tool removes.

    Args:
        slug: Name of the row, such as ``router-2-0``.
        tool: The word used when a cut is recorded: router, shears or saw.
        words: The tool, for people.
        least_mm: Narrowest.
        usual_mm: What to start from until a test cut is measured.
        most_mm: Widest.
        source: Where it comes from.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    tool: str
    words: str
    least_mm: float
    usual_mm: float
    most_mm: float
    source: Source
    note: str


@cache
def material_facts() -> tuple[MaterialFact, ...]:
    """All figures about materials."""
    return tuple(material_of_row(row, source_of(row)) for row in read_table("materials.csv"))


def material_of_row(row: Mapping[str, str], source: Source) -> MaterialFact:
    """
    A figure from the columns of a row, ours or the workshop's own.

    Args:
        row: Columns as in ``materials.csv``.
        source: Where it comes from.
    """
    return MaterialFact(
        row["slug"], row["name"], float(row["value"]), row["unit"], source, row["note"]
    )


def find_material_fact(slug: str) -> MaterialFact:
    """
    The figure of a slug.

    Raises:
        NotFound: If there is none of that name; with the nearest.
    """
    for fact in material_facts():
        if fact.slug == slug:
            return fact
    known = [fact.slug for fact in material_facts()]
    raise NotFound(f"'{slug}' is not a material fact", nearest=nearest_names(slug, known))


@cache
def standard_thicknesses_mm() -> tuple[float, ...]:
    """Thicknesses that boards come in, thinnest first, in millimetres."""
    return tuple(sorted(f.value for f in material_facts() if f.slug.startswith("fr4-thickness")))


@cache
def kerfs() -> tuple[Kerf, ...]:
    """All kerf widths."""
    return tuple(
        Kerf(
            row["slug"],
            row["tool"],
            row["words"],
            float(row["least_mm"]),
            float(row["usual_mm"]),
            float(row["most_mm"]),
            source_of(row),
            row["note"],
        )
        for row in read_table("kerf.csv")
    )


def kerfs_for(tool: str) -> tuple[Kerf, ...]:
    """Kerf widths of one tool word (router, shears, saw); empty for an unknown word."""
    return tuple(kerf for kerf in kerfs() if kerf.tool == tool)


def areal_mass_g_per_mm2(
    thickness_mm: float,
    *,
    copper_layers: int = 2,
    copper_oz: float = 1.0,
    copper_cover: float | None = None,
) -> float:
    """
    Mass of one square millimetre of bare board, in grams.

    Args:
        thickness_mm: Thickness of the laminate.
        copper_layers: Number of copper layers.
        copper_oz: Copper weight of each, in ounces per square foot.
        copper_cover: Share of each layer left after etching, 0 to 1; our assumption when None.

    Raises:
        BadValue: If a value is negative, or the cover is above 1.
    """
    cover = find_material_fact("copper-cover").value if copper_cover is None else copper_cover
    if min(thickness_mm, copper_layers, copper_oz, cover) < 0 or cover > 1:
        raise BadValue("thickness and copper must be 0 or more, and the cover not above 1")
    laminate = thickness_mm * find_material_fact("fr4-density").value / _MM3_PER_CM3
    foil = find_material_fact("copper-1oz").value / _MM2_PER_M2
    return laminate + copper_layers * copper_oz * cover * foil


def estimated_mass_g(area_mm2: float, thickness_mm: float) -> float:
    """
    Estimated mass of bare board with two copper layers of one ounce, in grams.

    Raises:
        BadValue: If area or thickness is negative.

    >>> round(estimated_mass_g(305 * 244, 1.57), 1)
    243.4
    """
    if area_mm2 < 0:
        raise BadValue(f"an area of {area_mm2:g} mm² is below 0")
    return area_mm2 * areal_mass_g_per_mm2(thickness_mm)


def dust_mass_g(length_mm: float, kerf_mm: float, thickness_mm: float) -> float:
    """
    Mass of laminate that a cut turns into dust, in grams; copper is left out.

    Raises:
        BadValue: If a length is negative.

    >>> round(dust_mass_g(100, 2.0, 1.57), 2)
    0.58
    """
    if min(length_mm, kerf_mm, thickness_mm) < 0:
        raise BadValue("length, kerf and thickness must be 0 or more")
    volume_mm3 = length_mm * kerf_mm * thickness_mm
    return volume_mm3 * find_material_fact("fr4-density").value / _MM3_PER_CM3
