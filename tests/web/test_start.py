"""The page as a process: it says where it is, answers there only, and ends with Ctrl-C."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from salvage.errors import StoreTrouble
from salvage.web.serve import listen


def test_the_page_starts_and_ends(tmp_path: Path) -> None:
    """One command opens the page; its link opens it once, and Ctrl-C ends it."""
    command = [sys.executable, "-m", "salvage", "page", "--port", "0", "--no-open", "--json"]
    command += ["--shop", str(tmp_path / "shop")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None
        told = json.loads(running.stdout.readline())
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        page = opener.open(told["address"], timeout=20).read().decode()
        with pytest.raises(urllib.error.HTTPError) as second:
            urllib.request.urlopen(told["address"], timeout=20)
        second.value.close()
        running.send_signal(signal.SIGINT)
        code = running.wait(timeout=20)

    assert told["address"].startswith("http://127.0.0.1:")
    assert told["phones"] == ""
    assert "The shelf is empty" in page
    assert second.value.code == 409
    assert code == 130


def test_a_port_in_use_is_told() -> None:
    """A second page on the same port is refused in one line that says what to do."""
    with listen("127.0.0.1", 0) as ears, pytest.raises(StoreTrouble, match="cannot be listened"):
        listen("127.0.0.1", ears.getsockname()[1])


def test_answers_go_out_at_once() -> None:
    """A finger that drags a shape waits for no timer: the server's loop sees that this is TCP."""
    with listen("127.0.0.1", 0) as ears:
        ears.settimeout(5)
        with socket.create_connection(ears.getsockname()), ears.accept()[0] as accepted:
            assert (ears.proto, accepted.proto) == (socket.IPPROTO_TCP, socket.IPPROTO_TCP)
