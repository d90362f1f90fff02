"""
The words of our documents, apart from what the record says, in a form that a workshop may rewrite.

A wording is a text of lines ``name = "words"`` (TOML). Braces stand for what the record fills in; a
wording of one's own may leave them out, but may not name others.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from salvage.errors import BadFile, BadValue, NotFound

Words = Mapping[str, str]
"""Words of a document by name."""

DOCUMENTS = ("receipt", "impact", "hazards", "consignment", "year")
"""Documents whose words a workshop may write itself."""

NEEDED = ("statement", "title", "months", "language", "page")
"""Words that no document does without; the statement says what the paper is not."""

_COMMON = "common"
_LANGUAGE = re.compile(r"[a-z]{2,3}")
_MONTHS = 12
_LONGEST = 2000


@cache
def standard_words(document: str) -> Words:
    """
    Our own words of a document, those that all share included.

    Raises:
        NotFound: If there is no such document.
    """
    if document not in DOCUMENTS:
        raise NotFound(f"'{document}' is not a document", hint=f"one of: {', '.join(DOCUMENTS)}")
    return _read(_COMMON) | _read(document)


def _read(name: str) -> dict[str, str]:
    text = files("salvage.paper").joinpath("wordings", f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def parse_words(document: str, data: bytes) -> Words:
    """
    Words as somebody wrote them; what is left out stays as in our own.

    Args:
        document: One of :data:`DOCUMENTS`.
        data: The text, UTF-8.

    Raises:
        BadFile: If it is no such text, names a word that there is not, or fills in what the record
            does not hold there.
        NotFound: If there is no such document.
    """
    standard = standard_words(document)
    try:
        found = tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:  # a number of 5000 digits is none for the parser
        raise BadFile(
            f"the wording cannot be read: {error}", hint='each line is name = "words"'
        ) from None
    for name, text in found.items():
        _check_word(standard, name, text)
    return {name: text for name, text in found.items() if text != standard[name]}


def _check_word(standard: Words, name: str, text: object) -> None:
    if name not in standard:
        raise BadFile(f"the wording has no word '{name}'", hint="copy ours and keep its names")
    if not isinstance(text, str) or len(text) > _LONGEST:
        raise BadFile(f"{name} must be words in quotes, at most {_LONGEST} characters")
    if name in NEEDED and not text.strip():
        raise BadFile(f"{name} may not be empty", hint="it says what the paper is, and is not")
    odd = _fields(text) - _fields(standard[name])
    if odd:
        known = ", ".join(sorted(_fields(standard[name]))) or "none"
        raise BadFile(f"{name} names {{{sorted(odd)[0]}}}", hint=f"it may fill in: {known}")
    if name == "language" and not _LANGUAGE.fullmatch(text):
        raise BadFile(f"language is '{text}'", hint="two or three small letters, such as de")
    if name == "months" and len(text.split(",")) != _MONTHS:
        raise BadFile(f"months has {len(text.split(','))} names", hint="twelve, with commas")
    if name == "decimal_mark" and text not in (".", ",", "·", "٫"):
        raise BadFile(f"decimal_mark is '{text}'", hint="a point or a comma")


def _fields(text: str) -> set[str]:
    return set(re.findall(r"\{([^{}]*)\}", text))


def write_words(document: str, own: Words) -> str:
    """
    A whole wording as text to edit: our words, with the workshop's own in their place.

    Args:
        document: One of :data:`DOCUMENTS`.
        own: Words of one's own; may be empty.
    """
    standard = standard_words(document)
    lines = [f"# Wording of the document '{document}'. Keep the names; write the words."]
    lines.append("# What stands in braces is filled in from the record.")
    lines += [f"{name} = {_quoted(own.get(name, text))}" for name, text in standard.items()]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    # A JSON text is a TOML basic text, but for DEL, which is escaped here.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def whole_words(document: str, own: Words) -> Words:
    """Our words with the workshop's own in their place."""
    return {**standard_words(document), **own}


def fill(words: Words, name: str, /, **values: str | int) -> str:
    """
    Words with what the record holds in the place of their braces.

    >>> fill({"boards": "Boards: {count}"}, "boards", count=4)
    'Boards: 4'
    """
    if name not in words:
        raise BadValue(f"the wording has no word '{name}'")
    # Only names that are given are filled in, once: a value may itself hold braces.
    return re.sub(r"\{([^{}]*)\}", lambda match: str(values.get(match[1], match[0])), words[name])
