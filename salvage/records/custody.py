"""Records of the custody of data-bearing parts, and the words their fields may hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from salvage.ids import Code

MEDIA_TYPES = ("magnetic", "flash", "hybrid", "optical", "other")
"""What a medium keeps its data in."""

MEDIA_OF_PART = {
    "hard disk": "magnetic",
    "solid-state drive": "flash",
    "memory card": "flash",
    "phone or tablet": "flash",
    "soldered storage": "flash",
    "optical disc": "optical",
}
"""The usual medium of a kind of part; any other must be said."""

ROLES = ("workshop", "carrier", "sanitiser", "recycler", "donor", "other")
"""Who a medium is handed to."""

METHODS = ("clear", "purge", "destroy")
"""The three methods of NIST SP 800-88."""

VERIFICATIONS = ("full", "sampled", "status only", "looked at")
"""How it was verified: all of it read, a sample, the tool's own word, or by looking at it."""

VALIDATIONS = ("accept", "repeat", "escalate")
"""What was decided on the result; only ``accept`` ends the custody."""

DIE_STATES = ("destroyed", "intact", "not checked", "cannot tell", "has none")
"""What was seen of the memory die itself; unknown counts as intact."""


@dataclass(frozen=True, slots=True)
class DataSearch:
    """One search of a drop-off for data-bearing parts; nothing found is a record as well."""

    drop_off: Code
    n: int
    found: str
    scope: str
    how: str
    photo: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Medium:
    """What is known of one medium; its serial number and source are sealed."""

    drop_off: Code
    n: int
    maker: str
    model: str
    serial_seal: str | None
    media_type: str
    source_seal: str | None
    confidentiality: str


@dataclass(frozen=True, slots=True)
class HandOver:
    """One hand-over of a medium; the name of whoever took it is sealed."""

    drop_off: Code
    n: int
    step: int
    on_day: str
    role: str
    to_seal: str | None
    place: str
    document: str
    note: str
    photo: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Sanitising:
    """One attempt to make a medium's data unreadable, with the fields of a certificate."""

    drop_off: Code
    n: int
    attempt: int
    method: str
    technique: str
    standard: str
    tool: str
    die: str
    done_by: str
    done_on: str
    place: str
    verification: str
    verified_by: str
    verified_title: str
    verified_on: str
    verified_place: str
    contact_seal: str | None
    validation: str
    destination: str
    note: str
    photo: str
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class DropOffClosed:
    """That a drop-off was closed."""

    drop_off: Code
    note: str
    by: str
    at: str
