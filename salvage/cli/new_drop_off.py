"""A new drop-off from options or from answers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from salvage.cli.ask import ask
from salvage.cli.failures import Misuse
from salvage.cli.session import Session
from salvage.records.choices import NAMINGS, SOURCE_KINDS, parse_choice
from salvage.units import parse_date, parse_mass_g
from salvage.work.donors import find_donors
from salvage.work.import_drop_offs import parse_count, parse_data_parts
from salvage.work.typed_drop_off import TypedDropOff as Typed
from salvage.work.typed_drop_off import parse_drop_off as parse_typed
from salvage.work.workshop import Workshop

__all__ = ["Typed", "ask_all", "check_complete", "parse_typed"]


def check_complete(typed: Typed) -> None:
    """
    Raise unless everything that is needed was typed.

    Raises:
        Misuse: Naming the options that are missing.
    """
    needed = {"--donor": typed.donor, "--contents": typed.contents}
    missing = [flag for flag, text in needed.items() if not text.strip()]
    if missing:
        told = "typed on a terminal without any option, it asks"
        raise Misuse(f"give {' and '.join(missing)}; {told}")


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
