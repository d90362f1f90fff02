"""
A page description and its data made into PDF or bitmaps by the typst engine.

What people wrote reaches the engine only as data, never as page description, so that a note such as
``#read("x")`` prints exactly so. Each run has a fresh folder of its own as the only place that can
be read, our own fonts, and a given date, so that the same data give the same bytes anywhere. PDF
is PDF/A-2b (ISO 19005-2): fonts embedded, and a character that no font has is an error instead of
an empty box.
"""

from __future__ import annotations

import json
import re
import tempfile
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, TypeAlias

from salvage.errors import BadTemplate, BadValue, NoGlyph, SalvageError

Data: TypeAlias = "str | int | float | bool | Sequence[Data] | Mapping[str, Data] | None"

_MISSING = re.compile(r"the text `?\"(.+?)\"`? could not be displayed")
_FILE_NAME = re.compile(r"[a-z0-9_-]{1,40}\.(png|jpg|jpeg|svg|typ)")
_SEARCHED = re.compile(r" \(searched at [^)]*\)")
_PLACE = re.compile(r"┌─ ([^\s:]+):([0-9]+):([0-9]+)")

# Hebrew, Arabic and Devanagari letters as they stand in JSON. The engine's own fonts have some of
# them, for code and for books; a font like ours is looked for first.
_WANTS_MORE = re.compile(
    r"\\u(05[9a-f]|06[0-9a-f]|07[5-7]|08[a-f]|09[0-7]|fb[5-9a-f]|fd[0-9a-f]|fe[7-9a-f])"
)

# Joiners shape letters of several scripts and emoji; all other format characters (the Unicode
# category Cf, with the overrides of reading direction) only hide or reorder what is written.
_KEPT_FORMAT = "\u200c\u200d"


def typeset(
    template: str,
    data: Mapping[str, Data],
    *,
    pictures: Mapping[str, bytes],
    made_on: date,
    extra_fonts: Path | None = None,
    system_fonts: bool = True,
) -> bytes:
    """
    A PDF/A-2b document, the same bytes for the same arguments.

    Text with characters that the fonts shipped here lack is tried once more with *extra_fonts* and
    the fonts of this machine; only then may the bytes differ between machines.

    Args:
        template: Name of a file in ``salvage/paper/templates``, without ``.typ``.
        data: What the template fills in; text in it is cleaned by :func:`tidy_text`.
        pictures: File name to bytes, PNG, JPEG or SVG.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.
        system_fonts: Whether the fonts of this machine may help.

    Raises:
        NoGlyph: If no font has one of the characters.
        SalvageError: If the engine refuses for another reason.
    """
    with _bench(data, pictures, made_on) as bench:
        return bench.make(template, extra_fonts, system=system_fonts).pages[0]


@dataclass(frozen=True, slots=True)
class Typeset:
    """
    What the engine made, and what the template had to say about it.

    Args:
        pages: The PDF alone, or one bitmap a page.
        told: Values that the template labelled ``<told>``, in order.
    """

    pages: tuple[bytes, ...]
    told: tuple[Mapping[str, Any], ...]  # Any: whatever JSON a template tells


def typeset_telling(
    template: str,
    data: Mapping[str, Data],
    *,
    files: Mapping[str, bytes],
    made_on: date,
    extra_fonts: Path | None = None,
    dpi: float = 0,
) -> Typeset:
    """
    A document, and what its template labelled ``<told>``.

    Args:
        template: As for :func:`typeset`.
        data: As for :func:`typeset`.
        files: Pictures and further templates by name; none may have the name of one of ours.
        made_on: As for :func:`typeset`.
        extra_fonts: As for :func:`typeset`.
        dpi: Bitmaps of this resolution instead of a PDF, unless it is 0.

    Raises:
        NoGlyph: If no font has one of the characters.
        BadTemplate: If a template cannot be understood; says where.
    """
    with _bench(data, files, made_on) as bench:
        return bench.make(template, extra_fonts, system=True, dpi=dpi)


def typeset_pages_png(
    template: str,
    data: Mapping[str, Data],
    *,
    pictures: Mapping[str, bytes],
    made_on: date,
    extra_fonts: Path | None = None,
    dpi: float = 203,
) -> list[bytes]:
    """
    One PNG a page, such as a label printer wants.

    Args:
        template: As for :func:`typeset`.
        data: As for :func:`typeset`.
        pictures: As for :func:`typeset`.
        made_on: As for :func:`typeset`.
        extra_fonts: As for :func:`typeset`.
        dpi: Pixels along an inch; a head with 8 dots a millimetre has 203.2.

    Raises:
        NoGlyph: If no font has one of the characters.
        SalvageError: If the engine refuses for another reason.
    """
    with _bench(data, pictures, made_on) as bench:
        return list(bench.make(template, extra_fonts, system=True, dpi=dpi).pages)


