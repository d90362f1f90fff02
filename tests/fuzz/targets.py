"""All doors by which outside data come in."""

from __future__ import annotations

from collections.abc import Mapping

from tests.fuzz.target import Target
from tests.fuzz.targets_copies import COPY_TARGETS
from tests.fuzz.targets_faces import FACE_TARGETS
from tests.fuzz.targets_files import FILE_TARGETS
from tests.fuzz.targets_journal import JOURNAL_TARGETS
from tests.fuzz.targets_text import TEXT_TARGETS

TARGETS: Mapping[str, Target] = {
    target.name: target
    for target in (*TEXT_TARGETS, *FILE_TARGETS, *JOURNAL_TARGETS, *COPY_TARGETS, *FACE_TARGETS)
}
"""Every importer by its name."""
