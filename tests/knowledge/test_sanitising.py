"""Ways to make data unreadable, each with what it counts as and where that comes from."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue
from salvage.knowledge.sanitising import find_technique, techniques
from salvage.records.custody import MEDIA_TYPES, METHODS


def test_every_technique_speaks_of_known_methods_and_media() -> None:
    """A row that names what no record can hold would never be found."""
    for technique in techniques():
        assert set(technique.methods) <= set(METHODS), technique.slug
        assert set(technique.media) <= set(MEDIA_TYPES), technique.slug
        assert technique.source.text


def test_degaussing_destroys_nothing_and_leaves_flash_alone() -> None:
    """NIST SP 800-88 Rev. 2, as told by a secondary source: no longer Destroy."""
    degauss = find_technique("degauss")

    assert degauss.methods == ("purge",)
    assert degauss.media == ("magnetic",)


def test_what_only_may_destroy_says_so() -> None:
    """Cutting, drilling and crushing count where the die was hit, and their rows say it."""
    for slug in ("cut", "drill", "crush"):
        assert "only where" in find_technique(slug).note


def test_a_misspelt_technique_gets_the_nearest() -> None:
    """Spaces and case do not matter; a slip is answered with the likely one."""
    assert find_technique("Crypto Erase").slug == "crypto-erase"
    with pytest.raises(BadValue, match="crypto-erase"):
        find_technique("cripto-erase", field="--technique")
