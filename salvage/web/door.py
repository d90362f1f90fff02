"""The door: opening the page at this computer, pairing a phone, and shutting one out."""

from __future__ import annotations

import re

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from salvage.errors import BadValue, Refused
from salvage.web.doors import Way
from salvage.web.failures import Failure, run_guarded
from salvage.web.house import House
from salvage.web.notebook import SESSION_DAYS, TOKEN_MINUTES
from salvage.web.render import render
from salvage.web.visit import Answer, Done, Facts, Sheet, Visit


def open_routes(house: House) -> list[Route]:
    """Addresses for browsers that were not let in yet."""

    async def opened(request: Request) -> Response:
        token = request.path_params["token"]
        return await run_in_threadpool(_admit, house, token, "")

    async def asked(request: Request) -> Response:
        return _form(request.query_params.get("code", ""), "")

    async def paired(request: Request) -> Response:
        form = await request.form(max_files=0, max_fields=4)
        code, name = str(form.get("code", "")), str(form.get("name", ""))
        return await run_in_threadpool(_admit, house, code, name)

    return [
        Route("/open/{token}", opened, methods=["GET"]),
        Route("/pair", asked, methods=["GET"]),
        Route("/pair", paired, methods=["POST"]),
    ]


def _admit(house: House, token: str, name: str) -> Response:
    told = run_guarded(lambda: house.notebook.admit(token, name=name))
    if isinstance(told, Failure):
        return _form("", f"{told.error.message}; {told.error.hint}", status=told.status)
    assert isinstance(told, tuple)
    response = RedirectResponse("/", status_code=303)
    response.set_cookie(
        house.cookie,
        told[0],
        max_age=SESSION_DAYS * 24 * 3600,
        httponly=True,
        samesite="strict",
        secure=house.scheme == "https",
    )
    return response


def _form(code: str, refused: str, *, status: int = 200) -> Response:
    facts = {"title": "Pair this browser", "guest": None, "workshop": "", "code": code[:12]}
    html = render("pair.html", {**facts, "refused": refused})
    return Response(html, status_code=status, media_type="text/html")


def show_browsers(visit: Visit) -> Answer:
    """Who is let in, with a form to let one more in."""
    facts = {"guests": visit.house.notebook.guests(), "phones": visit.house.phones, "invited": None}
    return Sheet("browsers.html", "Phones and browsers", facts)


def invite(visit: Visit) -> Answer:
    """A new pairing code, as a picture for the phone's camera and in letters."""
    from salvage.codes.draw import draw_qr

    house = visit.house
    if not house.phones:
        raise Refused(
            "this page is for this computer only",
            hint="start it again with: salvage page --lan",
        )
    role = visit.text("role", "helper")
    token = house.notebook.invite(role=role, name=visit.text("name"))
    address = f"{house.scheme}://{house.phones}/pair?code={token}"
    symbol = draw_qr(address)
    invited = {
        "token": f"{token[:4]} {token[4:]}",
        "address": address,
        "role": role,
        "minutes": TOKEN_MINUTES,
        "rows": symbol.rows,
        "quiet": symbol.quiet,
        "size": symbol.size_modules[0],
    }
    facts = {"guests": house.notebook.guests(), "phones": house.phones, "invited": invited}
    return Sheet("browsers.html", "Phones and browsers", facts)


def revoke(visit: Visit) -> Answer:
    """Shut a browser out."""
    number = visit.text("n")
    if not re.fullmatch("[0-9]{1,9}", number):
        raise BadValue(f"'{number}' is no number of a browser", field="n")
    visit.house.notebook.revoke(int(number))
    return Done(f"Browser {number} is shut out.", then="/browsers")


def leave(visit: Visit) -> Answer:
    """Shut out the browser that asks."""
    visit.house.notebook.revoke(visit.guest.n)
    return Done("This browser is not paired any more.", then="/")


def tell_pulse(visit: Visit) -> Answer:
    """How far the journal has come, so that an open page sees what others write."""
    (head,) = visit.shop.conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
    return Facts({"head": int(head)})


WAYS = (
    Way("/browsers", show_browsers, role="owner"),
    Way("/browsers/invite", invite, role="owner", asks=True),
    Way("/browsers/revoke", revoke, form=show_browsers, role="owner"),
    Way("/browsers/leave", leave, form=show_browsers),
    Way("/pulse", tell_pulse),
)