def tidy_text(text: str) -> str:
    """
    Text without control characters, direction overrides and lone surrogates.

    Line ends and tabs become blanks. Private-use and unassigned characters stay, so that they are
    refused by name where they are printed.

    >>> tidy_text("live\\u202e\\x00 wire\\n")
    'live wire'
    """
    if text.isascii() and text.isprintable():
        return text.strip()
    spaced = re.sub(r"[\t\n\v\f\r\x85\u2028\u2029]+", " ", text)
    kept = (
        character
        for character in spaced
        if character in _KEPT_FORMAT or unicodedata.category(character) not in ("Cc", "Cf", "Cs")
    )
    return unicodedata.normalize("NFC", "".join(kept)).strip()


def _tidy(value: Data) -> Any:  # Any: plain JSON of whatever shape came in
    if isinstance(value, str):
        _check_assigned(tidy := tidy_text(value))
        return tidy
    if isinstance(value, Mapping):
        return {key: _tidy(inner) for key, inner in value.items()}
    if isinstance(value, Sequence):
        return [_tidy(inner) for inner in value]
    return value


def _check_assigned(text: str) -> None:
    if text.isascii():
        return
    for character in text:
        if unicodedata.category(character) in ("Co", "Cn"):
            raise _no_glyph(character)


def _no_glyph(text: str) -> NoGlyph:
    character = text[0]
    return NoGlyph(character, unicodedata.name(character, "").lower() or f"U+{ord(character):04X}")


@dataclass(frozen=True, slots=True)
class _Bench:
    """A short-lived folder with templates and pictures, and the data as JSON."""

    root: Path
    text: str

    def make(
        self, template: str, extra_fonts: Path | None, *, system: bool, dpi: float = 0
    ) -> Typeset:
        """The PDF, or with *dpi* the bitmaps of its pages."""
        more = [extra_fonts] if extra_fonts else []
        if system and _WANTS_MORE.search(self.text):
            return self._compile(template, more, system=True, dpi=dpi)
        try:
            return self._compile(template, [], system=False, dpi=dpi)
        except NoGlyph:
            if not (more or system):
                raise
        return self._compile(template, more, system=system, dpi=dpi)

    def _compile(self, template: str, more: list[Path], *, system: bool, dpi: float) -> Typeset:
        import typst

        with as_file(files("salvage.paper").joinpath("fonts")) as shipped:
            try:
                engine = typst.Compiler(
                    str(self.root / f"{template}.typ"),
                    root=str(self.root),
                    font_paths=[str(shipped), *map(str, more)],
                    ignore_system_fonts=not system,
                    sys_inputs={"data": self.text},
                )
                # The PDF comes first even for bitmaps: only PDF/A reports missing glyphs.
                made: Any = engine.compile(format="pdf", pdf_standards="a-2b")
                if dpi:
                    made = engine.compile(format="png", ppi=dpi)
                told = json.loads(engine.query("<told>", field="value"))
            except RuntimeError as trouble:  # typst.TypstError, or in older versions itself
                raise _plain_error(str(trouble), getattr(trouble, "diagnostic", "")) from None
        return Typeset(tuple(made) if isinstance(made, list) else (made,), tuple(told))


@contextmanager
def _bench(
    data: Mapping[str, Data], pictures: Mapping[str, bytes], made_on: date
) -> Iterator[_Bench]:
    text = json.dumps({**_tidy(data), "made_on": made_on.isoformat()}, sort_keys=True)
    with tempfile.TemporaryDirectory(prefix="salvage-") as folder:
        root = Path(folder)
        found = files("salvage.paper").joinpath("templates").iterdir()
        for source in [each for each in found if each.name.endswith(".typ")]:
            (root / source.name).write_bytes(source.read_bytes())
        for name, content in pictures.items():
            if not _FILE_NAME.fullmatch(name) or (root / name).exists():
                raise BadValue(f"'{name}' is not a file name for a picture", hint="as photo.png")
            (root / name).write_bytes(content)
        yield _Bench(root, text)


def _plain_error(message: str, diagnostic: str) -> SalvageError:
    missing = _MISSING.search(message)
    if missing:
        return _no_glyph(missing[1])
    first = next((line.strip() for line in message.splitlines() if line.strip()), "no reason given")
    fault = diagnostic[diagnostic.find("error:") :]
    place = _PLACE.search(fault)
    return BadTemplate(
        _SEARCHED.sub("", first.removeprefix("error: ")),
        file=place[1].rpartition("/")[2] if place else "",
        line=int(place[2]) if place else 0,
        column=int(place[3]) if place else 0,
    )
