"""UUID version 7 against RFC 9562; where the vector comes from: SOURCES.md."""

from __future__ import annotations

import uuid

from hypothesis import given
from hypothesis import strategies as st

from salvage.ids import uuid7


def test_the_example_of_appendix_a_6() -> None:
    """RFC 9562 appendix A.6: 2022-02-22 14:22:22.00 -05:00, rand_a CC3, rand_b 18C4DC0C0C07398F."""
    unix_ms = 1645557742000
    # rand_a fills the low 12 bits of 16, rand_b the low 62 of 64.
    random_bytes = bytes.fromhex("0cc318c4dc0c0c07398f")

    assert uuid7(unix_ms, random_bytes) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(st.integers(0, 2**48 - 1), st.binary(min_size=10, max_size=10))
def test_version_variant_and_time_are_where_the_rfc_puts_them(ms: int, noise: bytes) -> None:
    """RFC 9562 section 5.7: 48 bits of time, version 7, the RFC variant, the rest random."""
    value = uuid.UUID(uuid7(ms, noise))

    assert value.version == 7
    assert value.variant == uuid.RFC_4122
    assert value.int >> 80 == ms
    assert value.int & (2**62 - 1) == int.from_bytes(noise[2:], "big") & (2**62 - 1)
    assert value.int >> 64 & 0xFFF == int.from_bytes(noise[:2], "big") & 0xFFF


@given(
    st.integers(0, 2**48 - 2),
    st.binary(min_size=10, max_size=10),
    st.binary(min_size=10, max_size=10),
)
def test_later_events_sort_later(ms: int, noise: bytes, other: bytes) -> None:
    """Identifiers of events sort by their millisecond."""
    assert uuid7(ms, noise) < uuid7(ms + 1, other)
