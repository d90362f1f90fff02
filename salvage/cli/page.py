"""``salvage page``: the workshop on a screen, and with ``--lan`` on the phone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from salvage.cli.command import CommandSet
from salvage.cli.failures import Misuse
from salvage.cli.session import Session, session_of
from salvage.cli.show import note, show_json, show_plain
from salvage.errors import BadFile

if TYPE_CHECKING:
    from salvage.web.house import House

commands = CommandSet()

USUAL_PORT = 8417
"""The port of the page, when it is free."""


@commands.command("page", example="salvage page")
def page(
    context: typer.Context,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Where it listens; 0 for any that is free.")
    ] = USUAL_PORT,
    lan: Annotated[
        bool, typer.Option("--lan", help="Also let paired phones of this network in.")
    ] = False,
    certificate: Annotated[
        str, typer.Option(metavar="FILE", help="Own certificate (PEM), for https.")
    ] = "",
    key: Annotated[str, typer.Option(metavar="FILE", help="The certificate's key (PEM).")] = "",
    no_open: Annotated[bool, typer.Option("--no-open", help="Open no browser.")] = False,
) -> None:
    """
    Open the workshop's page in the browser; Ctrl-C ends it.

    It is for this computer only. With --lan, phones of the same network reach it as well, each
    after it was paired by a code that is good once. The link is good once, too: for another
    browser, start it again, or make a code on the page.
    """
    from salvage.web.house import LOOPBACK, House
    from salvage.web.serve import listen, own_address, serve

    session = session_of(context)
    if bool(certificate) != bool(key):
        raise Misuse("a certificate goes with its key: give both --certificate and --key")
    pem = _files(session, certificate, key) if certificate else None
    session.open(create=True).close()
    outside = own_address() if lan else ""
    ears = [listen(LOOPBACK, port)]
    number = ears[0].getsockname()[1]
    if outside:
        ears.append(listen(outside, number))
    hosts = {f"{LOOPBACK}:{number}", f"localhost:{number}"}
    hosts |= {f"{outside}:{number}"} if outside else set()
    house = House(
        session.folder,
        frozenset(hosts),
        clock=session.world.clock,
        entropy=session.world.entropy,
        by=session.by or session.world.variable("SALVAGE_BY"),
        phones=f"{outside}:{number}" if outside else "",
        scheme="https" if pem else "http",
        keeper=session.keeper(),
        busy_ms=session.busy_ms,
    )
    _announce(session, house, number, open_it=not no_open)
    serve(house, ears, certificate=pem)


def _files(session: Session, certificate: str, key: str) -> tuple[Path, Path]:
    pem, secret = (session.place(name) for name in (certificate, key))
    for path in (pem, secret):
        if not path.is_file():
            raise BadFile(f"{path} is no file", hint="give a certificate and its key, both in PEM")
    return pem, secret


def _announce(session: Session, house: House, port: int, *, open_it: bool) -> None:
    """Say where the page is, and open it where somebody sits."""
    token = house.notebook.invite(role="owner")
    address = f"{house.scheme}://127.0.0.1:{port}/open/{token}"
    if session.form == "json":
        show_json(session, {"address": address, "phones": house.phones}, one_line=True)
    elif session.form == "plain":
        show_plain(session, [(address, house.phones)])
    else:
        session.world.stdout.write(f"{address}\n")
        note(session, "the page is open; end it with Ctrl-C")
        if house.phones:
            note(session, "phones: pair each on the page, under Phones")
    session.world.stdout.flush()
    if open_it and session.world.stdout_is_terminal:
        import webbrowser

        webbrowser.open(address)
