"""Hand and router, shape by shape: how long, how much is spoilt, and what an hour brings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from salvage.ids import Code
from salvage.work.amounts import half_up
from salvage.work.prices import material_of
from salvage.work.times import times_of_shape
from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class ToolResult:
    """
    What came of one shape by one tool.

    Args:
        shape: Its name.
        tool: ``router``, ``shears`` or what was typed.
        made: Pieces that came out.
        spoilt: Cuts that came out as scrap.
        seconds: Time of a piece over all steps, as measured or by rate.
        cutting_seconds: Of the step cutting alone.
        measured: Whether all of that time was measured.
        sold: Pieces that are sold, gifts left out.
        earned_minor: What those brought, less tax, fees and consumables.
        hourly_minor: That by the hour; None where time or sales are not known.
        currency: Of the amounts.
    """

    shape: str
    tool: str
    made: int
    spoilt: int
    seconds: Decimal
    cutting_seconds: Decimal
    measured: bool
    sold: int
    earned_minor: int
    hourly_minor: int | None
    currency: str

    @property
    def spoilt_percent(self) -> float:
        """Share of the cuts that gave no piece."""
        return 100 * self.spoilt / max(1, self.made + self.spoilt)


def compare_tools(shop: Workshop, *, shape: str = "") -> tuple[ToolResult, ...]:
    """
    What each tool makes of each shape, by shape and tool.

    Args:
        shop: The open workshop.
        shape: Only this one; all if empty.
    """
    rows = shop.conn.execute(
        "SELECT shape, tool, sum(outcome = 'piece'), sum(outcome = 'scrap') FROM cut"
        " WHERE ?1 IN ('', shape) GROUP BY shape, tool ORDER BY shape, tool",
        (shape,),
    ).fetchall()
    return tuple(_result(shop, *row) for row in rows)


def _result(shop: Workshop, shape: str, tool: str, made: int, spoilt: int) -> ToolResult:
    times = times_of_shape(shop.conn, shape, tool)
    seconds = sum((time.seconds for time in times), Decimal(0))
    cutting = sum((time.seconds for time in times if time.step == "cutting"), Decimal(0))
    currency = shop.settings.currency
    rows = shop.conn.execute(
        "SELECT piece.code, paid_minor - tax_minor - fee_minor FROM slip_line"
        " JOIN slip ON number = slip JOIN piece ON piece.code = slip_line.piece"
        " JOIN cut ON cut.code = cut WHERE kind = 'sale' AND NOT is_gift AND slip.currency = ?"
        " AND stage = 'sold' AND piece.shape = ? AND tool = ?"
        " AND sale_n = (SELECT max(n) FROM sale WHERE sale.piece = piece.code)",
        (currency, shape, tool),
    ).fetchall()
    earned = sum(net for _, net in rows) - half_up(material_of(shop.conn, _codes(rows), currency))
    hourly = half_up(earned * 3600 / (seconds * len(rows))) if rows and seconds else None
    return ToolResult(
        shape,
        tool,
        made,
        spoilt,
        seconds,
        cutting,
        bool(times) and all(time.source == "measured" for time in times),
        len(rows),
        earned,
        hourly,
        currency,
    )


def _codes(rows: Iterable[tuple[str, int]]) -> list[Code]:
    return [Code(code) for code, _ in rows]
