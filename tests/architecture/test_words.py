"""Some words have no place in a published tree: where it was built, and where parts come from."""

from __future__ import annotations

import pytest

from tests.architecture.tree import ROOT, house_files

# Written in halves, so that this file does not hold them itself.
FORBIDDEN = tuple(
    left + right
    for left, right in (
        ("seed ", "document"),
        ("seed-", "document"),
        (".lib", "rary/"),
        ("../sha", "red"),
        ("/work/sha", "red"),
        ("/work/", "main"),
        ("/opt/d", "ev"),
        ("/opt/py", "pi"),
        ("pypi", ".org"),
        ("pypi.", "python"),
        ("python", "hosted"),
        ("npm", "js."),
        ("crates", ".io"),
        ("golang", ".org"),
        ("deb.", "debian"),
        ("debian", ".org"),
    )
)


def forbidden_in(path: str, data: bytes) -> list[str]:
    """Findings in one file, in its name as in its text; pictures and fonts hold no words."""
    text = "" if b"\0" in data else data.decode("utf-8", errors="replace")
    lines = [path, *text.splitlines()]
    return [
        f"{path}:{number}: holds {word!r}"
        for number, line in enumerate(lines)
        for word in FORBIDDEN
        if word in " ".join(line.lower().split())
    ]


def test_no_file_holds_a_forbidden_word() -> None:
    """The tree stands by itself and tells nothing of the bench it was made on."""
    found = [
        fault for path in house_files() for fault in forbidden_in(path, (ROOT / path).read_bytes())
    ]

    assert found == [], "\n".join(found)


@pytest.mark.parametrize("word", FORBIDDEN)
def test_a_forbidden_word_is_caught(word: str) -> None:
    """Each word is caught in text, in capitals and in a file's name."""
    assert forbidden_in("x.md", f"fine\nsee {word.upper()}x\n".encode()) == [
        f"x.md:2: holds {word!r}"
    ]
    assert forbidden_in(f"{word}.md", b"fine") != []


def test_harmless_text_passes() -> None:
    """A picture, and words that only resemble, are left alone."""
    assert forbidden_in("x.png", f"\0{FORBIDDEN[0]}".encode()) == []
    assert forbidden_in("x.md", b"a shared library of seeded documents") == []
