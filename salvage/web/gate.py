"""
The gate before every page: who is called, from where, how much, and what the answer may load.

Refused are names that are not ours (a foreign name that was pointed at this computer), messages
from other pages, and anything too large. Every answer carries a policy under which the browser
loads nothing but our own files and runs no script that stands in a page.
"""

from __future__ import annotations

import re
from typing import Any

from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from salvage.web.house import House

MOST_BYTES = 40_000_000
"""Largest message with a photo; a 12-megapixel JPEG has about 5 million bytes."""

MOST_FORM_BYTES = 400_000
"""Largest message without one."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:;"
    " font-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self';"
    " base-uri 'none'; frame-ancestors 'none'"
)
"""Content security policy, level 3: nothing from elsewhere, nothing inline."""

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=()",
}
"""Headers of every answer."""

_SAFE = ("GET", "HEAD")
_WITH_PHOTOS = ("/photo", "/scan")


class Gate:
    """
    The gate.

    Args:
        app: What stands behind it.
        house: Whose hosts are called.
    """

    def __init__(self, app: ASGIApp, house: House) -> None:
        self._app = app
        self._house = house

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            return
        headers = {
            key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]
        }
        refused = self._refuse(scope, headers)
        if refused:
            await _answer(send, *refused)
            return
        limited = _limited(receive, _most_bytes(scope["path"]))

        async def with_headers(message: Message) -> None:
            await send(_with_headers(message))

        await self._app(scope, limited, with_headers)

    def _refuse(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        """Status and words for a request that is not let through."""
        hosts = [value for key, value in scope["headers"] if key == b"host"]
        if len(hosts) != 1 or headers["host"].lower() not in self._house.hosts:
            return 400, "this page is not called by that name"
        if scope["method"] in _SAFE:
            return None
        if scope["method"] != "POST":
            return 405, "only GET and POST are understood here"
        own = f"{self._house.scheme}://{headers['host'].lower()}"
        if headers.get("origin", "").lower() != own:
            return 403, "this was not sent from a page of ours"
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return 403, "this was not sent from a page of ours"
        length = headers.get("content-length", "0")
        if not re.fullmatch("[0-9]{1,12}", length) or int(length) > _most_bytes(scope["path"]):
            return 413, "this is too large"
        return None


def _most_bytes(path: str) -> int:
    return MOST_BYTES if path.endswith(_WITH_PHOTOS) else MOST_FORM_BYTES


def _limited(receive: Receive, most: int) -> Receive:
    seen = 0

    async def limited() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise HTTPException(413, "this is too large")
        return message

    return limited


def _with_headers(message: Message) -> Message:
    if message["type"] != "http.response.start":
        return message
    given = {key.lower() for key, _ in message["headers"]}
    more = [
        (key.encode(), value.encode())
        for key, value in {**HEADERS, "cache-control": "no-store"}.items()
        if key.encode() not in given
    ]
    return {**message, "headers": [*message["headers"], *more]}


async def _answer(send: Send, status: int, words: str) -> None:
    body = words.encode() + b"\n"
    headers: list[Any] = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
    ]
    start = {"type": "http.response.start", "status": status, "headers": headers}
    await send(_with_headers(start))
    await send({"type": "http.response.body", "body": body})
