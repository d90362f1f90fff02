"""The page for buyers: its steps verify a proof with nothing of ours, and stop at a forged one."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from salvage.work.articles import assemble
from salvage.work.donors import NewDonor, set_naming
from salvage.work.proof import prove_piece
from salvage.work.receive import NewDropOff, log_drop_off
from salvage.work.workshop import Workshop
from tests.bench import START, add_board, add_cleared_board, clear, cut_circle

PAGE = Path(__file__).resolve().parents[2] / "docs" / "howto" / "verify-a-story-card.md"


def blocks(kind: str) -> list[str]:
    """The page's blocks of one language."""
    return re.findall(rf"```{kind}\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)


def prove(shop: Workshop) -> bytes:
    """The proof of a piece whose donor agreed to be named."""
    donor = NewDonor("Harbour Radio", naming="named")
    drop_off = log_drop_off(shop, donor=donor, new=NewDropOff(START.date(), "boards")).drop_off
    board = add_board(shop, drop_off=drop_off.code).code
    clear(shop, board)
    piece = cut_circle(shop, board, 40, 40).piece
    assert piece is not None
    set_naming(shop, donor=drop_off.donor, naming="named", naming_how="")
    return prove_piece(shop, piece=piece.code).data


def follow(folder: Path, proof: bytes) -> list[subprocess.CompletedProcess[str]]:
    """Follow the page's steps in an empty folder, with a Python that sees no other library."""
    folder.mkdir()
    (folder / "proof.json").write_bytes(proof)
    (script,) = blocks("python")
    (folder / "verify.py").write_text(script, "utf-8")
    steps = [[sys.executable, "-I", "-S", "verify.py"]]
    steps += [["sh", "-c", block] for block in blocks("sh")]
    return [
        subprocess.run(step, cwd=folder, capture_output=True, text=True, check=False)
        for step in steps
    ]


def test_the_steps_verify_a_real_proof(empty_shop: Workshop, tmp_path: Path) -> None:
    """Python, sha256sum and openssl come to the same hashes, the name and a good signature."""
    checked, summed, signature = follow(tmp_path / "buyer", prove(empty_shop))
    told = {
        f"event-{line.split()[0]}.bin": line.split()[1]
        for line in checked.stdout.splitlines()
        if re.match(r"[A-Z][0-9]+ [0-9a-f]{64} (?!withheld)", line)
    }
    sums = {line.split()[1]: line.split()[0] for line in summed.stdout.splitlines()}

    assert checked.returncode == 0, checked.stderr
    assert "donor: Harbour Radio" in checked.stdout
    assert "was cut from board" in checked.stdout
    assert told == sums
    assert len(sums) > 4
    assert "Signature Verified Successfully" in signature.stdout


def test_the_steps_verify_an_article(empty_shop: Workshop, tmp_path: Path) -> None:
    """An article's proof leads to each of its boards."""
    board = add_cleared_board(empty_shop).code
    cuts = [cut_circle(empty_shop, board, x_mm, 40) for x_mm in (30, 80)]
    parts = [cut.piece.code for cut in cuts if cut.piece]
    article = assemble(empty_shop, parts=parts, name="tern earrings").piece.code
    checked = follow(tmp_path / "buyer", prove_piece(empty_shop, piece=article).data)[0]

    assert checked.returncode == 0, checked.stderr
    assert f"{article} was assembled of {' '.join(parts)}" in checked.stdout
    assert checked.stdout.count("was cut from board") == 2


def _other_text(value: Any) -> None:
    event = next(one for one in value["events"] if '"cut.made"' in one.get("body", ""))
    event["body"] = event["body"].replace("circle", "kite")


def _other_path(value: Any) -> None:
    value["events"][0]["path"][0] = "00" * 32


def _short_path(value: Any) -> None:
    value["events"][0]["path"].pop()


def _other_name(value: Any) -> None:
    value["opened"][0]["value"] = "Harbour Television"


def _other_place(value: Any) -> None:
    value["events"][0]["n"] += 1


def _other_piece(value: Any) -> None:
    value["piece"] = "PX0001D"


@pytest.mark.parametrize(
    "forge", [_other_text, _other_path, _short_path, _other_name, _other_place, _other_piece]
)
def test_a_forged_proof_stops(
    empty_shop: Workshop, tmp_path: Path, forge: Callable[[Any], None]
) -> None:
    """Another text, path, name, place or piece is seen by the plain lines alone."""
    value = json.loads(prove(empty_shop))
    forge(value)
    checked = follow(tmp_path / "buyer", json.dumps(value).encode())[0]

    assert checked.returncode == 1


def test_a_forged_checkpoint_is_not_signed(empty_shop: Workshop, tmp_path: Path) -> None:
    """A checkpoint with another time passes the tree, and openssl refuses it."""
    value = json.loads(prove(empty_shop))
    value["checkpoint"]["signed"]["at"] = "2020-01-01T00:00:00Z"
    checked, _, signature = follow(tmp_path / "buyer", json.dumps(value).encode())

    assert checked.returncode == 0
    assert signature.returncode != 0
