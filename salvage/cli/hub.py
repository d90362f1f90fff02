"""``salvage hub``: several workshops in one PostgreSQL database."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from salvage.cli.command import CommandSet
from salvage.cli.count import count_of
from salvage.cli.session import Session, session_of
from salvage.cli.show import (
    Column,
    clean,
    note,
    paint,
    say,
    show_change,
    show_json,
    show_list,
    show_plain,
)

if TYPE_CHECKING:
    from salvage.work.hub_sending import Sent
    from salvage.work.hub_view import HubVerdict

commands = CommandSet(
    "hub",
    "Several workshops in one PostgreSQL database.",
    "salvage hub send --to postgresql://tidewrack@hub.example/salvage",
)

VARIABLE = "SALVAGE_HUB"
"""Environment variable that stands in for ``--to``."""

To: TypeAlias = Annotated[
    str,
    typer.Option(
        "--to",
        metavar="ADDRESS",
        help=f"The hub, such as postgresql://user@host/database (or {VARIABLE}).",
    ),
]


def _address(session: Session, typed: str) -> str:
    return typed or session.world.variable(VARIABLE)


def _progress(session: Session) -> Callable[[str], None]:
    """Says each step where somebody watches."""

    def tell(words: str) -> None:
        if session.world.stderr_is_terminal and not session.form:
            note(session, paint(session, f"… {words}", "quiet"))

    return tell


@commands.command("prepare", example="salvage hub prepare --sender tidewrack", changes=True)
def prepare(
    context: typer.Context,
    to: To = "",
    sender: Annotated[
        str, typer.Option(metavar="ROLE", help="Role of the server that a workshop sends as.")
    ] = "",
    reader: Annotated[
        str, typer.Option(metavar="ROLE", help="Role of the server that reads the answers.")
    ] = "",
) -> None:
    """
    Make the hub in an empty database, or bring it up to date.

    For the hub's owner. A sender may add events and no more; a reader sees neither journals nor
    sealed texts. Give each workshop a role of its own.
    """
    from salvage.work.hub import prepare_hub

    session = session_of(context)
    made = prepare_hub(
        address=_address(session, to), sender=sender, reader=reader, dry_run=session.dry_run
    )
    new = count_of(made.applied, "schema file") + " applied" if made.applied else "up to date"
    show_change(
        session,
        asdict(made),
        lines=[
            f"hub {made.place}: {new}",
            *([f"{sender} may send"] if sender else []),
            *([f"{reader} may read"] if reader else []),
        ],
        codes=[made.place],
        next_step="hub send",
    )


@commands.command(
    "send", example="salvage hub send --to postgresql://hub.example/salvage", changes=True
)
def send(
    context: typer.Context,
    to: To = "",
    names: Annotated[
        bool | None,
        typer.Option("--names/--no-names", help="Send donors' names too, or take them back."),
    ] = None,
) -> None:
    """
    Send what the hub lacks of this workshop's journals.

    Nothing here is changed. Say it as often as you like: what is there is not sent again, and a
    sending that was broken off goes on where it was. Chains and signatures are verified first.
    Photos and names stay here. A password is best kept in ~/.pgpass, where other programs cannot
    see it.
    """
    from salvage.work.hub import send_to_hub

    session = session_of(context)
    with session.open() as shop:
        sent = send_to_hub(
            shop,
            address=_address(session, to),
            names=names,
            dry_run=session.dry_run,
            progress=_progress(session),
        )
    show_change(
        session,
        asdict(sent),
        lines=_sent_lines(sent),
        codes=[str(sent.events)],
        next_step="hub status",
    )


def _sent_lines(sent: Sent) -> list[str]:
    new = f"{count_of(sent.events, 'event')} sent" if sent.events else "nothing new"
    lines = [f"hub {sent.place}: {new}, {sent.known} there"]
    if sent.names:
        lines.append(f"personal texts sent: {sent.names}")
    if sent.erased:
        lines.append(f"personal texts erased there: {sent.erased}")
    if not sent.is_cleaned:
        lines.append("their file is not cleaned: its owner says VACUUM FULL salvage.sealed")
    return lines


@commands.command("status", example="salvage hub status --to postgresql://hub.example/salvage")
def status(context: typer.Context, to: To = "") -> None:
    """List the workshops at the hub, and what waits to be sent."""
    from salvage.work.hub_view import view_hub

    session = session_of(context)
    with session.open() as shop:
        view = view_hub(shop, address=_address(session, to))
    if session.form == "json":
        show_json(session, asdict(view))
        return
    show_list(
        session,
        [asdict(one) for one in view.workshops],
        (
            Column("no.", "number"),
            Column("workshop", "name"),
            Column("events", "events"),
            Column("waiting", "waiting"),
            Column("signed", "signed_at", lambda at: at[:10]),
            Column("names", "names"),
            Column("as role", "sender"),
            Column("heads", "heads"),
        ),
        empty="no workshop has sent anything yet",
    )
    if not session.form:
        told = count_of(view.waiting, "event")
        note(session, f"not sent yet: {told}" if view.waiting else "all of this workshop is there")


@commands.command("check", example="salvage hub check --all --to postgresql://hub.example/salvage")
def check(
    context: typer.Context,
    to: To = "",
    everyone: Annotated[
        bool, typer.Option("--all", help="Every workshop there, not only this one.")
    ] = False,
) -> None:
    """
    Verify chains, signatures and each row at the hub.

    Reads all events there and replays them. Ends with exit code 1 when something does not hold.
    """
    from salvage.work.hub_view import check_at_hub

    session = session_of(context)
    with session.open() as shop:
        found = check_at_hub(shop, address=_address(session, to), everyone=everyone)
    if session.form == "json":
        show_json(session, [asdict(one) | {"ok": one.ok} for one in found])
    elif session.form == "plain":
        show_plain(
            session, ([v.number, "ok" if v.ok else "fault", v.events, *v.faults] for v in found)
        )
    else:
        _tell(session, found)
    if not all(one.ok for one in found):
        raise typer.Exit(1)


def _tell(session: Session, found: tuple[HubVerdict, ...]) -> None:
    if not found:
        note(session, "this workshop has sent nothing yet; next: salvage hub send")
    for one in found:
        word = paint(session, "ok   ", "good") if one.ok else paint(session, "FAULT", "bad")
        told = f"{one.number}, {one.name}: {count_of(one.events, 'event')}"
        say(session, f"{word}  {clean(told)}, {count_of(one.signatures, 'signed head')}")
        for fault in one.faults:
            say(session, f"       {clean(fault)}")
