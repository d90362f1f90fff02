"""From a request to a page's function and back: sessions, roles, keys, forms, answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from salvage.canonical import sha256_hex
from salvage.errors import Refused, SalvageError
from salvage.ids import Code
from salvage.web.failures import Failure, field_of, mistakes_of, run_guarded, status_of
from salvage.web.house import House, fresh_key
from salvage.web.notebook import Guest, same
from salvage.web.render import render
from salvage.web.visit import Answer, Bytes, Done, Facts, Sheet, Upload, Visit
from salvage.work.once import DoneBefore, OnceWorkshop

Function = Callable[[Visit], Answer]

_MOST_FIELDS = 400
_MOST_FILES = 4
_KEY = "key"
_FORM_KEY = "form-key"
_NOT_TOLD = (_KEY, _FORM_KEY)


@dataclass(frozen=True)
class Way:
    """
    One address of the page.

    Args:
        address: With the parts that vary in braces.
        function: Answers it.
        form: For a deed: the page that shows its form again when it is refused; None for what is
            only read.
        role: Who may: ``helper`` for everybody who was let in, or ``owner``.
        asks: A message that is only a question: it changes nothing and needs no key.
    """

    address: str
    function: Function
    form: Function | None = None
    role: str = "helper"
    asks: bool = False

    @property
    def method(self) -> str:
        """``POST`` for deeds and questions with a form, else ``GET``."""
        return "POST" if self.form or self.asks else "GET"


def endpoint(house: House, way: Way) -> Callable[[Request], Any]:
    """The function that the server calls for a way."""

    async def answer(request: Request) -> Response:
        form = FormData()
        if request.method == "POST":
            form = await request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS)
        try:
            return await run_in_threadpool(_answer, house, way, request, form)
        finally:
            await form.close()

    return answer


def _answer(house: House, way: Way, request: Request, form: FormData) -> Response:
    guest = house.notebook.guest_of(request.cookies.get(house.cookie, ""))
    if guest is None:
        return stranger(request)
    told = run_guarded(lambda: _admitted(house, way, guest, request, form))
    if isinstance(told, Failure):
        return _failed(house, guest, request, told)
    assert isinstance(told, Response)
    return told


def _admitted(house: House, way: Way, guest: Guest, request: Request, form: FormData) -> Response:
    if way.role == "owner" and not guest.is_owner:
        raise Refused("this is for the owner of the workshop", hint="ask them to do it")
    is_post = request.method == "POST"
    fields, several, uploads = read_fields(form if is_post else request.query_params)
    given = request.headers.get("x-form-key", "") or fields.get(_FORM_KEY, "")
    if is_post and not same(given, guest.form_key):
        raise Refused("this form is too old", hint="load the page anew and send it again")
    with house.open(by=guest.name) as shop:
        visit = Visit(house, guest, shop, dict(request.path_params), fields, several, uploads)
        if way.form:
            return _deed(way, visit, request)
        return respond(visit, way.function(visit), request)


def _deed(way: Way, visit: Visit, request: Request) -> Response:
    """Do a deed at most once; where it is refused, show its form again, filled in."""
    key = visit.text(_KEY) or request.headers.get("idempotency-key", "")
    if not key:
        raise Refused("this message has no key", hint="load the page anew and send it again")
    own = OnceWorkshop(visit.shop, key=_whole_key(visit, key, request.url.path))
    once = replace(visit, shop=own)
    try:
        return respond(visit, way.function(once), request)
    except DoneBefore as before:
        then = address_of(before.codes)
        return respond(visit, Done(before.message, before.codes, then), request)
    except SalvageError as error:
        if _wants_json(request) or way.form is None:
            raise
        again = visit.with_trouble(error)
        return respond(again, way.form(again), request, status=status_of(error))


def _whole_key(visit: Visit, key: str, path: str) -> str:
    """The same for the same message of the same browser; other words make another message."""
    words = {name: value for name, value in visit.fields.items() if name not in _NOT_TOLD}
    several = {name: list(values) for name, values in visit.several.items()}
    files = [sha256_hex(upload.data) for upload in visit.uploads]
    told = json.dumps([visit.guest.hash, key, path, words, several, files], sort_keys=True)
    return sha256_hex(told.encode())


def read_fields(
    given: Any,  # form or query parameters: the library's two types share no other name
) -> tuple[dict[str, str], dict[str, tuple[str, ...]], tuple[Upload, ...]]:
    """The texts of a form or address, those that come several times, and its files."""
    fields: dict[str, str] = {}
    several: dict[str, tuple[str, ...]] = {}
    uploads = []
    for name, value in given.multi_items():
        if isinstance(value, UploadFile):
            data = value.file.read()
            if data:
                uploads.append(Upload((value.filename or "photo").rpartition("/")[2][:120], data))
        else:
            text = value.replace("\r\n", "\n")
            fields.setdefault(name, text)
            several[name] = (*several.get(name, ()), text)
    return fields, several, tuple(uploads)


def respond(visit: Visit, answer: Answer, request: Request, *, status: int = 200) -> Response:
    """The answer as the browser or program wants it."""
    if isinstance(answer, Facts):
        return JSONResponse(dict(answer.value), status_code=status)
    if isinstance(answer, Bytes):
        return _file(answer)
    if isinstance(answer, Done):
        return _done(visit, answer, request)
    return _page(visit, answer, status=status)


def _done(visit: Visit, done: Done, request: Request) -> Response:
    if _wants_json(request):
        value = {"words": done.words, "codes": list(done.codes), "then": done.then}
        return JSONResponse({**value, **done.facts})
    visit.house.say(visit.guest.hash, done.words)
    return RedirectResponse(done.then, status_code=303)


def _file(answer: Bytes) -> Response:
    headers = {}
    if answer.keep:
        headers["cache-control"] = "private, max-age=31536000, immutable"
    if answer.name:
        headers["content-disposition"] = f'attachment; filename="{answer.name}"'
    return Response(answer.data, media_type=answer.media_type, headers=headers)


def _page(visit: Visit, sheet: Sheet, *, status: int) -> Response:
    told = visit.house.hear(visit.guest.hash) if status == 200 else ""
    facts = {
        "guest": visit.guest,
        "workshop": visit.shop.settings.name,
        "head": head_of(visit),
        "key": fresh_key(),
        "typed": visit.fields,
        "told": told,
        **trouble_facts(visit.trouble),
        **sheet.facts,
    }
    prefix = "Error: " if visit.trouble else ""
    html = render(sheet.template, {**facts, "title": f"{prefix}{sheet.title}"})
    return Response(html, status_code=status, media_type="text/html")


def trouble_facts(error: SalvageError | None) -> Mapping[str, Any]:
    """A refused form's mistakes for the template: all in order, and by field."""
    mistakes = [
        {"field": field_of(each), "words": each.message, "hint": each.hint}
        for each in (mistakes_of(error) if error else ())
    ]
    by_field = {each["field"]: each for each in reversed(mistakes) if each["field"]}
    return {"mistakes": mistakes, "mistake_of": by_field}


