"""What the season tells: what sold where, what an hour brought, and what is left on the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from salvage.errors import BadValue
from salvage.records.choices import STAGES
from salvage.work.amounts import half_up
from salvage.work.ledger import EVER, Period, Total, read_totals
from salvage.work.times import times_of_shape
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class ShapeResult:
    """
    What a shape did, in the workshop's currency.

    Args:
        total: Of the ledger.
        stock: Pieces of it that could still be sold.
        earned_minor: What was paid, less what was given back, tax and bank fees.
        seconds: Time of one piece over all steps, measured or by rate; None where none is known.
    """

    total: Total
    stock: int
    earned_minor: int
    seconds: Decimal | None

    @property
    def net_sold(self) -> int:
        """Pieces that went and stayed away, gifts left out."""
        return self.total.sold - self.total.returned

    @property
    def sold_percent(self) -> float | None:
        """Sell-through: of what was sold and what is in stock, the part that sold."""
        there = self.net_sold + self.stock
        return 100 * self.net_sold / there if there > 0 else None

    @property
    def hourly_minor(self) -> int | None:
        """What an hour of work on it brought; None where its time is not known."""
        if not self.seconds or self.net_sold <= 0:
            return None
        return half_up(self.earned_minor * 3600 / (self.seconds * self.net_sold))


@dataclass(frozen=True, slots=True)
class OutingResult:
    """
    What an outing did.

    Args:
        code: Of the outing.
        name: Of the outing.
        there: Pieces that were there: packed for it, or sold there unpacked or unlabelled.
        total: Of the ledger.
        stall_fee_minor: What the stall cost.
    """

    code: str
    name: str
    there: int
    total: Total
    stall_fee_minor: int

    @property
    def sold_percent(self) -> float | None:
        """Sell-through: of what was there, the part that sold and did not come back."""
        sold = self.total.sold - self.total.returned
        return 100 * sold / self.there if self.there else None

    @property
    def earned_minor(self) -> int:
        """What was taken, less tax, bank fees and the stall."""
        kept = self.total.net_minor - self.total.tax_minor - self.total.fee_minor
        return kept - self.stall_fee_minor


@dataclass(frozen=True, slots=True)
class SeasonReport:
    """
    The season, or a part of it.

    Args:
        currency: Of the results; sales in others are left out and counted.
        whole: Totals in that currency; None where nothing was sold.
        shapes: What each shape did, the most earned first.
        outings: What each outing did, the latest first.
        months: Totals by month.
        stock: Pieces on the shelf by shape and stage, the most first.
        other_currencies: Currencies of sales that are left out.
    """

    currency: str
    whole: Total | None
    shapes: tuple[ShapeResult, ...]
    outings: tuple[OutingResult, ...]
    months: tuple[Total, ...]
    stock: tuple[tuple[str, dict[str, int]], ...]
    other_currencies: tuple[str, ...]


def report_season(shop: Workshop, *, period: Period = EVER) -> SeasonReport:
    """
    What sold where and what it brought.

    Args:
        shop: The open workshop.
        period: Which part of the ledger; stock is that of now.

    Raises:
        BadValue: If the period is of one outing, which has its own page.
    """
    if period.outing:
        raise BadValue("a season has several outings", hint="salvage outing show", field="--outing")
    currency = shop.settings.currency
    # The ledger is read once, in its smallest parts; every sum of the report is made of these.
    parts = read_totals(shop.conn, _PART, period)
    own = [(_keys(part), part) for part in parts if part.currency == currency]
    stock, tools = _stock(shop), _usual_tools(shop)
    left = {shape: sum(stages.values()) for shape, stages in stock}
    whole = _sums([("", part) for _, part in own])
    shapes = (
        _shape(shop, total, left.get(total.key, 0), tools.get(total.key, ""))
        for total in _sums([(shape, part) for (_, shape, _), part in own])
    )
    return SeasonReport(
        currency,
        whole[0] if whole else None,
        tuple(sorted(shapes, key=lambda one: (-one.earned_minor, one.total.key))),
        _outings(shop, _sums([(outing, part) for (*_, outing), part in own])),
        _sums([(month, part) for (month, *_), part in own]),
        stock,
        tuple(sorted({part.currency for part in parts} - {currency})),
    )


_PART = "substr(day, 1, 7) || char(31) || words || char(31) || outing"
"""Month, shape and outing as one key, apart by the unit separator of ASCII."""


def _keys(part: Total) -> tuple[str, str, str]:
    month, _, rest = part.key.partition("\x1f")
    shape, _, outing = rest.rpartition("\x1f")
    return month, shape, outing


def _sums(parts: Sequence[tuple[str, Total]]) -> tuple[Total, ...]:
    """Totals of the parts that have a key in common, by key."""
    found: dict[str, Total] = {}
    for key, part in parts:
        one = replace(part, key=key)
        before = found.get(key)
        found[key] = one if before is None else _sum(before, one)
    return tuple(found[key] for key in sorted(found))


def _sum(first: Total, second: Total) -> Total:
    counts = [getattr(first, name) + getattr(second, name) for name in Total.__slots__[2:]]
    return Total(first.key, first.currency, *counts)


def _usual_tools(shop: Workshop) -> dict[str, str]:
    """The tool that most pieces of each shape were cut with."""
    rows = shop.conn.execute(
        "SELECT shape, tool, count(*) FROM cut WHERE outcome = 'piece' GROUP BY 1, 2 ORDER BY 3, 2"
    )
    return {shape: tool for shape, tool, _ in rows}


def _shape(shop: Workshop, total: Total, stock: int, tool: str) -> ShapeResult:
    times = times_of_shape(shop.conn, total.key, tool) if tool else []
    seconds = sum((time.seconds for time in times), Decimal(0)) if times else None
    earned = total.net_minor - total.tax_minor - total.fee_minor
    return ShapeResult(total, stock, earned, seconds)


def _outings(shop: Workshop, totals: Sequence[Total]) -> tuple[OutingResult, ...]:
    found = []
    for total in totals:
        row = shop.conn.execute(
            "SELECT name, stall_fee_minor, (SELECT count(*) FROM"
            "  (SELECT piece FROM outing_piece WHERE outing = ?1 AND state <> 'unpacked' UNION"
            "   SELECT piece FROM slip CROSS JOIN slip_line ON slip = number"
            "   WHERE outing = ?1 AND outing <> '' AND piece <> ''))"
            " + (SELECT count(*) FROM slip CROSS JOIN slip_line ON slip = number"
            "   WHERE outing = ?1 AND outing <> '' AND piece = '' AND kind = 'sale'), begins_on"
            " FROM outing WHERE code = ?1",
            (total.key,),
        ).fetchone()
        if row:
            name, fee, there, begins_on = row
            found.append((begins_on, OutingResult(total.key, name, there, total, fee)))
    found.sort(key=lambda one: (one[0], one[1].code), reverse=True)
    return tuple(result for _, result in found)


def _stock(shop: Workshop) -> tuple[tuple[str, dict[str, int]], ...]:
    rows = shop.conn.execute(
        "SELECT shape, stage, count(*) FROM piece WHERE stage NOT IN ('sold', 'withdrawn')"
        " AND code NOT IN (SELECT code FROM lost_thing)"
        " AND code NOT IN (SELECT piece FROM part WHERE taken_out_at = '')"
        " GROUP BY shape, stage ORDER BY shape"
    )
    found: dict[str, dict[str, int]] = {}
    for shape, stage, count in rows:
        found.setdefault(shape, {})[stage] = count
    ordered = {
        shape: {stage: stages[stage] for stage in STAGES if stage in stages}
        for shape, stages in found.items()
    }
    return tuple(sorted(ordered.items(), key=lambda one: (-sum(one[1].values()), one[0])))
