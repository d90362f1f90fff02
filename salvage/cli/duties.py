"""``salvage duties``: limits and duties as they were read, by place and topic."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from salvage.cli.command import CommandSet
from salvage.cli.records import source_words
from salvage.cli.session import session_of
from salvage.cli.show import Column, paint, say, say_wrapped, show_list, warn
from salvage.knowledge.limits import Limit

commands = CommandSet()


def duty_record(limit: Limit, state: str) -> dict[str, Any]:
    """One row as a JSON object."""
    return {
        "slug": limit.slug,
        "topic": limit.topic,
        "jurisdiction": limit.jurisdiction,
        "subject": limit.subject,
        "scope": limit.scope,
        "words": limit.words,
        "state": state,
        "note": limit.note,
        "source": source_words(limit.source),
        "weak": limit.source.is_weak,
    }


_COLUMNS = (
    Column("name", "slug"),
    Column("topic", "topic"),
    Column("where", "jurisdiction"),
    Column("what", "subject"),
    Column("limit", "words"),
    Column("state", "state"),
    Column("source", "source"),
)


@commands.command("duties", example="salvage duties --market US-CA --topic waste")
def duties(
    context: typer.Context,
    market: Annotated[
        str, typer.Option(metavar="PLACE", help="Such as EU, US-CA; your markets if left out.")
    ] = "",
    topic: Annotated[
        str, typer.Option(metavar="TOPIC", help="Such as children, jewellery, waste, recall.")
    ] = "",
    every: Annotated[bool, typer.Option("--all", help="Rows of every place.")] = False,
) -> None:
    """List limits and duties of a place, with their sources; what holds for you, ask there."""
    from salvage.work.duties import list_duties

    session = session_of(context)
    with session.open(create=True) as shop:
        found = list_duties(shop, market="" if every else market, topic=topic, every=every)
    records = [duty_record(duty.limit, duty.state) for duty in found.duties]
    if session.form:
        show_list(session, records, _COLUMNS, empty="")
        return
    for duty in found.duties:
        limit = duty.limit
        past = "" if duty.state == "in force" else f" ({duty.state.upper()})"
        head = f"{limit.jurisdiction}, {limit.topic}: {limit.subject}{past}"
        say(session, paint(session, head, "strong"))
        for told in (limit.words, limit.scope, limit.note):
            if told:
                say_wrapped(session, f"  {told}", indent=2, always=True)
        say_wrapped(session, f"  {limit.slug}; {limit.source.marked_words}", indent=2, always=True)
    for place in found.unknown:
        warn(session, f"{place}: no row in our list; that does not mean that nothing is asked")
    warn(session, found.advice)
