"""A donor asks to be forgotten."""

from __future__ import annotations

from salvage.work import donors, forget
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _forget(shop: Workshop, memory: Memory) -> None:
    code = donors.list_donors(shop)[0].donor.code
    forget.forget_donor(shop, donor=code, reason="asked by letter")


STEPS = (Step("forget_donor", _forget, 'donor forget {donor} --reason "asked by letter" --yes'),)
