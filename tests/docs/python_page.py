"""The reference of the Python interface, written from the docstrings of the operations."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import salvage.records
import salvage.work
from salvage.work.catalogue import OPERATIONS
from salvage.work.operation import Operation

HEAD = """\
# Python

Written by `python -m tests.docs.pages` from the docstrings; do not edit.

Command line and page call these operations, and so may a script of your own.
An operation takes the open workshop first and named values after it; it gives a frozen record, and raises only the errors of `salvage.errors`.
Each one that changes something is one transaction, and `dry_run=True` does everything and rolls it back.
Lengths are millimetres, areas square millimetres and masses grams, unless a name ends in its own unit: `_um` micrometres, `_um2` square micrometres, `_mg` milligrams, `_minor` minor units of money, `_mdeg` thousandths of a degree, `_milli` thousandths.

```python
from datetime import date
from pathlib import Path

from salvage.errors import SalvageError
from salvage.work.donors import NewDonor
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.what_next import what_next
from salvage.work.workshop import open_workshop

with open_workshop(Path("workshop"), by="Maren") as shop:
    donor = NewDonor("Kelpie Point Planetarium", naming="anonymous")
    new = NewDropOff(date(2026, 5, 2), "a star projector", board_count=14)
    view = log_drop_off(shop, donor=donor, new=new)
    print(view.drop_off.code, view.drop_off.received_on)
    for step in what_next(shop).steps:
        print(step.words, "->", step.command)
    try:
        log_drop_off(shop, donor=donor, new=NewDropOff(date(2026, 5, 2), " "))
    except SalvageError as error:
        print(error.message)
```

