"""The balance of one year: what lay here as it began, what came, what left, what lay here then."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from salvage.errors import BadValue
from salvage.work.balance import Amount
from salvage.work.mass import MassSums, sum_masses
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class YearMass:
    """
    A year's balance.

    Args:
        year: The year.
        opening: On the shelf and in containers as it began.
        came: Drop-offs, weighed.
        pieces: What became pieces.
        dust: What the kerf took and nobody put into a container.
        recycled: What was handed to recyclers.
        closing: On the shelf and in containers as it ended.
        unweighed: Drop-offs of the year without a weight.
    """

    year: int
    opening: Amount
    came: Amount
    pieces: Amount
    dust: Amount
    recycled: Amount
    closing: Amount
    unweighed: int

    @property
    def unexplained_mg(self) -> int:
        """What came in and is found nowhere; below zero where more is found than came."""
        gone = (self.pieces, self.dust, self.recycled, self.closing)
        return self.opening.mg + self.came.mg - sum(amount.mg for amount in gone)


def parse_year(text: str, *, today: date, field: str = "--year") -> int:
    """
    A year that has begun.

    Args:
        text: As typed.
        today: The workshop's day.
        field: Where it was typed.

    Raises:
        BadValue: If it is none.
    """
    tidy = text.strip()
    if not (re.fullmatch("[0-9]{4}", tidy) and 1950 <= int(tidy) <= today.year):
        raise BadValue(f"'{text}' is not a year", hint=f"from 1950 to {today.year}", field=field)
    return int(tidy)


def balance_year(shop: Workshop, *, year: int) -> YearMass:
    """
    The balance of a year; of the running year, up to now.

    Args:
        shop: The open workshop.
        year: Such as 2026.
    """
    before = sum_masses(shop.conn, date(year - 1, 12, 31).isoformat())
    after = sum_masses(shop.conn, date(year, 12, 31).isoformat())
    dust = _less(after.dust, before.dust)
    collected = after.collected_mg - before.collected_mg
    return YearMass(
        year,
        _stock(before),
        _sure(after.received_mg - before.received_mg),
        _less(after.pieces, before.pieces),
        _less(dust, _sure(collected)),
        _sure(after.sent_mg - before.sent_mg),
        _stock(after),
        after.unweighed - before.unweighed,
    )


def _stock(sums: MassSums) -> Amount:
    return sums.shelf + _sure(sums.here_mg)


def _sure(mg: int) -> Amount:
    return Amount(mg, mg, mg)


def _less(after: Amount, before: Amount) -> Amount:
    """What was added since; what is in both cancels, and its bounds with it."""
    return Amount(
        after.mg - before.mg,
        after.least_mg - before.least_mg,
        after.most_mg - before.most_mg,
        after.estimated,
    )
