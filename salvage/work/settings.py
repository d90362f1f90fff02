"""The workshop's own settings: who it is, and the numbers that it works by."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from salvage.errors import BadValue, ManyMistakes, NotFound, SalvageError
from salvage.frozen import dataclass
from salvage.units import from_um, parse_currency, parse_from_zero_mm, parse_money, to_um

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Mapping

NOBODY = "the maker"
"""Who is on record where nobody said who works."""


@dataclass(frozen=True, slots=True)
class Settings:
    """
    What the workshop has set, or the defaults.

    Args:
        name: The workshop's name, on paper.
        place: Where it is, on paper.
        contact: How a buyer reaches it, on story cards.
        web_address: Own address that a story card's QR code leads to; empty for the bare code.
        currency: ISO 4217 code.
        device: This device's letter in codes; given when it joins, not set.
        operator: Who works here when nobody else is named.
        kerf_um: Width that the usual tool removes, micrometres.
        tool_um: Diameter of the usual cutter, micrometres.
        wall_um: Least material left between neighbours, micrometres.
        least_um: Least width of the smallest shape that the workshop makes, micrometres.
        hold_days: Days for which a plan holds its places, unless it is told otherwise.
        fonts_folder: Folder of further fonts for names in other scripts; empty for none.
        markets: Where the workshop sells, as :func:`salvage.knowledge.product_rules.parse_markets`
            keeps it; empty while nobody chose.
        printer: Name of the printer that labels go to when none is named; empty for none.
        hourly_rate: What an hour of work is reckoned at, in the workshop's currency; empty if the
            maker has not said.
        material_factor: What consumables are multiplied by in a price, as a decimal number.
        selling_cost: Each piece's share of stalls, fees and packing, in the workshop's currency.
        price_step: Suggested prices are rounded to a multiple of it, half up.
        card_fee_ppm: Part of a payment by card that the bank keeps, in millionths.
        tax_rate: Tax that prices hold, in millionths as text; empty where none is noted.
        tax_note: What is written beside each sale about tax.
        bit: Name of the bit that cuts with the router are made with; empty for none.
        paper: What documents are printed on: ``a4`` or ``letter``.
        units: What people measure with on documents: ``metric`` or ``inch``.
        date_format: How documents put a day: ``words``, ``iso``, ``dmy`` or ``mdy``.
        backup_folder: Where copies of the workshop go; empty where each names its own.
    """

    name: str = "Our workshop"
    place: str = ""
    contact: str = ""
    web_address: str = ""
    currency: str = "EUR"
    device: str = ""
    operator: str = ""
    # Common practice, no source: a 2.0 mm bit is usual for board outlines; 1 mm of laminate between
    # neighbours holds; nothing narrower than 12 mm is worth cutting.
    kerf_um: int = 2000
    tool_um: int = 2000
    wall_um: int = 1000
    least_um: int = 12000
    # A month is what small workshops quote for (common practice, no source).
    hold_days: int = 30
    fonts_folder: str = ""
    printer: str = ""
    markets: str = ""
    bit: str = ""
    paper: str = "a4"
    units: str = "metric"
    date_format: str = "words"
    backup_folder: str = ""
    hourly_rate: str = ""
    # Consumables with as much again for what is spilt and left over (common practice, no source).
    material_factor: str = "2"
    selling_cost: str = "0"
    price_step: str = "0.50"
    card_fee_ppm: int = 0
    tax_rate: str = ""
    tax_note: str = ""

    @property
    def tax_ppm(self) -> int | None:
        """Tax that prices hold, in millionths; None where none is noted."""
        return int(self.tax_rate) if self.tax_rate else None

    def money(self, name: str) -> int:
        """
        An amount among the settings, in minor units of the workshop's currency.

        Args:
            name: Of the field.
        """
        text = str(getattr(self, name)) or "0"
        return parse_money(text, currency=self.currency, field=name.replace("_", "-"))

    @property
    def kerf_mm(self) -> float:
        """Width that the usual tool removes, in millimetres."""
        return from_um(self.kerf_um)


MOST_HOLD_DAYS = 1000
"""Longest time for which a plan may hold places; longer is forgotten, not held."""


def _parse_text(text: str, name: str) -> str:
    del name
    return " ".join(text.split())


def _parse_web_address(text: str, name: str) -> str:
    tidy = text.strip().rstrip("/")
    if tidy and not re.fullmatch(r"https?://[A-Za-z0-9.\-]+(:[0-9]+)?(/[A-Za-z0-9.\-/]*)?", tidy):
        raise BadValue(
            f"'{text}' is not a web address",
            hint="write such as https://tidewrack.example/s",
            field=name,
        )
    return tidy


def _parse_um(text: str, name: str) -> str:
    return str(to_um(parse_from_zero_mm(text, field=name, most_mm=200)))


def _parse_days(text: str, name: str) -> str:
    tidy = text.strip().removesuffix("days").removesuffix("d").strip()
    if not re.fullmatch("[0-9]{1,4}", tidy) or not 1 <= int(tidy) <= MOST_HOLD_DAYS:
        raise BadValue(
            f"'{text}' is no number of days", hint=f"from 1 to {MOST_HOLD_DAYS}", field=name
        )
    return str(int(tidy))


def _parse_amount(text: str, name: str) -> str:
    tidy = text.strip().replace(",", ".")
    if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,3})?", tidy):
        raise BadValue(f"'{text}' is no amount", hint="write such as 24.50", field=name)
    return tidy


def _parse_rate_per_hour(text: str, name: str) -> str:
    return _parse_amount(text, name) if text.strip() else ""


def _parse_step(text: str, name: str) -> str:
    tidy = _parse_amount(text, name)
    if not tidy.strip("0."):
        raise BadValue("a step is more than nothing", hint="such as 0.50", field=name)
    return tidy


def _parse_ppm(text: str, name: str) -> str:
    from salvage.work.amounts import parse_rate

    return str(parse_rate(text, field=name))


def _parse_tax(text: str, name: str) -> str:
    return "" if text.strip().lower() in ("", "none") else _parse_ppm(text, name)


def _parse_currency(text: str, name: str) -> str:
    return parse_currency(text, field=name)


def _parse_markets(text: str, name: str) -> str:
    from salvage.knowledge.product_rules import parse_markets

    return parse_markets(text, field=name)


def _parse_name(text: str, name: str) -> str:
    tidy = " ".join(text.split())
    if not tidy:
        raise BadValue("a workshop has a name", hint="it stands on cards and receipts", field=name)
    return tidy


# Of a name that is too long, the home of nobody, or with a zero in it.
_NO_PLACE = (OSError, RuntimeError, ValueError)


def _parse_folder(text: str, name: str) -> str:
    if not text.strip():
        return ""
    try:
        folder = Path(text.strip()).expanduser().absolute()
        is_there = folder.is_dir()
    except _NO_PLACE:
        folder, is_there = Path(text.strip()), False
    if not is_there:
        raise BadValue(
            f"there is no folder {folder}", hint="name a folder that holds fonts", field=name
        )
    return str(folder)


def _parse_copies_folder(text: str, name: str) -> str:
    """A folder for copies: it may come into being with the first copy, so its parent must be."""
    if not text.strip():
        return ""
    try:
        folder = Path(text.strip()).expanduser().absolute()
        is_there = folder.parent.is_dir()
    except _NO_PLACE:
        folder, is_there = Path(text.strip()), False
    if not is_there:
        raise BadValue(
            f"there is no folder {folder.parent}",
            hint="plug the disk in, or name a folder inside one that is there",
            field=name,
        )
    return str(folder)


def _one_of(*choices: str) -> Callable[[str, str], str]:
    """A reader of one of a few words."""

    def parse(text: str, name: str) -> str:
        tidy = text.strip().lower()
        if tidy not in choices:
            raise BadValue(
                f"'{text}' is not a choice here", hint=f"one of: {', '.join(choices)}", field=name
            )
        return tidy

    return parse


# What people type -> stored name and how it is read. Lengths are typed in millimetres.
_READERS: Mapping[str, tuple[str, Callable[[str, str], str]]] = {
    "name": ("name", _parse_name),
    "place": ("place", _parse_text),
    "contact": ("contact", _parse_text),
    "web-address": ("web_address", _parse_web_address),
    "currency": ("currency", _parse_currency),
    "operator": ("operator", _parse_text),
    "kerf-mm": ("kerf_um", _parse_um),
    "tool-mm": ("tool_um", _parse_um),
    "wall-mm": ("wall_um", _parse_um),
    "least-mm": ("least_um", _parse_um),
    "hold-days": ("hold_days", _parse_days),
    "fonts-folder": ("fonts_folder", _parse_folder),
    "printer": ("printer", _parse_text),
    "markets": ("markets", _parse_markets),
    "hourly-rate": ("hourly_rate", _parse_rate_per_hour),
    "material-factor": ("material_factor", _parse_amount),
    "selling-cost": ("selling_cost", _parse_amount),
    "price-step": ("price_step", _parse_step),
    "card-fee": ("card_fee_ppm", _parse_ppm),
    "tax-rate": ("tax_rate", _parse_tax),
    "tax-note": ("tax_note", _parse_text),
    "bit": ("bit", _parse_text),
    "paper": ("paper", _one_of("a4", "letter")),
    "units": ("units", _one_of("metric", "inch")),
    "date-format": ("date_format", _one_of("words", "iso", "dmy", "mdy")),
    "backup-folder": ("backup_folder", _parse_copies_folder),
}

SETTING_NAMES = tuple(_READERS)
"""Names of all settings as people type them."""


def read_settings(conn: sqlite3.Connection) -> Settings:
    """The settings as they stand."""
    stored = dict(
        conn.execute(
            "SELECT name, value FROM setting UNION ALL SELECT 'device', letter FROM this_device"
        ).fetchall()
    )
    values: dict[str, Any] = {  # text or int, as the field's own type says
        name: int(stored[name]) if kind == "int" else stored[name]
        for name, kind in Settings.__annotations__.items()
        if name in stored
    }
    return Settings(**values)


def parse_settings(typed: Mapping[str, str]) -> dict[str, str]:
    """
    Stored names and values of typed settings.

    Raises:
        ManyMistakes: With every name that is unknown and every value that does not parse.
    """
    stored: dict[str, str] = {}
    mistakes: list[SalvageError] = []
    for name, text in typed.items():
        if name not in _READERS:
            from difflib import get_close_matches

            near = get_close_matches(name, SETTING_NAMES, n=3, cutoff=0.5)
            known = "" if near else f"known: {', '.join(SETTING_NAMES)}"
            mistakes.append(NotFound(f"there is no setting '{name}'", nearest=near, hint=known))
            continue
        key, reader = _READERS[name]
        try:
            stored[key] = reader(text, name)
        except BadValue as mistake:
            mistakes.append(mistake)
    if mistakes:
        raise ManyMistakes(mistakes)
    return stored


def parse_setting(name: str, text: str) -> str:
    """
    One setting as it is stored, for whoever asks for them one by one.

    Args:
        name: One of :data:`SETTING_NAMES`.
        text: As typed.

    Raises:
        BadValue: If it does not parse.
    """
    _, reader = _READERS[name]
    return reader(text, name)


def show_settings(settings: Settings) -> dict[str, str]:
    """All settings as people type them."""
    return {name: _shown(key, getattr(settings, key)) for name, (key, _) in _READERS.items()}


def _shown(key: str, value: str | int) -> str:
    if key.endswith("_um"):
        return f"{int(value) / 1000:g}"
    if key.endswith("_ppm") or (key == "tax_rate" and value):
        from salvage.work.amounts import format_rate

        return format_rate(int(value))
    return str(value)
