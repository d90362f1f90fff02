"""A donor asks to be forgotten, and the record is signed."""

from __future__ import annotations

from salvage.work import checkpoints, donors, dossier, forget, proof
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _forget(shop: Workshop, memory: Memory) -> None:
    code = donors.list_donors(shop)[0].donor.code
    forget.forget_donor(shop, donor=code, reason="asked by letter")


def _sign(shop: Workshop, memory: Memory) -> None:
    checkpoints.sign_checkpoint(shop)


def _prove(shop: Workshop, memory: Memory) -> None:
    proof.prove_piece(shop, piece=memory["piece"])


def _dossier(shop: Workshop, memory: Memory) -> None:
    dossier.write_dossiers(shop, pieces=[memory["piece"]])


STEPS = (
    Step("forget_donor", _forget, 'donor forget {donor} --reason "asked by letter" --yes'),
    Step("sign_checkpoint", _sign, "proof sign"),
    Step("prove_piece", _prove, "proof piece {piece} --out {out}/proof.json"),
    Step("write_dossiers", _dossier, "export dossier {out}/site {piece}"),
)
