"""Orders, outings, slips and times as they stand now: one record for each row of their tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

PAYMENTS = ("cash", "card", "transfer", "other")
"""How people pay."""

STEPS = ("preparation", "cutting", "finishing", "assembling", "packing")
"""Steps of the work that time is noted for."""


@dataclass(frozen=True, slots=True)
class Order:
    """What a customer asked for; name and contact are sealed, and kept apart from the journal."""

    code: Code
    name_seal: str | None
    contact_seal: str | None
    taken_on: str
    due_on: str
    donor: str
    drop_off: str
    notes: str
    state: str
    reason: str
    taken_by: str


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One shape of an order."""

    customer_order: Code
    n: int
    name: str
    shape: str
    shape_sha256: str
    region: str
    quantity: int


@dataclass(frozen=True, slots=True)
class Quote:
    """A price that was offered for an order, until a day."""

    customer_order: Code
    n: int
    total_minor: int
    currency: str
    valid_until: str
    made_on: str
    notes: str


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """What one piece of one shape of an order costs by a quote."""

    customer_order: Code
    quote: int
    n: int
    name: str
    quantity: int
    each_minor: int


@dataclass(frozen=True, slots=True)
class SetAside:
    """A piece from the shelf that waits for an order."""

    piece: Code
    customer_order: Code
    line: int


@dataclass(frozen=True, slots=True)
class Outing:
    """A craft fair or market day."""

    code: Code
    name: str
    place: str
    begins_on: str
    ends_on: str
    stall_fee_minor: int
    currency: str
    notes: str
    state: str
    float_minor: int
    opened_device: str
    opened_at: str
    closed_at: str
    expected_minor: int | None
    counted_minor: int | None
    reason: str
    stock_take: str


@dataclass(frozen=True, slots=True)
class OutingPiece:
    """A piece that was packed for an outing, with the two letters that stand for it there."""

    outing: Code
    piece: Code
    key: str
    state: str


@dataclass(frozen=True, slots=True)
class OutingCash:
    """Cash that went into the box, or out of it, without a sale."""

    id: str
    outing: Code
    amount_minor: int
    currency: str
    reason: str
    at: str


@dataclass(frozen=True, slots=True)
class Slip:
    """One sale or refund, with how it was paid."""

    number: str
    kind: str
    day: str
    at: str
    paid_by: str
    currency: str
    venue: str
    outing: str
    customer_order: str
    tax_ppm: int | None
    tax_note: str
    notes: str
    operation: str


@dataclass(frozen=True, slots=True)
class SlipLine:
    """One piece on a slip."""

    slip: str
    n: int
    piece: str
    sale_n: int
    words: str
    list_minor: int
    discount_minor: int
    paid_minor: int
    tax_minor: int
    fee_minor: int
    is_gift: int


@dataclass(frozen=True, slots=True)
class StepRate:
    """Time that the workshop reckons with for one step of one shape by one tool."""

    shape: str
    step: str
    tool: str
    seconds: int
