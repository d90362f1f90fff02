"""A new drop-off from options or from answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from salvage.cli.ask import ask
from salvage.cli.failures import Misuse
from salvage.cli.gather import Gatherer
from salvage.cli.session import Session
from salvage.ids import Code
from salvage.records.choices import CHANNELS, NAMINGS, SOURCE_KINDS, parse_choice
from salvage.units import parse_date, parse_mass_g
from salvage.work.donors import NewDonor, check_naming, choose_donor, find_donors
from salvage.work.import_drop_offs import parse_count, parse_data_parts
from salvage.work.receive import NewDropOff
from salvage.work.workshop import Workshop

Parsed = TypeVar("Parsed")


@dataclass(frozen=True)
class Typed:
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


def check_complete(typed: Typed) -> None:
    """
    Raise unless everything that is needed was typed.

    Raises:
        Misuse: Naming the options that are missing.
    """
    needed = {"--donor": typed.donor, "--contents": typed.contents}
    missing = [flag for flag, text in needed.items() if not text.strip()]
    if missing:
        raise Misuse(f"give {' and '.join(missing)}, or run it on a terminal to be asked")


def parse_typed(shop: Workshop, typed: Typed) -> tuple[Code | NewDonor, NewDropOff]:
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


def _choose(shop: Workshop, typed: Typed, told: NewDonor) -> Code | NewDonor:
    said = {"source_kind": typed.source, "naming": typed.naming}
    stated = [name for name, text in said.items() if text]
    donor = choose_donor(shop, typed=typed.donor, new=told, stated=stated)
    if isinstance(donor, NewDonor):
        check_naming(donor.naming, donor.described_as, donor.name)
    return donor


def _optional(gather: Gatherer, text: str, parse: Callable[[str], Parsed]) -> Parsed | None:
    return gather.take(lambda: parse(text), None) if text else None


def ask_all(session: Session, shop: Workshop) -> Typed:
    """
    Ask for a drop-off, field by field, each mistake told at once.

    Args:
        session: The run, on a terminal.
        shop: The open workshop.
    """
    answers = Typed(donor=ask(session, "Who brought it", lambda text: _needed(text, "a name")))
    known = find_donors(shop, answers.donor)
    if len(known) > 1:
        codes = tuple(view.donor.code for view in known)
        question = f"{len(known)} donors have this name ({', '.join(codes)}); which"
        answers = replace(answers, donor=ask(session, question, lambda t: parse_choice(t, codes)))
    answers = _ask_delivery(session, shop, answers)
    return answers if known else _ask_donor(session, answers)


def _ask_delivery(session: Session, shop: Workshop, answers: Typed) -> Typed:
    return replace(
        answers,
        contents=ask(session, "What arrived", lambda text: _needed(text, "what arrived")),
        boards=ask(session, "How many boards (empty if not counted)", _kept(parse_count)),
        weight=ask(session, "Weight with unit (empty if not weighed)", _kept(parse_mass_g)),
        data=(
            ask(
                session,
                "Parts that hold data, 'hard disk:2' or 'none found' (empty: nobody looked)",
                _kept(parse_data_parts),
            ),
        ),
        date=ask(
            session, "When", _kept(lambda t: parse_date(t, today=shop.today)), default="today"
        ),
    )


def _ask_donor(session: Session, answers: Typed) -> Typed:
    def one_of(choices: tuple[str, ...]) -> Callable[[str], str]:
        return lambda text: parse_choice(text, choices)

    source = ask(
        session,
        f"Kind of source ({', '.join(SOURCE_KINDS)})",
        one_of(SOURCE_KINDS),
        default="other",
    )
    naming = ask(
        session,
        f"May cards name the donor ({', '.join(NAMINGS)})",
        one_of(NAMINGS),
        default="anonymous",
    )
    answers = replace(answers, source=source, naming=naming)
    if naming == "described":
        words = ask(session, "Described as, such as 'a planetarium'", lambda t: _needed(t, "words"))
        answers = replace(answers, described_as=words)
    return answers


def _needed(text: str, what: str) -> str:
    from salvage.errors import BadValue

    if not text:
        raise BadValue(f"{what} is needed")
    return text


def _kept(parse: Callable[[str], object]) -> Callable[[str], str]:
    """A check of an answer that keeps it as typed; an empty answer passes."""

    def check(text: str) -> str:
        if text:
            parse(text)
        return text

    return check
