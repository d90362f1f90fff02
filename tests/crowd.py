"""Many at once: browsers and the command line on one running page."""

from __future__ import annotations

import re
import subprocess
import sys
import time
import urllib.parse
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from http.cookiejar import CookieJar
from pathlib import Path

from salvage.web.notebook import Notebook
from salvage.work.clock import system_clock
from salvage.work.workshop import open_workshop
from tests.screen import running_page, seed

_HIDDEN = re.compile(r'name="(form-key|key)" value="([^"]+)"')


class Visitor:
    """
    A browser as a program: keeps its cookie, reads the hidden fields, sends forms.

    Args:
        origin: Where the page is.
        folder: The workshop's folder, whose owner lets it in.
        name: Who it is.
    """

    def __init__(self, origin: str, folder: Path, name: str) -> None:
        self._origin = origin
        jar = urllib.request.HTTPCookieProcessor(CookieJar())
        self._opener = urllib.request.build_opener(jar)
        token = Notebook(folder / "page.db", clock=system_clock).invite(role="owner", name=name)
        self.get(f"/open/{token}")

    def get(self, address: str) -> str:
        """A page."""
        with self._opener.open(self._origin + address, timeout=60) as answer:
            return str(answer.read().decode())

    def post(
        self, address: str, fields: dict[str, str], *, accept: str = "application/json"
    ) -> None:
        """Send a form."""
        hidden = dict(reversed(_HIDDEN.findall(self.get("/dropoff/new"))))
        data = urllib.parse.urlencode({**hidden, **fields}).encode()
        headers = {"Origin": self._origin, "Accept": accept}
        request = urllib.request.Request(self._origin + address, data, headers)
        self._opener.open(request, timeout=60).close()


def crowd(folder: Path, *, browsers: int, each: int) -> dict[str, float]:
    """
    So many browsers write and read at once, and the command line as well; all must be there after.

    Args:
        folder: Where the workshop is made.
        browsers: How many.
        each: How many entries each makes.

    Returns:
        Entries that were sent, entries that are on record, errors, and entries in a second.
    """
    cleared, _, _ = seed(folder)
    with running_page(folder) as told:
        origin = told["address"].partition("/open/")[0]
        visitors = [Visitor(origin, folder, f"V{n}") for n in range(browsers)]

        def work(number: int) -> int:
            for turn in range(each):
                visitors[number].post(
                    "/dropoff/add", {"donor": f"donor {number}", "contents": f"box {turn}"}
                )
                visitors[number].get(f"/board/{cleared}" if turn % 2 else "/")
            return each

        def command_line(turn: int) -> int:
            words = [sys.executable, "-m", "salvage", "--shop", str(folder), "dropoff", "add"]
            words += ["--donor", "desk", "--contents", f"crate {turn}"]
            return int(subprocess.run(words, capture_output=True, check=False).returncode == 0)

        begun = time.perf_counter()
        with ThreadPoolExecutor(browsers + 1) as pool:
            sent = [pool.submit(work, number) for number in range(browsers)]
            desk = pool.submit(lambda: sum(command_line(turn) for turn in range(3)))
            done = sum(one.result() for one in sent) + desk.result()
        took = time.perf_counter() - begun
    with open_workshop(folder) as shop:
        where = "contents LIKE 'box %' OR contents LIKE 'crate %'"
        (kept,) = shop.conn.execute(f"SELECT count(*) FROM drop_off WHERE {where}").fetchone()
    expected = browsers * each + 3
    return {
        "sent": expected,
        "kept": int(kept),
        "errors": expected - done,
        "entries_in_a_second": round(expected / took, 1),
    }
