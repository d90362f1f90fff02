"""A browser without a screen: sends what a browser would, to the page in this process."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from starlette.testclient import TestClient

from salvage.web.app import build_app
from salvage.web.house import House
from tests.bench import SteppingClock, seeded_entropy

HOST = "127.0.0.1:8417"
ORIGIN = f"http://{HOST}"

_HIDDEN = re.compile(r'name="(form-key|key)" value="([^"]+)"')


class Browser:
    """
    One paired browser.

    Args:
        folder: The workshop's folder.
        role: ``owner`` or ``helper``.
        name: Who works with it.
        house: The running page, when it is shared with other browsers.
    """

    def __init__(
        self, folder: Path, *, role: str = "owner", name: str = "", house: House | None = None
    ) -> None:
        self.house = house or make_house(folder)
        self.client = TestClient(build_app(self.house), base_url=ORIGIN, follow_redirects=False)
        self.client.headers["origin"] = ORIGIN
        token = self.house.notebook.invite(role=role, name=name)
        opened = self.client.get(f"/open/{token}")
        assert opened.status_code == 303, opened.text

    def get(self, address: str) -> str:
        """A page's HTML; it must be there."""
        answer = self.client.get(address)
        assert answer.status_code == 200, answer.text
        return answer.text

    def keys(self, address: str) -> dict[str, str]:
        """The hidden fields of the first form of a page."""
        found = _HIDDEN.findall(self.get(address))
        return {name: html.unescape(value) for name, value in reversed(found)}

    def post(
        self,
        address: str,
        fields: Mapping[str, str] | None = None,
        *,
        page: str = "/dropoff/new",
        files: Any = None,  # as the client takes them
        json: bool = False,
        ticked: Mapping[str, list[str]] | None = None,
    ) -> Any:
        """
        Send a form as a page would.

        Args:
            address: Where to.
            fields: What was typed.
            page: The page whose hidden fields go with it.
            files: Photos.
            json: Ask for JSON, as the page's script does.
            ticked: Boxes that are ticked, several of one name.
        """
        data = {**self.keys(page), **(fields or {}), **(ticked or {})}
        headers = {"accept": "application/json"} if json else {}
        if files:
            return self.client.post(address, data=data, files=files, headers=headers)
        headers["content-type"] = "application/x-www-form-urlencoded"
        return self.client.post(address, content=urlencode(data, doseq=True), headers=headers)

    def do(self, address: str, fields: Mapping[str, str] | None = None, **more: Any) -> Any:
        """Send a form that must be taken; gives what the page's script is told."""
        answer = self.post(address, fields, json=True, **more)
        assert answer.status_code == 200, answer.text
        return answer.json()


def make_house(folder: Path, *, clock: Callable[[], datetime] | None = None) -> House:
    """A running page for a workshop's folder, with a stepping clock and seeded randomness."""
    house = House(
        folder,
        frozenset({HOST, "localhost:8417"}),
        clock=clock or SteppingClock(),
        entropy=seeded_entropy(),
        by="Maren",
        phones=HOST,
    )
    house.open(create=True).close()
    return house
