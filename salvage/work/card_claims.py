"""What a card may say about children and lead: it follows from the record and claims no more."""

from __future__ import annotations

from collections.abc import Sequence

from salvage.knowledge.cautions import card_cautions
from salvage.knowledge.lead import LeadResult, lead_statement
from salvage.records.gate import Assay
from salvage.records.things import Board, Piece
from salvage.work.assays import amount_of
from salvage.work.gate import gate_of
from salvage.work.touchable import SeenPart
from salvage.work.workshop import Workshop

NOT_FOR_CHILDREN = "Not for children"
"""On labels and tags, unless each part has evidence for the markets where the workshop sells."""


def card_care(shop: Workshop, piece: Piece, boards: Sequence[Board]) -> tuple[str, ...]:
    """Care and cautions, then what is known about lead in each board of the piece."""
    gate = gate_of(shop.conn, piece, shop.settings.markets, shop.today)
    cautions = card_cautions(children_evidence=gate.for_children)
    tested = [(part, _highest(part)) for part in gate.parts]
    results = [
        LeadResult(_named(part), str(amount_of(assay)), assay.method, assay.tested_on)
        for part, assay in tested
        if assay
    ]
    untested = [_named(part) for part, assay in tested if assay is None]
    leads = dict.fromkeys(
        lead_statement(
            board.lead_status, results, untested=untested, for_children=gate.for_children
        ).text
        for board in boards
    )
    return (" ".join(caution.text for caution in cautions), *leads)


def _named(part: SeenPart) -> str:
    return f"{part.part} of {part.of}" if part.of else part.part


def _highest(part: SeenPart) -> Assay | None:
    """The highest standing result for the lead that a part holds."""
    found = [a for a in part.assays if (a.analyte, a.measure) == ("lead", "content")]
    return max(found, key=lambda a: amount_of(a).exact, default=None)


def audience_line(shop: Workshop, piece: Piece) -> str:
    """The line for a label or tag; empty only for what is marked for children with evidence."""
    gate = gate_of(shop.conn, piece, shop.settings.markets, shop.today)
    return "" if gate.for_children else NOT_FOR_CHILDREN
