"""Templates filled in: everything that people wrote is text, never markup."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined

from salvage.canonical import sha256_hex
from salvage.units import format_area, format_mass, format_mm, format_money
from salvage.web.drawing import path_data

_TYPES = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "ttf": "font/ttf",
    "webmanifest": "application/manifest+json",
}

_FONTS = ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf")


def render(template: str, facts: Mapping[str, Any]) -> str:
    """
    A page as HTML.

    Args:
        template: Name of a file in ``salvage/web/templates``.
        facts: What it fills in.
    """
    return _environment().get_template(template).render(**facts)


@cache
def _environment() -> Environment:
    folder = files("salvage.web") / "templates"
    pages = {page.name: page.read_text("utf-8") for page in folder.iterdir()}
    made = Environment(
        loader=DictLoader(pages),
        autoescape=True,
        finalize=_without_turns,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        mm=format_mm,
        area=lambda um2: format_area(um2 / 1e6),
        mass=lambda mg: format_mass(mg / 1000),
        money=format_money,
        day=lambda instant: instant[:10],
        minute=lambda instant: f"{instant[:10]} {instant[11:16]}",
        words=lambda slug: slug.replace("-", " "),
        path=path_data,
        age=age_words,
    )
    made.globals["asset"] = asset_address
    return made


# Embeddings, overrides and isolates of the Unicode Bidirectional Algorithm (Annex 9, section 2):
# an override in a name would turn round whatever stands after it on the page.
_TURNS = {ord(c): None for c in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"}


def _without_turns(value: object) -> object:
    """A text that people wrote without characters that reorder the page; all else as it is."""
    return value.translate(_TURNS) if type(value) is str and not value.isascii() else value


@cache
def assets() -> Mapping[str, tuple[bytes, str]]:
    """The files that pages load, by name: their bytes and media type."""
    found = {}
    for file in (files("salvage.web") / "static").iterdir():
        kind = _TYPES.get(file.name.rpartition(".")[2])
        if kind:
            found[file.name] = (file.read_bytes(), kind)
    for name in _FONTS:
        font = files("salvage.paper") / "fonts" / name
        found[name] = (font.read_bytes(), _TYPES["ttf"])
    return found


@cache
def asset_address(name: str) -> str:
    """
    The address of a file that pages load; it changes whenever the file does.

    Args:
        name: Of a file in ``salvage/web/static``, or of a font.
    """
    data, _ = assets()[name]
    return f"/static/{name}?v={sha256_hex(data)[:10]}"


def age_words(instant: str, today: date) -> str:
    """
    How long ago something was, as a maker says it.

    >>> age_words("2026-05-04T09:00:00.000Z", date(2026, 5, 25))
    '3 weeks'
    """
    days = (today - date.fromisoformat(instant[:10])).days
    if days < 1:
        return "today"
    for size, name in ((365, "year"), (30, "month"), (7, "week"), (1, "day")):
        if days >= size:
            count = days // size
            return f"{count} {name}{'s' if count > 1 else ''}"
    return "today"  # pragma: no cover - every whole number of days has a name
