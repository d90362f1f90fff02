"""``salvage facts``: limits, materials and rules that the program knows, each with its source."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.records import source_words
from salvage.cli.session import Session, session_of
from salvage.cli.show import Column, paint, say, say_wrapped, show_list, show_record, warn

if TYPE_CHECKING:
    from datetime import date

    import typer

    from salvage.knowledge.limits import Limit
    from salvage.knowledge.materials import MaterialFact
    from salvage.knowledge.removal import RemovalItem
    from salvage.knowledge.size_rules import SizeVerdict
    from salvage.knowledge.source import Source

commands = CommandSet(
    "facts",
    "Limits, materials and rules with their sources; rows of your own.",
    "salvage facts limits --topic exposure",
)


def source_fields(source: Source) -> dict[str, Any]:
    """A source in JSON: in words, and whether it is weak or the workshop's own."""
    return {
        "source": source_words(source),
        "source_is_weak": source.is_weak,
        "is_own": source.is_own,
    }


def _defer(session: Session) -> None:
    from salvage.knowledge.cautions import closing_line

    warn(session, closing_line().text)


@commands.command("limits", example="salvage facts limits --topic jewellery --market EU")
def limits_(
    context: typer.Context,
    topic: Annotated[
        str, typer.Option(metavar="TOPIC", help="Such as jewellery, exposure or waste.")
    ] = "",
    market: Annotated[
        str, typer.Option(metavar="WORDS", help="Such as EU, California or US federal.")
    ] = "",
) -> None:
    """List limits and duties as they were read; expired ones say so."""
    from salvage.knowledge.limits import limits
    from salvage.work.own_facts import own_limits

    session = session_of(context)
    with session.open_if_there() as shop:
        own, today = own_limits(shop.conn) if shop else (), session.today
    found = [
        limit
        for limit in limits(own=own)
        if topic.lower() in limit.topic.lower() and market.lower() in limit.jurisdiction.lower()
    ]
    records = [limit_record(limit, today) for limit in found]
    if session.form:
        show_list(session, records, _LIMIT_COLUMNS, empty="")
        return
    for limit in found:
        _say_limit(session, limit, today)
    if not found:
        say(session, "no such limits; 'salvage facts limits' lists all")
    _defer(session)


def limit_record(limit: Limit, today: date) -> dict[str, Any]:
    """A limit in JSON, with how it stands today."""
    return asdict(limit) | {
        "state": limit.state_on(today),
        "words": limit.words,
        "ppm": limit.ppm,
        **source_fields(limit.source),
    }


_LIMIT_COLUMNS = (
    Column("limit", "slug"),
    Column("market", "jurisdiction"),
    Column("subject", "subject"),
    Column("limit", "words"),
    Column("state", "state"),
    Column("source", "source"),
)


def _say_limit(session: Session, limit: Limit, today: date) -> None:
    state = limit.state_on(today)
    mark = "" if state == "in force" else f", {state.upper()}"
    head = f"{limit.slug}: {limit.jurisdiction}, {limit.subject}: {limit.words}{mark}"
    weak = limit.source.is_weak or bool(mark)
    say(session, paint(session, head, "quiet" if weak else "strong"))
    told = {"scope": limit.scope, "note": limit.note, "source": limit.source.marked_words}
    for name, text in told.items():
        if text:
            say_wrapped(session, f"  {name + ':':<11}{text}", indent=13, always=True)


@commands.command("materials", example="salvage facts materials")
def materials(context: typer.Context) -> None:
    """List densities, thicknesses and shares that estimates rest on."""
    from salvage.knowledge.materials import material_facts
    from salvage.work.own_facts import own_materials

    session = session_of(context)
    with session.open_if_there() as shop:
        found = (*material_facts(), *(own_materials(shop.conn) if shop else ()))
    if session.form:
        show_list(session, [_material_record(fact) for fact in found], _MATERIAL_COLUMNS, empty="")
        return
    for fact in found:
        unit = "" if fact.unit == "1" else f" {fact.unit}"
        head = f"{fact.slug}: {fact.name}: {fact.value:g}{unit}"
        say(session, paint(session, head, "quiet" if fact.source.is_weak else "strong"))
        told = {"note": fact.note, "source": fact.source.marked_words}
        for name, text in told.items():
            if text:
                say_wrapped(session, f"  {name + ':':<11}{text}", indent=13, always=True)


def _material_record(fact: MaterialFact) -> dict[str, Any]:
    return asdict(fact) | source_fields(fact.source)


_MATERIAL_COLUMNS = (
    Column("fact", "slug"),
    Column("what", "name"),
    Column("value", "value"),
    Column("unit", "unit"),
    Column("source", "source"),
)


@commands.command("removal", example="salvage facts removal")
def removal(context: typer.Context) -> None:
    """List what WEEE Annex VII wants taken out, and which of our hazards covers each item."""
    from salvage.knowledge.removal import removal_list

    session = session_of(context)
    items = removal_list()
    if session.form:
        show_list(session, [_removal_record(item) for item in items], _REMOVAL_COLUMNS, empty="")
        return
    for item in items:
        say_wrapped(session, f"{item.point}.{item.item}  {item.words}", indent=6, always=True)
        covered = ", ".join(item.hazards) or f"not on our list: {item.why_not}"
        say_wrapped(session, f"      {covered}", indent=6, always=True)
    say_wrapped(session, f"source: {items[0].source.marked_words}", indent=8, always=True)
    _defer(session)


