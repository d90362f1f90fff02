"""A drop-off as people type it, one text for each field, whatever the face."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from salvage.ids import Code
from salvage.records.choices import CHANNELS, NAMINGS, SOURCE_KINDS, parse_choice
from salvage.units import parse_date, parse_mass_g
from salvage.work.donors import NewDonor, check_naming, choose_donor
from salvage.work.gather import Gatherer
from salvage.work.import_drop_offs import parse_count, parse_data_parts
from salvage.work.receive import NewDropOff
from salvage.work.workshop import Workshop

Parsed = TypeVar("Parsed")


@dataclass(frozen=True)
class TypedDropOff:
    """
    What was typed for a drop-off, one text for each field; empty for what was left out.

    Args:
        donor: Name or code.
        contents: What arrived.
        boards: Count.
        weight: With its unit.
        source: Kind of source.
        naming: The donor's wish.
        naming_how: How the wish was given.
        described_as: Words that may stand for the name.
        contact: Address or telephone.
        data: Data-bearing parts.
        date: Day it arrived.
        channel: How it came.
        origin: Coarse place, for the story.
        origin_country: Country code.
        story: What the donor told.
        notes: For the workshop only.
    """

    donor: str = ""
    contents: str = ""
    boards: str = ""
    weight: str = ""
    source: str = ""
    naming: str = ""
    naming_how: str = ""
    described_as: str = ""
    contact: str = ""
    data: tuple[str, ...] = field(default=())
    date: str = ""
    channel: str = ""
    origin: str = ""
    origin_country: str = ""
    story: str = ""
    notes: str = ""


def parse_drop_off(shop: Workshop, typed: TypedDropOff) -> tuple[Code | NewDonor, NewDropOff]:
    """
    Donor and drop-off from what was typed.

    Args:
        shop: The open workshop, which may know the donor.
        typed: The texts.

    Raises:
        SalvageError: The one mistake, or all of them together.
    """
    gather = Gatherer()

    def choice(text: str, choices: tuple[str, ...], flag: str, default: str) -> str:
        return gather.take(lambda: parse_choice(text or default, choices, field=flag), default)

    new = NewDropOff(
        received_on=gather.take(
            lambda: parse_date(typed.date or "today", today=shop.today, field="--date"), shop.today
        ),
        contents=typed.contents,
        board_count=_optional(gather, typed.boards, lambda t: parse_count(t, field="--boards")),
        weight_g=_optional(gather, typed.weight, lambda t: parse_mass_g(t, field="--weight")),
        channel=choice(typed.channel, CHANNELS, "--channel", "by hand"),
        origin=typed.origin,
        origin_country=typed.origin_country.upper(),
        story=typed.story,
        notes=typed.notes,
        data_parts=gather.take(lambda: parse_data_parts(";".join(typed.data), field="--data"), ()),
    )
    told = NewDonor(
        name=" ".join(typed.donor.split()),
        source_kind=choice(typed.source, SOURCE_KINDS, "--source", "other"),
        naming=choice(typed.naming, NAMINGS, "--naming", "anonymous"),
        naming_how=typed.naming_how,
        described_as=typed.described_as,
        contact=typed.contact,
    )
    donor: Code | NewDonor = told
    donor = gather.take(lambda: _choose(shop, typed, told), donor)
    gather.finish()
    return donor, new


def _choose(shop: Workshop, typed: TypedDropOff, told: NewDonor) -> Code | NewDonor:
    said = {"source_kind": typed.source, "naming": typed.naming}
    stated = [name for name, text in said.items() if text]
    donor = choose_donor(shop, typed=typed.donor, new=told, stated=stated)
    if isinstance(donor, NewDonor):
        check_naming(donor.naming, donor.described_as, donor.name)
    return donor


def _optional(gather: Gatherer, text: str, parse: Callable[[str], Parsed]) -> Parsed | None:
    return gather.take(lambda: parse(text), None) if text else None
