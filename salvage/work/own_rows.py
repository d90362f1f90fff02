"""What a row of the workshop's own must hold: its columns, its name, its source."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING

from salvage.errors import BadFile, BadValue, ManyMistakes, NotFound, SalvageError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from salvage.knowledge.source import Source

PREFIX = "own-"
"""Beginning of the name of every row of the workshop's own."""

_SOURCE = ("source", "confidence", "read_on")

# kind -> its columns; those that must be filled come first.
_NEEDED: Mapping[str, tuple[str, ...]] = {
    "hazard": ("name", "where", "how_to_spot", "how_removed", "goes_to", "protection", "source"),
    "limit": ("topic", "jurisdiction", "subject", "operator", "value", "source"),
    "material": ("name", "value", "unit", "source"),
}
_FREE: Mapping[str, tuple[str, ...]] = {
    "hazard": (
        "board_types",
        "blocks_cutting",
        "confidence",
        "read_on",
        "practice_source",
        "practice_confidence",
        "practice_read_on",
        "note",
    ),
    "limit": ("scope", "unit", "effective", "until", "confidence", "read_on", "note"),
    "material": ("confidence", "read_on", "note"),
}
KINDS = tuple(_NEEDED)
"""Kinds of rows that a workshop can add."""

_SLUG = re.compile(r"own-[a-z0-9]+(-[a-z0-9]+)*")
_DAY = re.compile(r"([0-9]{4}(-[0-9]{2}){0,2})?")
MOST_BYTES = 2_000_000
"""Largest file of rows."""


def columns_of(kind: str) -> tuple[str, ...]:
    """Columns of a kind of row, those that must be filled first."""
    return _NEEDED[kind] + _FREE[kind]


def own_slug(text: str) -> str:
    """
    The name of an own row that *text* means.

    Raises:
        BadValue: If nothing of a name is left.

    >>> own_slug("Thermal link")
    'own-thermal-link'
    """
    tidy = "-".join(re.findall("[a-z0-9]+", text.lower().removeprefix(PREFIX)))
    slug = PREFIX + tidy
    if not _SLUG.fullmatch(slug) or len(slug) > 60:
        raise BadValue(f"'{text}' cannot be the name of a row", hint="such as thermal-link")
    return slug


def source_of_own(row: Mapping[str, str], prefix: str = "") -> Source:
    """The source that an own row names; *prefix* ``practice_`` for a hazard's second one."""
    from salvage.knowledge.source import Source

    text, confidence, read_on = (row[f"{prefix}{name}"] for name in _SOURCE)
    return Source(text, confidence, read_on, is_own=True)


def tidy_row(kind: str, slug: str, row: Mapping[str, str]) -> dict[str, str]:
    """
    All columns of an own row, checked.

    Args:
        kind: One of :data:`KINDS`.
        slug: Its name, for error texts.
        row: What was typed, text by column name.

    Raises:
        SalvageError: The one mistake, or all of them together.
    """
    known = columns_of(kind)
    typed = {name.strip().lower().replace("-", "_"): text.strip() for name, text in row.items()}
    mistakes: list[SalvageError] = [
        NotFound(f"{slug}: a {kind} has no '{name}'", hint=f"it has: {', '.join(known)}")
        for name in typed
        if name not in known
    ]
    mistakes += [
        BadValue(f"{slug}: say its {name.replace('_', ' ')}", field=name)
        for name in _NEEDED[kind]
        if not typed.get(name)
    ]
    tidy = {name: " ".join(typed.get(name, "").split()) for name in known}
    tidy["confidence"] = tidy["confidence"] or "memory"
    if kind == "hazard":
        tidy["blocks_cutting"] = tidy["blocks_cutting"] or "yes"
        for name in _SOURCE:
            tidy[f"practice_{name}"] = tidy[f"practice_{name}"] or tidy[name]
    if not mistakes:
        mistakes = _misfits(kind, slug, tidy)
    if len(mistakes) == 1:
        raise mistakes[0]
    if mistakes:
        raise ManyMistakes(mistakes)
    return tidy


def _misfits(kind: str, slug: str, row: dict[str, str]) -> list[SalvageError]:
    """What is wrong with the columns of a row that has all it needs; mends board types."""
    found: list[SalvageError] = []
    prefixes = ("", "practice_") if kind == "hazard" else ("",)
    for told in dict.fromkeys(tuple(row[f"{p}{name}"] for name in _SOURCE) for p in prefixes):
        try:
            source_of_own(dict(zip(_SOURCE, told, strict=True)))
        except BadValue as mistake:
            found.append(BadValue(f"{slug}: {mistake.message}", hint=mistake.hint))
    check = {"hazard": _check_hazard, "limit": _check_limit, "material": _check_material}[kind]
    return [*found, *check(slug, row)]


