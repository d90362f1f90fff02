"""
What a piece costs, and the price that the maker's own rule suggests.

The rule is a handful of named numbers in the settings: the hourly rate, a factor on consumables, a
share of selling costs, the tax that prices hold, and the step to which they are rounded. Nobody
writes a formula.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from salvage.errors import Refused
from salvage.ids import Code
from salvage.store.lookup import load_cut, load_piece
from salvage.work.amounts import ONE, half_up, to_step
from salvage.work.lineage import cut_pieces
from salvage.work.settings import Settings
from salvage.work.times import StepTime, add_times, times_of_piece, times_of_shape
from salvage.work.workshop import Workshop

_SECONDS_PER_HOUR = 3600


@dataclass(frozen=True, slots=True)
class StepCost:
    """
    A step of the work with what it costs.

    Args:
        time: How long it takes.
        minor: At the hourly rate, rounded half up.
    """

    time: StepTime
    minor: int


@dataclass(frozen=True, slots=True)
class Cost:
    """
    What a piece costs and what its price should be; the parts add up to the last minor unit.

    Args:
        about: The piece's code, or the shape's name.
        tool: That it is cut with.
        steps: Work, step by step.
        material_minor: Consumables at what they cost, rounded half up.
        material_priced_minor: The same times the maker's factor.
        selling_minor: Share of stalls, fees and packing.
        tax_minor: On top of these.
        suggested_minor: All of it, rounded half up to the maker's step.
        marked_minor: The price that is marked now; None where there is none.
        currency: Of all amounts.
    """

    about: str
    tool: str
    steps: tuple[StepCost, ...]
    material_minor: int
    material_priced_minor: int
    selling_minor: int
    tax_minor: int
    suggested_minor: int
    marked_minor: int | None
    currency: str

    @property
    def labour_minor(self) -> int:
        """All steps together."""
        return sum(step.minor for step in self.steps)

    @property
    def seconds(self) -> Decimal:
        """Time of all steps together."""
        return sum((step.time.seconds for step in self.steps), Decimal(0))

    @property
    def cost_minor(self) -> int:
        """Work and consumables at what they cost, and the share of selling."""
        return self.labour_minor + self.material_minor + self.selling_minor


def cost_of_piece(shop: Workshop, *, piece: Code) -> Cost:
    """
    What one piece costs, by the time noted on it; by measured pieces and rates where none was.

    Of an assembled article all parts count, and what was noted on itself.

    Raises:
        NotFound: If the piece is not known.
        Refused: If the workshop has no hourly rate.
    """
    found = load_piece(shop.conn, piece)
    parts = cut_pieces(shop.conn, piece)
    tools = [load_cut(shop.conn, part.cut).tool for part in parts if part.cut]
    times = [
        times_of_piece(shop.conn, part.code, part.shape, tool)
        for part, tool in zip(parts, tools, strict=True)
    ]
    if not found.cut:  # an article: its own assembling and finishing, beside that of its parts
        times.append(times_of_piece(shop.conn, piece, found.shape, ""))
    own = dict.fromkeys((piece, *(part.code for part in parts)))
    material = material_of(shop.conn, list(own), shop.settings.currency)
    tool = " and ".join(dict.fromkeys(tools))
    times_in_all = add_times(times)
    return _cost(shop.settings, piece, tool, times_in_all, material, found.price_minor)


def cost_of_shape(shop: Workshop, *, shape: str, tool: str = "router") -> Cost:
    """
    What a piece of a shape costs: measured times where there are any, else the workshop's rates.

    Args:
        shop: The open workshop.
        shape: Its name; it need not have been cut before.
        tool: That it is cut with.

    Raises:
        Refused: If the workshop has no hourly rate.
    """
    rows = shop.conn.execute(
        "SELECT piece.code FROM piece JOIN cut ON cut.code = cut"
        " WHERE piece.shape = ? AND tool = ?",
        (shape, tool),
    )
    made = [Code(code) for (code,) in rows]
    material = material_of(shop.conn, made, shop.settings.currency) / max(1, len(made))
    times = times_of_shape(shop.conn, shape, tool)
    return _cost(shop.settings, shape, tool, times, material, None)


def _cost(
    settings: Settings,
    about: str,
    tool: str,
    times: Sequence[StepTime],
    material: Decimal,
    marked: int | None,
) -> Cost:
    """The rule itself, on exact numbers; each part is rounded once, and the parts are summed."""
    if not settings.hourly_rate:
        raise Refused(
            "the workshop has no hourly rate", hint="set one: salvage setup hourly-rate=24"
        )
    hour = settings.money("hourly_rate")
    steps = tuple(
        StepCost(time, half_up(time.seconds * hour / _SECONDS_PER_HOUR)) for time in times
    )
    labour = sum(step.minor for step in steps)
    priced = half_up(material * Decimal(settings.material_factor))
    selling = settings.money("selling_cost")
    net = labour + priced + selling
    tax = half_up(Decimal(net) * (settings.tax_ppm or 0) / ONE)
    return Cost(
        about,
        tool,
        steps,
        half_up(material),
        priced,
        selling,
        tax,
        to_step(net + tax, settings.money("price_step")),
        marked,
        settings.currency,
    )


def material_of(conn: sqlite3.Connection, pieces: Sequence[Code], currency: str) -> Decimal:
    """
    What consumables went into some pieces together, in minor units, not rounded.

    A use counts with its part of the pack's cost; one whose amount or cost nobody noted, or whose
    pack was paid in another currency, counts nothing.
    """
    total = Decimal(0)
    for code in pieces:
        for cost, each, whole in conn.execute(_USES, (code, currency)):
            total += Decimal(cost) * each / whole
    return total


_USES = (
    "SELECT cost_minor, each_milli, pack_milli FROM material_use JOIN batch ON batch.code = batch"
    " WHERE material_use.code = ? AND voided = '' AND cost_minor IS NOT NULL AND currency = ?"
    " AND each_milli IS NOT NULL AND pack_milli IS NOT NULL"
)


def suggest_each(shop: Workshop, *, shapes: Sequence[str], tool: str = "router") -> list[int]:
    """Suggested prices of shapes, in order; 0 where neither time nor material is known."""
    costs = [cost_of_shape(shop, shape=shape, tool=tool) for shape in shapes]
    return [cost.suggested_minor if cost.steps else 0 for cost in costs]
