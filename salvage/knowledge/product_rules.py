"""
Which limits bind a piece before it is sold, by market, kind, part and the age it is meant for.

The figures are those of :mod:`salvage.knowledge.limits`. A voluntary standard binds no market and
clears none, so no rule here names one; RoHS speaks of equipment, so none names that either.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.frozen import dataclass
from salvage.knowledge.amounts import AMOUNT_UNITS, Amount
from salvage.knowledge.limits import Limit, find_limit
from salvage.knowledge.table import read_table
from salvage.units import parse_country

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

PRODUCTS = (
    "unknown",
    "earring",
    "pendant",
    "ring",
    "bracelet",
    "brooch",
    "hair accessory",
    "key ring",
    "ornament",
)
"""What a piece is to be; while nobody said it, it counts as everything at once."""

_EVERYTHING = frozenset({"jewellery", "skin", "pierced", "mouthable"})
_TRAITS = {
    "earring": frozenset({"jewellery", "skin", "pierced"}),
    "pendant": frozenset({"jewellery", "skin"}),
    "ring": frozenset({"jewellery", "skin"}),
    "bracelet": frozenset({"jewellery", "skin"}),
    "brooch": frozenset({"jewellery"}),
    "hair accessory": frozenset({"jewellery", "skin"}),
    "key ring": frozenset({"mouthable"}),
    "ornament": frozenset({"mouthable"}),
}

PARTS = ("laminate", "bare metal", "solder", "component", "coating", "finding")
"""Parts of a piece; bare metal is copper, gold or nickel of the board that is not covered."""

# What each part can be made of; a component can hold all of it.
_MADE_OF = {
    "laminate": frozenset({"plastic"}),
    "bare metal": frozenset({"metal"}),
    "solder": frozenset({"metal"}),
    "component": frozenset({"metal", "plastic", "coating"}),
    "coating": frozenset({"coating"}),
    "finding": frozenset({"metal", "finding"}),
}

AUDIENCES = ("adult", "child")
"""Whom a piece is meant for; a child only with evidence."""

# The union's member states, from memory; each also has rules of its own that are not in our list.
_MEMBERS = frozenset(
    {"AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU"}
    | {"IE", "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"}
)


@dataclass(frozen=True, slots=True)
class ProductRule:
    """
    One limit, and what it binds.

    Args:
        limit: The figure with its days and source.
        analyte: Such as lead.
        measure: ``content``, ``release`` or ``soluble``.
        parts: What the part must be made of; ``any`` for every part.
        products: Trait of the kinds that it binds; ``any`` for all.
        audience: ``adult``, ``child`` or ``any``.
        proof: ``third-party`` where only an outside laboratory's test counts, or ``any``.
        either: Rules with the same word are ways to meet one duty; empty for none.
    """

    limit: Limit
    analyte: str
    measure: str
    parts: str
    products: str
    audience: str
    proof: str
    either: str

    def binds(self, product: str, part: str, audience: str) -> bool:
        """Whether it binds a part of such a piece; an unknown kind is bound by all."""
        traits = _TRAITS.get(product, _EVERYTHING)
        fits_product = self.products == "any" or self.products in traits
        fits_part = self.parts == "any" or self.parts in _MADE_OF[part]
        return fits_product and fits_part and self.audience in ("any", audience)


@cache
def product_rules() -> tuple[ProductRule, ...]:
    """All rules, in the order of their markets."""
    return tuple(
        ProductRule(
            find_limit(row["slug"]),
            row["analyte"],
            row["measure"],
            row["parts"],
            row["products"],
            row["audience"],
            row["proof"],
            row["either"],
        )
        for row in read_table("product_rules.csv")
    )


_OWN_TOPICS = {"jewellery": "jewellery", "ornament": "mouthable", "children": "any"}
_ANALYTES = ("lead", "cadmium", "nickel", "mercury", "chromium")
_MEASURES = {"share": "content", "release": "release"}


def rule_of_own(limit: Limit) -> ProductRule | None:
    """
    The rule that follows from a row of the workshop's own, or None where none does.

    It binds every part of the kinds that its topic names; which part it means, the row cannot say.

    Args:
        limit: Of the topics jewellery, ornament or children, with a figure in a unit we know.
    """
    products = _OWN_TOPICS.get(limit.topic, "")
    analyte = next((word for word in _ANALYTES if word in limit.subject.lower()), "")
    if not products or not analyte or limit.operator not in ("<", "<=") or limit.number is None:
        return None
    if limit.unit not in AMOUNT_UNITS:
        return None
    measure = _MEASURES.get(Amount(limit.value, limit.unit).quantity, "")
    audience = "child" if limit.topic == "children" else "any"
    return ProductRule(limit, analyte, measure, "any", products, audience, "any", "")


def rules_of(market: str, *, day: date, own: Sequence[Limit] = ()) -> tuple[ProductRule, ...]:
    """
    The rules of a market that are in force on a day.

    Args:
        market: As :func:`parse_markets` keeps it.
        day: Expired rows, and those that are not yet in force, are left out.
        own: The workshop's own limits; those of this market or its jurisdictions bind as well.
    """
    places = (market, *jurisdictions(market))
    own_rules = [rule for rule in map(rule_of_own, own) if rule]
    return tuple(
        rule
        for rule in (*product_rules(), *own_rules)
        if rule.limit.jurisdiction in places and rule.limit.state_on(day) == "in force"
    )


def is_skin_contact(product: str) -> bool:
    """
    Whether a kind lies on the skin for long; one that nobody named counts as if.

    >>> is_skin_contact("ornament"), is_skin_contact("unknown")
    (False, True)
    """
    return "skin" in _TRAITS.get(product, _EVERYTHING)


def jurisdictions(market: str) -> tuple[str, ...]:
    """
    Jurisdictions of our limits that a market lies in; empty where we know none.

    >>> jurisdictions("US-CA"), jurisdictions("IE"), jurisdictions("NZ")
    (('US federal', 'California'), ('EU',), ())
    """
    if market == "EU" or market in _MEMBERS:
        return ("EU",)
    if market == "US-CA":
        return ("US federal", "California")
    return ("US federal",) if market.split("-")[0] == "US" else ()


def parse_markets(text: str, *, field: str = "") -> str:
    """
    Markets as they are kept: codes of ISO 3166, or EU, with commas between, each once.

    Raises:
        BadValue: If one is no such code.

    >>> parse_markets("eu, us-ca;EU")
    'EU,US-CA'
    """
    found: dict[str, None] = {}
    for word in re.split(r"[,;\s]+", text.strip().upper()):
        country, dash, region = word.partition("-")
        if not word:
            continue
        if dash and (country == "EU" or not re.fullmatch("[A-Z0-9]{1,3}", region)):
            raise BadValue(f"'{word}' is no market", hint="such as EU, US-CA or NZ", field=field)
        parse_country(country, field=field)
        found[word] = None
    return ",".join(found)


@dataclass(frozen=True, slots=True)
class Judgement:
    """
    A result held against a limit.

    Args:
        word: ``meets``, ``exceeds``, ``cannot tell`` or ``no comparison``.
        why: In words; empty where the figures speak for themselves.
    """

    word: str
    why: str = ""


def judge(result: Amount, uncertainty: Amount | None, limit: Limit) -> Judgement:
    """
    Hold a result against a limit, the uncertainty counted against the piece.

    It exceeds where the figure itself does. It meets only where the figure and its uncertainty, or
    the detection limit, do; what lies between nobody can tell.

    Args:
        result: What was measured, or below which detection limit it lies.
        uncertainty: Of the result, in a unit of the same quantity; None if not reported.
        limit: The row.
    """
    if limit.number is None or limit.operator not in ("<", "<="):
        return Judgement("no comparison", "the row gives no upper limit")
    bound = Amount(limit.value, limit.unit)
    if bound.quantity != result.quantity:
        return Judgement("no comparison", f"a {result.quantity} is no {bound.quantity}")
    strict = limit.operator == "<"
    if not result.is_below and _is_over(result.exact, bound.exact, strict=strict):
        return Judgement("exceeds")
    spread = uncertainty.exact if uncertainty else Fraction(0)
    if not _is_over(result.exact + spread, bound.exact, strict=strict):
        return Judgement("meets", "" if uncertainty or result.is_below else "no uncertainty given")
    why = "its detection limit is above" if result.is_below else "within its uncertainty"
    return Judgement("cannot tell", why)


def _is_over(value: Fraction, bound: Fraction, *, strict: bool) -> bool:
    return value >= bound if strict else value > bound
