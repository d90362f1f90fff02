"""The library of shapes from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_cleared_board

TERN = Path(__file__).resolve().parents[2] / "demo_db" / "shapes" / "tern.svg"


def test_a_shape_is_added_at_a_size(tmp_path: Path) -> None:
    """Brought to 100 mm in proportion, curves no coarser than before."""
    desk = Desk(tmp_path)
    own = desk.do(f"shape add own {TERN} --json").value
    wide = desk.do(f"shape add wide {TERN} --width 100 --finest --json").value

    assert wide["width_mm"] == 100
    assert wide["height_mm"] == pytest.approx(100 * own["height_mm"] / own["width_mm"], abs=0.01)
    assert wide["area_mm2"] == pytest.approx(
        own["area_mm2"] * (100 / own["width_mm"]) ** 2, rel=0.002
    )
    assert (own["finest"], wide["finest"]) == (0, 1)
    assert "from 0.001 to 1 mm" in desk.run(f"shape add t {TERN} --tolerance 7").err


def test_a_shape_too_small_for_the_bit_is_named_as_such(tmp_path: Path) -> None:
    """Warned of when added, shown with its mend, refused when it is to be cut."""
    desk = Desk(tmp_path)
    add_cleared_board(desk)
    added = desk.do(f"shape add small {TERN} --width 20").out
    shown = desk.do("shape show small --json").value
    refused = desk.run("fits small")

    assert "! a 2 mm bit cannot cut it as drawn" in added
    assert (shown["cuttable"], shown["mend"].startswith("draw it at least")) == (False, True)
    assert any("slot" in loss for loss in shown["losses"])
    assert (refused.code, "--anyway" in refused.err) == (1, True)
    assert desk.do("fits small --anyway --json").value[0]["verdict"] == "fit"
    assert desk.do(f"shape show small --width {float(shown['width_mm']) * 3}").code == 0


def test_the_mend_mends(tmp_path: Path) -> None:
    """At the width that the refusal names, the bit does cut it."""
    desk = Desk(tmp_path)
    desk.do(f"shape add small {TERN} --width 20")
    mend = desk.do("shape show small --json").value["mend"]
    width = mend.removeprefix("draw it at least ").split(" mm")[0]

    assert desk.do(f"shape show small --width {width} --json").value["cuttable"]


def test_a_shape_is_shown_and_drawn(tmp_path: Path) -> None:
    """Facts, symmetry, a preview, and a picture as SVG and PNG."""
    desk = Desk(tmp_path)
    desk.do("dropoff add --donor Kelpie --contents boards")
    told = desk.do("shape show ring --width 40 --picture ring.png").out
    desk.do("shape show ring --width 40 --picture ring.svg")

    assert "symmetry:" in told
    assert "████" in told
    assert (tmp_path / "ring.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "ring.svg").read_bytes().startswith(b"<svg")
    assert desk.run("shape show dragon").code == 1