def head_of(visit: Visit) -> int:
    """Number of the newest event; it grows with every change from anywhere."""
    (head,) = visit.shop.conn.execute("SELECT coalesce(max(seq), 0) FROM event").fetchone()
    return int(head)


def address_of(codes: tuple[Code, ...]) -> str:
    """Where a thing is shown; the shelf for what has no page of its own."""
    pages = {"B": "board", "P": "piece", "D": "dropoff"}
    for code in (*[c for c in codes if c[0] == "P"], *codes):
        if code[0] in pages:
            return f"/{pages[code[0]]}/{code}"
    return f"/trace/{codes[0]}" if codes else "/"


def _failed(house: House, guest: Guest, request: Request, failure: Failure) -> Response:
    error = failure.error
    if _wants_json(request):
        value = {"error": error.message, "hint": error.hint, "field": field_of(error)}
        return JSONResponse(value, status_code=failure.status)
    facts = {"error": error, "guest": guest, "title": "That did not work", "workshop": ""}
    html = render("failure.html", facts)
    return Response(html, status_code=failure.status, media_type="text/html")


def stranger(request: Request) -> Response:
    """The answer to a browser that was not let in."""
    if _wants_json(request) or request.method == "POST":
        return JSONResponse(
            {"error": "this browser is not paired", "hint": "open /pair"}, status_code=401
        )
    html = render("pair.html", {"title": "Pair this browser", "guest": None, "workshop": ""})
    return Response(html, status_code=401, media_type="text/html")


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")