def _removal_record(item: RemovalItem) -> dict[str, Any]:
    return asdict(item) | {"hazards": list(item.hazards), **source_fields(item.source)}


_REMOVAL_COLUMNS = (
    Column("item", "slug"),
    Column("point", "point"),
    Column("number", "item"),
    Column("what", "words"),
    Column("hazards", "hazards", lambda slugs: ", ".join(slugs)),
    Column("why not", "why_not"),
    Column("source", "source"),
)


@commands.command("capacitor", example="salvage facts capacitor --height 35 --diameter 22")
def capacitor(
    context: typer.Context,
    height: Annotated[str, typer.Option(metavar="MM", help="Of the can, without leads.")] = "",
    diameter: Annotated[str, typer.Option(metavar="MM", help="Of the can.")] = "",
    date_code: Annotated[
        str, typer.Option(metavar="CODE", help="Of an oil-filled one, as printed on it.")
    ] = "",
    oil: Annotated[
        bool, typer.Option("--oil", help="It is oil-filled: judge its date, not its size.")
    ] = False,
) -> None:
    """Say whether a capacitor counts as hazardous by its size, or an oil-filled one by its date."""
    from salvage.knowledge.size_rules import judge_capacitor, judge_pcb_date
    from salvage.units import parse_length_mm

    session = session_of(context)
    if oil or date_code:
        verdict = judge_pcb_date(date_code, today=session.today)
        words = ("counts as PCB: keep it whole and apart", "need not be taken for PCB")
    else:
        sizes = [
            parse_length_mm(text, field=field, most_mm=500) if text else None
            for text, field in ((height, "--height"), (diameter, "--diameter"))
        ]
        verdict = judge_capacitor(*sizes)
        words = ("counts as large: take it off", "need not come off for its size")
    _tell_verdict(session, verdict, words)


def _tell_verdict(session: Session, verdict: SizeVerdict, words: tuple[str, str]) -> None:
    record = {
        "flagged": verdict.flagged,
        "reasons": list(verdict.reasons),
        **source_fields(verdict.source),
    }
    lines = [words[0] if verdict.flagged else words[1]]
    lines += [f"  {reason}" for reason in verdict.reasons]
    lines += [f"  source: {verdict.source.marked_words}"]
    show_record(session, record, lines=lines, plain=("flagged", "source"))
    if not session.form:
        _defer(session)


@commands.command("date", example="salvage facts date 0626")
def date_(
    context: typer.Context,
    code: Annotated[str, typer.Argument(metavar="CODE", help="As printed on a part.")],
) -> None:
    """Read a date code, year then week: the earliest a board can have been put together."""
    from salvage.knowledge.date_codes import read_date_code

    session = session_of(context)
    reading = read_date_code(code, today=session.today)
    source = "ISO 8601 weeks, from memory, checked by computing; some makers count otherwise"
    record = {
        "raw": reading.raw,
        "earliest": reading.earliest.isoformat() if reading.earliest else None,
        "latest": reading.latest.isoformat() if reading.latest else None,
        "note": reading.note,
        "source": source,
    }
    days = f"{reading.earliest} to {reading.latest}" if reading.earliest else "not read as a date"
    lines = [f"{reading.raw}: {days}", f"  {reading.note}", f"  source: weak: {source}"]
    show_record(session, record, lines=lines, plain=("raw", "earliest", "latest", "note"))


@commands.command("dust", example="salvage facts dust 100 --kerf 2 --thickness 1.57")
def dust(
    context: typer.Context,
    length: Annotated[str, typer.Argument(metavar="MM", help="Length of the cut.")],
    kerf: Annotated[str, typer.Option(metavar="MM", help="Width of the tool.")] = "",
    thickness: Annotated[str, typer.Option(metavar="MM", help="Of the board.")] = "",
) -> None:
    """Estimate the dust of a cut, and show the limits for such dust in the air."""
    from salvage.knowledge.materials import dust_mass_g, find_material_fact
    from salvage.units import parse_length_mm
    from salvage.work.dust import exposure_lines
    from salvage.work.own_facts import own_limits
    from salvage.work.settings import Settings

    session = session_of(context)
    usual = find_material_fact("fr4-thickness")
    with session.open_if_there() as shop:
        usual_kerf_mm = shop.settings.kerf_mm if shop else Settings().kerf_mm
        limits_told = exposure_lines(own_limits(shop.conn) if shop else (), session.today)
    kerf_mm = parse_length_mm(kerf, field="--kerf", most_mm=20) if kerf else usual_kerf_mm
    thick = parse_length_mm(thickness, field="--thickness", most_mm=20) if thickness else None
    mass = dust_mass_g(
        parse_length_mm(length, field="MM", most_mm=1_000_000), kerf_mm, thick or usual.value
    )
    density = find_material_fact("fr4-density")
    rests = [density.source.words] if thick else [density.source.words, usual.source.words]
    record = {"dust_g": mass, "source": "; ".join(rests), "limits": list(limits_told)}
    lines = [
        f"about {mass:.2f} g of laminate dust, copper and parts left out",
        f"  source: {'; '.join(rests)}",
        "limits for the air, as they were read:",
        *(f"  {line}" for line in limits_told),
    ]
    show_record(session, record, lines=lines, plain=("dust_g", "source"))
    if not session.form:
        _defer(session)
