"""Checkpoints and designs go along with a copy."""

from __future__ import annotations

from pathlib import Path

import pytest

from salvage.store.own_folders import bring_own_folders

SIGNED = b'{"signed":{"chains":[{"device":"C","count":7}]}}'


@pytest.mark.parametrize(
    ("body", "comes"),
    [
        pytest.param(SIGNED, False, id="of events that the record lacks"),
        pytest.param(SIGNED.replace(b"7", b"3"), True, id="of events that it has"),
        pytest.param(b"no checkpoint", True, id="unreadable"),
        pytest.param(b'{"signed":{}}', True, id="of nothing"),
        pytest.param(b"[" * 100_000, True, id="nested without end"),
    ],
)
def test_a_checkpoint_of_later_events_stays_behind(
    tmp_path: Path, body: bytes, comes: bool
) -> None:
    """An older record cannot hold what was signed after it; what cannot be read is not judged."""
    source, target = tmp_path / "copy", tmp_path / "shop"
    (source / "checkpoints").mkdir(parents=True)
    (source / "checkpoints" / "one.json").write_bytes(body)

    bring_own_folders(source, target, known={"C": 5})

    assert (target / "checkpoints" / "one.json").exists() == comes
