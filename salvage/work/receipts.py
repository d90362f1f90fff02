"""The receipt for a drop-off, in the workshop's own wording, which the record keeps."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING

from salvage.ids import Code
from salvage.records.things import DropOff
from salvage.store.change import Change
from salvage.store.journal import read_head
from salvage.work.donors import UNNAMED
from salvage.work.papers import fonts_of, naming_glyph, symbol_svg
from salvage.work.receive import DropOffView, view_drop_off
from salvage.work.wordings import local_of, note_printed
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.local import Local
    from salvage.paper.receipt import Receipt


def print_receipt(
    shop: Workshop, *, drop_off: Code, with_name: bool = False, dry_run: bool = False
) -> bytes:
    """
    The receipt for a drop-off as PDF, and a record of what it said in which wording.

    Args:
        shop: The open workshop.
        drop_off: The drop-off's code.
        with_name: Print the donor's own name although cards may not give it; for the donor's copy.
        dry_run: Do everything, then roll back.

    Raises:
        NotFound: If there is no such drop-off.
    """
    from salvage.paper.receipt import print_receipt as typeset_receipt

    def steps(change: Change) -> bytes:
        view = view_drop_off(change.conn, drop_off)
        receipt = compose_receipt(shop, view, with_name=with_name)
        with naming_glyph(f"the receipt of {drop_off}"):
            pdf = typeset_receipt(
                receipt,
                made_on=shop.today,
                paper=shop.settings.paper,
                extra_fonts=fonts_of(shop),
            )
        naming = "own copy" if with_name else view.donor.donor.naming
        note_printed(
            change, "receipt", drop_off, receipt.local.words, _said(receipt), naming=naming
        )
        return pdf

    return shop.commit("print receipt", steps, dry_run=dry_run)


def _said(receipt: Receipt) -> dict[str, str]:
    """What the receipt says apart from its wording, the donor's name left out."""
    left_out = ("donor", "symbol_svg", "local", "journal_count", "journal_hash")
    return {name: str(value) for name, value in asdict(receipt).items() if name not in left_out}


def compose_receipt(shop: Workshop, view: DropOffView, *, with_name: bool) -> Receipt:
    """Everything that a receipt says, from the record and the wording."""
    from salvage.paper.receipt import Receipt
    from salvage.paper.wording import fill

    found, settings, head = view.drop_off, shop.settings, read_head(shop.conn, shop.settings.device)
    donor, local = view.donor, local_of(shop, "receipt")
    words = local.words
    wish = donor.donor.naming
    named = words["unnamed"] if donor.public == UNNAMED else donor.public
    return Receipt(
        code=found.code,
        received_on=date.fromisoformat(found.received_on),
        workshop=settings.name,
        web_address=settings.web_address,
        symbol_svg=symbol_svg(found.code),
        donor=(donor.name if with_name else "") or named,
        naming=fill(words, wish, words=donor.donor.described_as),
        contents=_contents(found, local),
        weight=local.mass(found.weight_mg) if found.weight_mg else "",
        data_parts=tuple(_promise(part.part, part.count, local) for part in view.data_parts),
        terms=(words["terms"],) if words["terms"].strip() else (),
        journal_count=head.count,
        journal_hash=head.hash,
        local=local,
    )


def _contents(drop_off: DropOff, local: Local) -> tuple[str, ...]:
    from salvage.paper.wording import fill

    if drop_off.board_count:
        counted = fill(local.words, "boards_counted", count=drop_off.board_count)
        return (drop_off.contents, counted)
    return (drop_off.contents,)


def _promise(part: str, count: int, local: Local) -> tuple[str, str]:
    words = local.words
    if part == "none found":
        return (words["data_searched"], words["data_none_found"])
    return (f"{count} × {part}", words["data_promised"])
