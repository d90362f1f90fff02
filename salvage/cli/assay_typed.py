"""An assay from the options of a command line."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from salvage.cli.gather import Gatherer
from salvage.errors import BadValue
from salvage.knowledge.amounts import Amount, parse_amount
from salvage.knowledge.product_rules import PARTS
from salvage.records.choices import parse_choice
from salvage.records.gate import ANALYTES, ASSAY_METHODS, MEASURES
from salvage.units import parse_date
from salvage.work.assays import NewAssay

_SHORT = {"xrf": "x-ray fluorescence", "icp": "digestion", "en 1811": "release test"}


def parse_assay(typed: Mapping[str, Any], *, today: date) -> NewAssay:
    """
    The assay as typed; the parser's own values are Any, all of them text.

    Raises:
        SalvageError: With every mistake at once.
    """
    gather = Gatherer()

    def choice(name: str, choices: tuple[str, ...]) -> str:
        text = _SHORT.get(typed[name].strip().lower(), typed[name])
        return gather.take(lambda: parse_choice(text, choices, field=f"--{name}"), "")

    def amount(name: str) -> Amount | None:
        field = f"--{name.replace('_', '-')}"
        return gather.take(lambda: parse_amount(typed[name], field=field), None)

    limit = amount("detection_limit") if typed["detection_limit"] else None
    value = limit_of_nothing(limit, gather) if _is_nothing(typed["value"]) else amount("value")
    new = NewAssay(
        analyte=choice("analyte", ANALYTES),
        amount=value or Amount("0", "ppm"),
        method=choice("method", ASSAY_METHODS),
        measure=choice("measure", MEASURES) if typed["measure"] else "",
        part=choice("part", PARTS) if typed["part"] else "",
        detection_limit=limit,
        uncertainty=amount("uncertainty") if typed["uncertainty"] else None,
        instrument=typed["instrument"],
        lab=typed["lab"],
        tested_on=gather.take(lambda: parse_date(typed["date"], today=today, field="--date"), None)
        if typed["date"]
        else None,
        document=typed["document"],
        note=typed["note"],
    )
    gather.finish()
    return new


def _is_nothing(text: str) -> bool:
    return text.strip().lower() in ("nd", "n.d.", "not detected", "none")


def limit_of_nothing(limit: Amount | None, gather: Gatherer) -> Amount | None:
    """What 'not detected' means: below the detection limit, which must be told."""

    def told() -> Amount:
        if limit is None:
            raise BadValue(
                "'not detected' says nothing without the least that the method sees",
                hint="give --detection-limit",
                field="--value",
            )
        return Amount(limit.figure, limit.unit, is_below=True)

    return gather.take(told, None)
