"""Selling at the stall: several pieces on one slip, discounts, gifts, exchanges and returns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from salvage.errors import BadValue, Refused
from salvage.ids import Code
from salvage.records.season import PAYMENTS
from salvage.store.change import Change
from salvage.units import format_money
from salvage.work.slips import (
    NO_DISCOUNT,
    Discount,
    SaleItem,
    SlipView,
    Terms,
    append_refund,
    append_sale,
    settle_terms,
)
from salvage.work.workshop import Workshop

__all__ = ["Discount", "SaleItem", "Sold", "Terms", "sell_pieces"]


@dataclass(frozen=True, slots=True)
class Sold:
    """
    What a sale came to.

    Args:
        sale: The slip of what was sold; None where things only came back.
        refunds: A slip for each piece that came back.
        given_minor: What the buyer laid down; None where nobody said.
        currency: Of all amounts.
    """

    sale: SlipView | None
    refunds: tuple[SlipView, ...]
    given_minor: int | None
    currency: str

    @property
    def to_pay_minor(self) -> int:
        """What the buyer pays; below zero, what the buyer is given."""
        paid = self.sale.total_minor if self.sale else 0
        return paid - sum(refund.total_minor for refund in self.refunds)

    @property
    def change_minor(self) -> int | None:
        """What goes back of the money that was laid down."""
        return None if self.given_minor is None else self.given_minor - self.to_pay_minor


def sell_pieces(
    shop: Workshop,
    *,
    items: Sequence[SaleItem],
    terms: Terms,
    back: Sequence[Code] = (),
    discount: Discount = NO_DISCOUNT,
    given_minor: int | None = None,
    dry_run: bool = False,
) -> Sold:
    """
    Sell pieces on one slip, and take others back in the same step, as in an exchange.

    Args:
        shop: The open workshop.
        items: What is sold; may be empty where something comes back.
        terms: How, when and where.
        back: Pieces that come back; all that was paid for them is given back.
        discount: Off the whole sale, shared over its pieces by price.
        given_minor: What the buyer laid down, so that the change is told.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If a piece is not known.
        Refused: If a piece may not be sold, did not go out, or the outing is not open.
        BadValue: If nothing is sold or taken back, a piece comes twice, a price is missing, it is
            not said why something came back, or too little was laid down.
    """
    _check(items, back, terms)

    def steps(change: Change) -> Sold:
        settled = settle_terms(change, terms)
        refunds = tuple(append_refund(change, code, settled) for code in back)
        refunded = sum(refund.total_minor for refund in refunds)
        sale = (
            append_sale(change, items, settled, discount=discount, refunded=refunded)
            if items
            else None
        )
        slip = sale or refunds[0]
        sold = Sold(sale, refunds, given_minor, slip.slip.currency)
        if sold.change_minor is not None and sold.change_minor < 0:
            due = format_money(sold.to_pay_minor, sold.currency)
            raise BadValue(f"that is less than the {due} to pay", field="--given")
        return sold

    return shop.commit("sell pieces", steps, dry_run=dry_run)


def _check(items: Sequence[SaleItem], back: Sequence[Code], terms: Terms) -> None:
    if not items and not back:
        raise BadValue("say what is sold", hint="codes, or keys of the packing list")
    if terms.paid_by not in ("", *PAYMENTS):
        words = ", ".join(PAYMENTS)
        raise BadValue(f"'{terms.paid_by}' is no way to pay", hint=f"use one of: {words}")
    named = [item.piece for item in items if item.piece] + list(back)
    twice = sorted({code for code in named if named.count(code) > 1})
    if twice:
        raise Refused(f"{twice[0]} comes twice in one sale", hint="each piece has its own code")
    if back and not terms.notes.strip():
        raise BadValue("say why it came back", field="--reason")
