"""Waste as it stands now: one record for each row of the projection."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code


@dataclass(frozen=True, slots=True)
class WasteContainer:
    """A drum, box or bag for one kind of waste; a limit of days may run from its first day."""

    code: Code
    kind: str
    words: str
    opened_on: str
    limit_days: int | None
    rule: str
    place: str
    notes: str
    closed_on: str


@dataclass(frozen=True, slots=True)
class WasteItem:
    """What went into a container; its weight is null where nobody weighed or estimated it."""

    container: Code
    n: int
    what: str
    source: str
    hazard: str
    matter: str
    weight_mg: int | None
    weighed: int
    whole: int
    put_on: str
    clock: int


@dataclass(frozen=True, slots=True)
class ConsignmentDetail:
    """The receiver's permit, and what the receiver confirmed."""

    consignment: Code
    permit: str
    confirmed_on: str
    confirmed_mg: int | None
    confirmation: str


@dataclass(frozen=True, slots=True)
class ConsignmentItem:
    """One thing of a consignment: a container, a whole board, or something loose."""

    consignment: Code
    n: int
    what: str
    code: str
    words: str
    weight_mg: int
    weighed: int
    drop_off: Code | None


@dataclass(frozen=True, slots=True)
class BoardWeighing:
    """What a board weighed on a later day."""

    event_id: str
    board: Code
    weight_mg: int
    weighed_on: str
    clock: int


@dataclass(frozen=True, slots=True)
class BoardCopper:
    """Copper layers of a board, and thousandths of an ounce a square foot on each."""

    board: Code
    layers: int
    copper_moz: int
