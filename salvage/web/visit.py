"""One visit: what a browser asked, who it is, and the workshop opened for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from salvage.errors import SalvageError
from salvage.ids import Code
from salvage.web.house import House
from salvage.web.notebook import Guest
from salvage.work.reading import read_code
from salvage.work.workshop import Workshop


@dataclass(frozen=True)
class Upload:
    """
    A file that came with a form.

    Args:
        name: As the browser calls it.
        data: Its bytes.
    """

    name: str
    data: bytes


@dataclass(frozen=True)
class Visit:
    """
    One request.

    Args:
        house: The running page.
        guest: Who asks.
        shop: The open workshop.
        path: Parts of the address, such as the code.
        fields: What was typed: of the form, or of the address after ``?``.
        several: Fields that may come more than once.
        uploads: Files of the form.
        trouble: Why a form that was sent is shown again.
    """

    house: House
    guest: Guest
    shop: Workshop
    path: Mapping[str, str] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    uploads: tuple[Upload, ...] = ()
    trouble: SalvageError | None = None

    def text(self, name: str, default: str = "") -> str:
        """A field without the spaces round it."""
        return self.fields.get(name, default).strip() or default

    def code(self, kinds: str) -> Code:
        """
        The code in the address.

        Raises:
            BadCode: If it is no code of those kinds.
        """
        return read_code(self.shop, text=self.path["code"], kinds=kinds)

    def with_trouble(self, error: SalvageError) -> Visit:
        """The same visit, to show its form again."""
        return replace(self, trouble=error)


@dataclass(frozen=True)
class Sheet:
    """
    A page to be shown.

    Args:
        template: Name of its template.
        title: Of the page.
        facts: What the template fills in.
    """

    template: str
    title: str
    facts: Mapping[str, Any]  # whatever the template names


@dataclass(frozen=True)
class Done:
    """
    A deed that was done.

    Args:
        words: What changed, for the person.
        codes: What it made or changed, the main one first.
        then: Address to go on to.
        facts: The same for programs.
    """

    words: str
    codes: tuple[Code, ...] = ()
    then: str = "/"
    facts: Mapping[str, Any] = field(default_factory=dict)  # plain JSON


@dataclass(frozen=True)
class Bytes:
    """
    A picture or document.

    Args:
        data: The bytes.
        media_type: What they are.
        name: To save it under; empty to show it.
        keep: Whether the browser may keep it: its address changes whenever it does.
    """

    data: bytes
    media_type: str
    name: str = ""
    keep: bool = False


@dataclass(frozen=True)
class Facts:
    """
    Plain JSON, for our own scripts and for programs.

    Args:
        value: It.
    """

    value: Mapping[str, Any]


Answer = Sheet | Done | Bytes | Facts
"""What a page's function may give."""
