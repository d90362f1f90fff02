"""The reference says what the program does now."""

from __future__ import annotations

import pytest

from tests.docs.pages import DOCS, PAGES


@pytest.mark.parametrize("name", PAGES)
def test_a_generated_page_is_up_to_date(name: str) -> None:
    """Somebody who changes the program runs ``python -m tests.docs.pages`` as well."""
    assert (DOCS / name).read_text(encoding="utf-8") == PAGES[name]()