"""

# Words of the trade that mean the same wherever an operation takes them; told here once.
SAME_EVERYWHERE = {
    "alert": "Its id, or the end of it.",
    "audience": "`adult` or `child`.",
    "board": "Code of the board.",
    "closed_on": "Day; today if left out.",
    "code": "Code of the thing.",
    "codes": "Codes of boards, pieces, places or drop-offs.",
    "container": "Code of the waste container.",
    "drop_off": "Code of the drop-off.",
    "form": "Form of the file, as the command line names it.",
    "height_mm": "Height in millimetres; in proportion if left out.",
    "hold": "Whether everything is held at once.",
    "keep_outs": "Regions not to cut, each with its reason.",
    "kind": "`hazard`, `limit` or `material`; all when empty.",
    "lead_evidence": "The mark, or instrument and verdict.",
    "lead_status": "`unknown`, `assumed-leaded`, `marked-lead-free` or `tested`.",
    "look": "How it is to look; the usual way if left out.",
    "most": "At most so many.",
    "n": "Number within the thing, as its list shows it.",
    "name": "Its name, in any case.",
    "new": "What is recorded.",
    "note": "For the workshop only.",
    "order": "Code of the order.",
    "outing": "Code of the outing.",
    "piece": "Code of the piece.",
    "pieces": "Codes of the pieces.",
    "plan": "Code of the plan.",
    "printer": "The printer whose readings put the print right; none for as it comes.",
    "reason": "Why, in words; it stays on record.",
    "recall": "Code of the recall.",
    "reservation": "Code of the reservation.",
    "slug": "Its short name.",
    "start": "Number of the first label that is still on the sheet, from 1.",
    "stock": "Label stock, as `printers.find_stock` gives it.",
    "take": "The stock-take.",
    "view": "What was found, as the operation before it gives it.",
    "weight_g": "Weight in grams.",
    "why": "Why, in words; it stays on record.",
    "width_mm": "Width in millimetres; in proportion if left out.",
    "words": "Whether its words stand on it.",
    "year": "Such as 2026.",
}

_SECTION = re.compile(r"^(Args|Raises|Returns):\n", re.MULTILINE)


class Doc:
    """
    A docstring taken apart.

    Args:
        text: As written.
    """

    def __init__(self, text: str) -> None:
        words, *parts = _SECTION.split(inspect.cleandoc(text))
        self.words = _markdown(words.split("\n>>> ")[0].split(">>> ")[0].strip())
        self.parts = {
            title: _entries(body) for title, body in zip(parts[::2], parts[1::2], strict=True)
        }


def _entries(body: str) -> list[tuple[str, str]]:
    """Names with their words, from an indented list; a line without a name has words alone."""
    told = body.split("\n\n")[0]
    lines = [line for line in inspect.cleandoc(told).splitlines() if line.strip()]
    found: list[tuple[str, str]] = []
    for line in lines:
        name, colon, words = line.partition(": ")
        if not line.startswith(" ") and colon and re.fullmatch(r"[\w, *]+", name):
            found.append((name, words))
        elif found:
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
        else:
            found.append(("", line.strip()))
    return [(name, _markdown(words)) for name, words in found]


def _markdown(text: str) -> str:
    """Docstring text as Markdown: one paragraph a line, code in single ticks."""
    bare = re.sub(r":\w+:`~?([^`]+)`", r"`\1`", text).replace("``", "`")
    return "\n\n".join(" ".join(part.split()) for part in bare.split("\n\n"))


def _default(value: object) -> str:
    """A default as it is written, not as it lies in memory."""
    return getattr(value, "__name__", None) or repr(value)


def signature(function: Callable[..., Any]) -> str:
    """
    A function's signature on lines of at most 88 characters.

    >>> signature(_markdown)
    '_markdown(text: str) -> str'
    """
    found = inspect.signature(function)
    parts: list[str] = []
    is_named = False
    for name, param in found.parameters.items():
        if param.kind is inspect.Parameter.KEYWORD_ONLY and not is_named:
            parts, is_named = [*parts, "*"], True
        default = "" if param.default is param.empty else f" = {_default(param.default)}"
        parts.append(f"{name}: {param.annotation}{default}")
    name, end = function.__name__, f" -> {found.return_annotation}"
    whole = f"{name}({', '.join(parts)}){end}"
    if len(whole) <= 88:
        return whole
    return f"{name}(\n" + "".join(f"    {part},\n" for part in parts) + f"){end}"


def _classes() -> dict[str, type]:
    """Every record of the rooms that operations name in their signatures, by name."""
    found: dict[str, type] = {}
    for room in (salvage.records, salvage.work):
        for module in pkgutil.iter_modules(room.__path__, f"{room.__name__}."):
            loaded = importlib.import_module(module.name)
            for name, value in vars(loaded).items():
                if name.startswith("_") or not isinstance(value, type):
                    continue
                if value.__module__ == module.name and is_dataclass(value):
                    found[name] = value
    return found


def _named(texts: Iterator[str], classes: dict[str, type]) -> set[str]:
    """Records that annotations name, and those that their fields name."""
    found: set[str] = set()
    waiting = [word for text in texts for word in re.findall(r"\w+", text)]
    while waiting:
        word = waiting.pop()
        if word in classes and word not in found:
            found.add(word)
            for text in classes[word].__annotations__.values():
                waiting += re.findall(r"\w+", str(text))
    return found


def _table(head: str, rows: list[tuple[str, str]]) -> list[str]:
    return [f"| {head} | |", "|---|---|", *(f"| `{name}` | {words} |" for name, words in rows), ""]


def arguments(function: Callable[..., Any]) -> list[tuple[str, str]]:
    """What each value means that an operation takes, the workshop left out."""
    told = {
        name.strip(): words
        for names, words in Doc(function.__doc__ or "").parts.get("Args", ())
        for name in names.split(",")
    }
    told = SAME_EVERYWHERE | {"dry_run": "Do everything, then roll back."} | told
    taken = inspect.signature(function).parameters
    return [(name, told.get(name, "")) for name in taken if name != "shop"]


def _operation(operation: Operation) -> Iterator[str]:
    function = operation.function
    doc = Doc(function.__doc__ or "")
    yield f"### {operation.name}"
    yield ""
    yield f"```text\n{signature(function)}\n```"
    yield ""
    yield doc.words
    yield ""
    if rows := arguments(function):
        yield from _table("argument", rows)
    if returns := doc.parts.get("Returns"):
        yield f"Gives: {' '.join(words for _, words in returns)}"
        yield ""
    if raised := doc.parts.get("Raises"):
        yield from _table("error", raised)
    change = "It writes to the journal." if operation.changes else "It changes no record."
    yield f"On the command line: `salvage {operation.command}`. {change}"
    yield ""


def _cell(kind: object) -> str:
    return str(kind).replace("|", "\\|")


def _record(cls: type) -> Iterator[str]:
    doc = Doc(cls.__doc__ or "")
    words = {
        one.strip(): told for names, told in doc.parts.get("Args", ()) for one in names.split(",")
    }
    yield f"### {cls.__name__}"
    yield ""
    yield f"From `{cls.__module__}`. {doc.words}"
    yield ""
    yield "| field | type | |"
    yield "|---|---|---|"
    for field in fields(cls):
        kind = _cell(cls.__annotations__.get(field.name, field.type))
        yield f"| `{field.name}` | `{kind}` | {words.get(field.name, '')} |"
    for name, value in vars(cls).items():
        if isinstance(value, property) and not name.startswith("_"):
            told = Doc(value.__doc__ or "").words
            kind = _cell(inspect.signature(value.fget).return_annotation) if value.fget else ""
            yield f"| `{name}` | `{kind}` | {told} |"
    yield ""


def python_page() -> str:
    """The operations by module, in the order of the job, and the records that they name."""
    lines: list[str] = []
    module = ""
    for operation in OPERATIONS:
        own = operation.function.__module__
        if own != module:
            module = own
            told = Doc(importlib.import_module(own).__doc__ or "").words
            lines += [f"## {own}", "", told, ""]
        lines += _operation(operation)
    classes = _classes()
    signatures = (signature(operation.function) for operation in OPERATIONS)
    lines += ["## Records", ""]
    for name in sorted(_named(signatures, classes)):
        lines += _record(classes[name])
    return HEAD + "\n".join(lines)
