"""Our own pytest settings turn a test that was left out into a failure."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.tree import ROOT

SNIPPETS = {
    "runs": "def test_a(): pass\n",
    "left out inside": "import pytest\ndef test_a(): pytest.skip('no printer')\n",
    "marked": "import pytest\n@pytest.mark.skip\ndef test_a(): pass\n",
    "foretold": "import pytest\n@pytest.mark.xfail\ndef test_a(): assert 0\n",
    "whole file": "import pytest\npytest.importorskip('no_such_library')\n",
    "no cases": "import pytest\n@pytest.mark.parametrize('a', [])\ndef test_a(a): pass\n",
}


@pytest.mark.parametrize("workers", ["0", "1"])
@pytest.mark.parametrize("name", SNIPPETS)
def test_what_is_left_out_fails(tmp_path: Path, name: str, workers: str) -> None:
    """A missing printer, font or decoder turns the gate red, alone and side by side."""
    settings = (ROOT / "tests" / "conftest.py").read_text(encoding="utf-8")
    (tmp_path / "conftest.py").write_text(settings, encoding="utf-8")
    (tmp_path / "test_snippet.py").write_text(SNIPPETS[name], encoding="utf-8")
    (tmp_path / "test_other.py").write_text(SNIPPETS["runs"], encoding="utf-8")

    command = [sys.executable, "-m", "pytest", "-q", "-n", workers, "-p", "no:cacheprovider"]
    ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)

    assert (ran.returncode == 0) == (name == "runs"), ran.stdout + ran.stderr
    assert ("left out, which counts as failed" in ran.stdout) == (name != "runs")
