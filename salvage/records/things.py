"""
The things of the workshop as they stand now: one record for each row of the projection.

Fields carry the tables' names and units: ``_um`` micrometres, ``_um2`` square micrometres, ``_mg``
milligrams, ``_minor`` minor money units.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class Donor:
    """Who gave; name and contact are sealed, and kept apart from the journal."""

    code: Code
    source_kind: str
    described_as: str
    naming: str
    naming_how: str
    naming_at: str
    name_seal: str | None
    contact_seal: str | None


@dataclass(frozen=True, slots=True)
class DropOff:
    """One delivery from one donor."""

    code: Code
    donor: Code
    received_on: str
    channel: str
    contents: str
    board_count: int | None
    weight_mg: int | None
    origin: str
    origin_country: str
    story: str
    notes: str
    received_by: str


@dataclass(frozen=True, slots=True)
class DataPart:
    """A data-bearing part of a drop-off and how its custody stands."""

    drop_off: Code
    n: int
    part: str
    count: int
    state: str
    how: str
    settled_by: str
    settled_at: str


@dataclass(frozen=True, slots=True)
class Board:
    """One circuit board, from intake on."""

    code: Code
    drop_off: Code
    type: str
    maker: str
    model: str
    date_code: str
    colour: str
    thickness_um: int | None
    weight_mg: int | None
    lead_status: str
    lead_evidence: str
    place: str
    notes: str
    outline: str | None
    outline_from: str
    outline_um2: int
    usable_um2: int
    clearance: str
    recalled: int
    cut_count: int
    retired: str
    label_printed: int
    recorded_at: str

    @property
    def title(self) -> str:
        """Maker, model and type in words, as far as they are known."""
        words = " ".join(part for part in (self.maker, self.model) if part)
        kind = self.type.replace("-", " ")
        return f"{words} {kind}" if words else kind


@dataclass(frozen=True, slots=True)
class HazardCheck:
    """What was found and done about one hazard on one board."""

    board: Code
    hazard: str
    finding: str
    outcome: str
    how: str
    goes_to: str
    reason: str
    by: str
    at: str

    @property
    def is_settled(self) -> bool:
        """True when the hazard no longer holds the board."""
        return self.finding == "absent" or self.outcome in ("removed", "accepted")


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A region of a board that must not be cut into a piece."""

    board: Code
    n: int
    reason: str
    region: str
    lifted: int


@dataclass(frozen=True, slots=True)
class Reservation:
    """A region of a board held for somebody."""

    code: Code
    board: Code
    for_whom: str
    shape: str
    region: str
    x_um: int
    y_um: int
    angle_mdeg: int
    mirrored: int
    state: str
    plan: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """An order with the places that are held for it, until a day."""

    code: Code
    for_whom: str
    made_at: str
    holds_until: str
    tool: str
    kerf_um: int
    state: str
    reason: str


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One shape of a plan: how many are wanted, and how many found no place."""

    plan: Code
    n: int
    name: str
    shape: str
    shape_sha256: str
    region: str
    quantity: int
    unmet: int
    reason: str


@dataclass(frozen=True, slots=True)
class PlanShear:
    """One straight cut of a plan for shears, from edge to edge of the panel in the hand."""

    plan: Code
    n: int
    board: Code
    from_x_um: int
    from_y_um: int
    to_x_um: int
    to_y_um: int


@dataclass(frozen=True, slots=True)
class Cut:
    """A region taken out of a board, as a piece or as scrap."""

    code: Code
    board: Code
    outcome: str
    side: str
    tool: str
    shape: str
    shape_sha256: str
    x_um: int
    y_um: int
    angle_mdeg: int
    mirrored: int
    kerf_um: int
    region: str
    area_um2: int
    usable_before_um2: int
    usable_after_um2: int
    override_reason: str
    reservation: str
    reason: str
    by: str
    at: str
    clock: int


@dataclass(frozen=True, slots=True)
class Piece:
    """One finished or half-finished article; an assembled one has no cut and board of its own."""

    code: Code
    cut: Code | None
    board: Code | None
    shape: str
    stage: str
    recalled: int
    price_minor: int | None
    currency: str
    weight_mg: int | None
    custody: str
    label_printed: int
    cards_printed: int
    made_at: str


@dataclass(frozen=True, slots=True)
class Sale:
    """One sale of a piece; a returned piece may be sold again."""

    piece: Code
    n: int
    price_minor: int
    currency: str
    venue: str
    sold_on: str
    returned_on: str
    reason: str


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo of a board, piece or drop-off; the bytes lie in the file store."""

    code: Code
    n: int
    sha256: str
    side: str
    caption: str
    width_px: int
    height_px: int
    corners: str
    taken_at: str


@dataclass(frozen=True, slots=True)
class Shape:
    """A named outline of the workshop's own library."""

    name: str
    region: str
    area_um2: int
    width_um: int
    height_um: int
    sha256: str
    finest: int = 0


@dataclass(frozen=True, slots=True)
class PrintedMat:
    """A printed photo mat; its bars are what a ruler reads on them, null until somebody did."""

    serial: str
    paper: str
    colour: str
    family: int
    bar_x_um: int | None
    bar_y_um: int | None
    printed_at: str


@dataclass(frozen=True, slots=True)
class Consignment:
    """What left for a recycler."""

    code: Code
    receiver: str
    contents: str
    weight_mg: int
    sent_on: str
    document: str
    drop_off: Code | None


@dataclass(frozen=True, slots=True)
class Device:
    """A device of the workshop, with the letter that stands in the codes it gives."""

    letter: str
    name: str
    joined_at: str
