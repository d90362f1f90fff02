"""
The lowest versions that pyproject.toml allows for what the program needs.

Run as a script it prints them one a line, as a constraint file for pip.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_BOUND = re.compile(r"([A-Za-z0-9._-]+)(?:\[[^]]*\])?\s*>=\s*([0-9][0-9a-z.]*)")


def lowest_pins(pyproject: str) -> list[str]:
    """
    One exact version for each dependency, its lower bound.

    Args:
        pyproject: Text of pyproject.toml.

    Raises:
        ValueError: If a dependency has no lower bound, written first.

    >>> lowest_pins('[project]\\ndependencies = ["rich>=13.7,<20"]')
    ['rich==13.7']
    """
    pins = []
    for wanted in tomllib.loads(pyproject)["project"]["dependencies"]:
        bound = _BOUND.match(wanted)
        if not bound:
            raise ValueError(f"'{wanted}' has no lower bound; write it first, such as rich>=13.7")
        pins.append(f"{bound[1]}=={bound[2]}")
    return pins


if __name__ == "__main__":
    top = Path(__file__).resolve().parents[2]
    text = (top / "pyproject.toml").read_text(encoding="utf-8")
    sys.stdout.write("\n".join(lowest_pins(text)) + "\n")
