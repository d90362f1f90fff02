"""Words that a field may hold, where it may hold only a few."""

from __future__ import annotations

from salvage.errors import BadValue

SOURCE_KINDS = ("recycler", "college", "school", "household", "firm", "public body", "other")
"""Who gave a drop-off, as a kind."""

CHANNELS = ("by hand", "post", "collected", "fair")
"""How a drop-off came."""

NAMINGS = ("named", "described", "anonymous")
"""How a donor agreed to appear: by name, by a description, or not at all."""

DATA_PARTS = (
    "hard disk",
    "solid-state drive",
    "memory card",
    "phone or tablet",
    "soldered storage",
    "optical disc",
    "other",
    "none found",
)
"""Parts of a drop-off that can hold somebody's data; ``none found`` records a search."""

DATA_OUTCOMES = ("returned", "sanitised", "destroyed")
"""How the custody of a data-bearing part ends."""

FINDINGS = ("present", "absent", "not checked", "cannot tell")
"""The four values of every question about safety or data."""

HAZARD_OUTCOMES = ("", "removed", "accepted")
"""What was done about a hazard; empty while nothing was."""

LEAD_STATUSES = ("unknown", "assumed-leaded", "marked-lead-free", "tested")
"""What is known about lead; it blocks or warns, it never certifies."""

SIDES = ("front", "back")
"""Sides of a board."""

PHOTO_SIDES = ("front", "back", "other")
"""What a photo shows."""

STAGES = ("rough", "sanded", "sealed", "assembled", "ready", "sold", "returned", "withdrawn")
"""Stages of a piece."""

BENCH_STAGES = ("rough", "sanded", "sealed", "assembled", "ready")
"""Stages that a maker sets by hand; the others follow from sales and recalls."""

TOOLS = ("router", "shears", "saw")
"""What a cut is made with."""


def parse_choice(text: str, choices: tuple[str, ...], *, field: str = "") -> str:
    """
    The one of *choices* that *text* means; a clear beginning in any case is enough.

    Raises:
        BadValue: If none or several fit.

    >>> parse_choice("Sealed", STAGES)
    'sealed'
    >>> parse_choice("by-h", CHANNELS)
    'by hand'
    """
    plain = _plain(text)
    fits = [choice for choice in choices if choice and _plain(choice) == plain]
    if not fits and plain:
        fits = [choice for choice in choices if _plain(choice).startswith(plain)]
    if len(fits) != 1:
        words = ", ".join(choice for choice in choices if choice)
        raise BadValue(f"'{text}' is not a choice here", hint=f"use one of: {words}", field=field)
    return fits[0]


def _plain(text: str) -> str:
    return " ".join(text.lower().replace("-", " ").replace("_", " ").split())
