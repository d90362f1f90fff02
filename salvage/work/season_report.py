"""What the season tells: what sold where, what an hour brought, and what is left on the shelf."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from salvage.errors import BadValue
from salvage.records.choices import STAGES
from salvage.work.amounts import half_up
from salvage.work.ledger import EVER, GROUPS, Period, Total, read_totals
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
        packed: Pieces that were packed for it, those taken out again left out.
        total: Of the ledger.
        stall_fee_minor: What the stall cost.
    """

    code: str
    name: str
    packed: int
    total: Total
    stall_fee_minor: int

    @property
    def sold_percent(self) -> float | None:
        """Sell-through: of what was packed, the part that sold and did not come back."""
        sold = self.total.sold - self.total.returned
        return 100 * sold / self.packed if self.packed else None

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
    every = read_totals(shop.conn, GROUPS["all"], period)
    stock = _stock(shop)
    left = {shape: sum(stages.values()) for shape, stages in stock}
    by_shape = _own(read_totals(shop.conn, GROUPS["shape"], period), currency)
    shapes = (_shape(shop, total, left.get(total.key, 0)) for total in by_shape)
    whole = _own(every, currency)
    return SeasonReport(
        currency,
        whole[0] if whole else None,
        tuple(sorted(shapes, key=lambda one: (-one.earned_minor, one.total.key))),
        _outings(shop, period, currency),
        _own(read_totals(shop.conn, GROUPS["month"], period), currency),
        stock,
        tuple(total.currency for total in every if total.currency != currency),
    )


def _own(totals: tuple[Total, ...], currency: str) -> tuple[Total, ...]:
    return tuple(total for total in totals if total.currency == currency)


def _shape(shop: Workshop, total: Total, stock: int) -> ShapeResult:
    rows = shop.conn.execute(
        "SELECT tool, count(*) FROM piece JOIN cut ON cut.code = piece.cut WHERE piece.shape = ?"
        " GROUP BY tool ORDER BY 2 DESC, 1 LIMIT 1",
        (total.key,),
    ).fetchone()
    times = times_of_shape(shop.conn, total.key, rows[0]) if rows else []
    seconds = sum((time.seconds for time in times), Decimal(0)) if times else None
    earned = total.net_minor - total.tax_minor - total.fee_minor
    return ShapeResult(total, stock, earned, seconds)


def _outings(shop: Workshop, period: Period, currency: str) -> tuple[OutingResult, ...]:
    totals = _own(read_totals(shop.conn, GROUPS["outing"], period), currency)
    found = []
    for total in totals:
        row = shop.conn.execute(
            "SELECT name, stall_fee_minor, (SELECT count(*) FROM outing_piece"
            "  WHERE outing = outing.code AND outing_piece.state <> 'unpacked'), begins_on"
            " FROM outing WHERE code = ?",
            (total.key,),
        ).fetchone()
        if row:
            name, fee, packed, begins_on = row
            found.append((begins_on, OutingResult(total.key, name, packed, total, fee)))
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
