"""
Nominal outlines and mounting holes of common boards, cards, modules and papers.

A first guess for a photo, and a check of its scale; the measured outline of a board always wins.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from salvage.errors import NotFound
from salvage.frozen import dataclass
from salvage.knowledge.table import nearest_names, parse_list, read_table, source_of, tidy_name

if TYPE_CHECKING:
    from salvage.knowledge.source import Source

FORM_FACTOR_KINDS = ("board", "card", "module", "paper")
"""Main boards, plug-in cards, memory and drive modules, and cards or sheets of paper."""


@dataclass(frozen=True, slots=True)
class Hole:
    """
    A mounting hole in board coordinates: origin lower left, x right, y up, front side as seen.

    Args:
        label: Letter in the source's drawing.
        x_mm: From the left edge.
        y_mm: From the front edge, which lies at the bottom.
        diameter_mm: Nominal diameter.
    """

    label: str
    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class FormFactor:
    """
    A nominal outline.

    Args:
        slug: Its name in records, such as ``mini-itx``.
        name: Its name for people.
        kind: One of :data:`FORM_FACTOR_KINDS`.
        width_mm: Along the rear edge of a main board.
        height_mm: From the rear edge to the front edge.
        corner_radius_mm: Radius of the corners; None where the source does not say.
        holes: Mounting holes, by label; empty where none are known.
        source: Source of the outline.
        holes_source: Source of the holes; None without holes.
        aliases: Other names that people type.
        note: What else is worth knowing; may be empty.
    """

    slug: str
    name: str
    kind: str
    width_mm: float
    height_mm: float
    corner_radius_mm: float | None
    holes: tuple[Hole, ...]
    source: Source
    holes_source: Source | None
    aliases: tuple[str, ...]
    note: str

    @property
    def area_mm2(self) -> float:
        """Area of one face, corners taken as square."""
        return self.width_mm * self.height_mm

    def hole(self, label: str) -> Hole:
        """
        The mounting hole with a label.

        Raises:
            NotFound: If this form factor has none of that label.
        """
        for hole in self.holes:
            if hole.label == label:
                return hole
        labels = [hole.label for hole in self.holes]
        raise NotFound(f"{self.name} has no hole {label}", nearest=labels)


@cache
def form_factors() -> tuple[FormFactor, ...]:
    """All form factors with a definite width and height."""
    return tuple(_form_factor(row) for row in read_table("form_factors.csv"))


def _form_factor(row: dict[str, str]) -> FormFactor:
    height_mm = float(row["height_mm"])
    hole_rows = [h for h in read_table("form_factor_holes.csv") if h["form_factor"] == row["slug"]]
    return FormFactor(
        slug=row["slug"],
        name=row["name"],
        kind=row["kind"],
        width_mm=float(row["width_mm"]),
        height_mm=height_mm,
        corner_radius_mm=float(row["corner_radius_mm"]) if row["corner_radius_mm"] else None,
        holes=tuple(_hole(hole_row, height_mm) for hole_row in hole_rows),
        source=source_of(row),
        holes_source=source_of(hole_rows[0]) if hole_rows else None,
        aliases=parse_list(row["aliases"]),
        note=row["note"],
    )


def _hole(row: dict[str, str], height_mm: float) -> Hole:
    """A hole turned from the source's frame (y from the rear edge down) into ours (y up)."""
    y_mm = round(height_mm - float(row["y_from_rear_mm"]), 3)
    return Hole(row["label"], float(row["x_mm"]), y_mm, float(row["diameter_mm"]))


def find_form_factor(text: str, *, field: str = "") -> FormFactor:
    """
    The form factor that *text* names; any case, spaces and hyphens.

    Raises:
        NotFound: If there is none of that name; with the nearest.

    >>> find_form_factor("Mini ITX").width_mm
    170.0
    """
    tidy = tidy_name(text)
    for form in form_factors():
        if tidy in {tidy_name(name) for name in (form.slug, form.name, *form.aliases)}:
            return form
    slugs = [form.slug for form in form_factors()]
    near = nearest_names(text, slugs)
    hint = "" if near else "'salvage formats' lists them"
    error = NotFound(f"'{text}' is not a form factor in our list", nearest=near, hint=hint)
    error.field = field
    raise error