def _check_hazard(slug: str, row: dict[str, str]) -> list[SalvageError]:
    from salvage.knowledge.board_types import parse_board_type
    from salvage.knowledge.table import parse_list

    found: list[SalvageError] = []
    types: list[str] = []
    for word in parse_list(row["board_types"].replace(",", ";") or "all"):
        try:
            types.append(word if word == "all" else parse_board_type(word, field="board_types"))
        except NotFound as mistake:
            found.append(mistake)
    row["board_types"] = "; ".join(dict.fromkeys(types))
    if row["blocks_cutting"] not in ("yes", "no"):
        words = row["blocks_cutting"]
        found.append(BadValue(f"{slug}: '{words}' is not yes or no", field="blocks_cutting"))
    return found


def _check_limit(slug: str, row: dict[str, str]) -> list[SalvageError]:
    from salvage.knowledge.limits import OPERATORS

    found: list[SalvageError] = []
    if row["operator"] not in OPERATORS:
        hint = f"use one of {' '.join(OPERATORS)}"
        found.append(BadValue(f"{slug}: '{row['operator']}' binds nothing", hint=hint))
    elif row["operator"] not in ("from", "rule"):
        found += _check_number(slug, row)
        if not row["unit"]:
            found.append(BadValue(f"{slug}: a figure needs its unit", field="unit"))
        found += _check_unit(slug, row["unit"])
    for name in ("effective", "until"):
        if not _DAY.fullmatch(row[name]):
            hint = "such as 2026-11-30 or 2026"
            found.append(BadValue(f"{slug}: '{row[name]}' is no day", hint=hint, field=name))
    return found


def _check_material(slug: str, row: dict[str, str]) -> list[SalvageError]:
    return [*_check_number(slug, row), *_check_unit(slug, row["unit"])]


# Units of figures by their parts: "g/cm3" is g and cm, "% w/w" is % and w.
_UNIT_WORDS = """
    1 % ‰ w v ppm ppb t kg g mg ug µg ng lb oz m cm mm um µm nm in ft l ml ul s min h hour hours
    d day days before week weeks month months year years mol K C degC F degF Pa kPa MPa GPa bar N
    W kW J kJ V kV A mA ohm Hz dB lx Bq Sv pcs fibre fibres source
"""
_UNIT_PARTS = frozenset(_UNIT_WORDS.split())


def is_unit(text: str) -> bool:
    """
    Whether a text is a unit of measure, or a product and quotient of such.

    >>> is_unit("g/cm3"), is_unit("% w/w"), is_unit("furlong")
    (True, True, False)
    """
    parts = [part for part in re.split(r"[\s/·*()^-]+", text) if part]
    bare = {part if part in _UNIT_PARTS else part.rstrip("0123456789²³") for part in parts}
    return bool(bare) and bare <= _UNIT_PARTS


def _check_unit(slug: str, unit: str) -> list[SalvageError]:
    if not unit or is_unit(unit):
        return []
    hint = "such as g/cm3, mm, ug/m3, % w/w; 1 for a share"
    return [BadValue(f"{slug}: '{unit}' is no unit of measure", hint=hint, field="unit")]


def _check_number(slug: str, row: dict[str, str]) -> list[SalvageError]:
    if re.fullmatch(r"[0-9]+(\.[0-9]+)?", row["value"]):
        return []
    hint = "digits and a decimal point, such as 0.05"
    return [BadValue(f"{slug}: '{row['value']}' is no figure", hint=hint, field="value")]


def read_rows(data: bytes, *, name: str) -> tuple[tuple[str, dict[str, str]], ...]:
    """
    Rows of a CSV file by their names: a column ``slug`` and the columns of the kind.

    Lines that start with ``#`` are left out.

    Args:
        data: The file's bytes.
        name: The file's name, for error texts.

    Raises:
        BadFile: If it is no such table.
    """
    if len(data) > MOST_BYTES:
        raise BadFile(f"{name} is larger than {MOST_BYTES // 1_000_000} MB")
    try:
        text = data.decode("utf-8-sig")
        lines = [line for line in text.splitlines() if not line.startswith("#")]
        rows = list(csv.DictReader(io.StringIO("\n".join(lines)), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise BadFile(f"{name} is no table in UTF-8: {error}") from error
    if not rows or "slug" not in rows[0]:
        raise BadFile(f"{name} has no rows under a column 'slug'")
    if any(None in row or None in row.values() for row in rows):
        raise BadFile(f"{name} has a row with more or fewer cells than columns")
    return tuple((row["slug"], {k: v for k, v in row.items() if k != "slug"}) for row in rows)
