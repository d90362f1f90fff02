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


@pytest.mark.parametrize("head", ['viewBox="0 0 100 80"', 'width="100" height="80"'])
def test_a_drawing_without_a_size_takes_the_one_that_is_given(tmp_path: Path, head: str) -> None:
    """The width that was typed says what the drawing does not; its proportions stay."""
    desk = Desk(tmp_path)
    path = '<path d="M0 0 L100 0 L50 80 Z"/>'
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{path}</svg>'
    (tmp_path / "kite.svg").write_text(drawing, encoding="utf-8")
    silent = desk.run("shape add kite kite.svg")
    told = desk.do("shape add kite kite.svg --width 30 --json").value

    assert silent.code == 1
    assert "does not say how large it is" in silent.err
    assert (told["width_mm"], told["height_mm"]) == (30.0, 24.0)
    assert told["area_mm2"] == pytest.approx(30 * 24 / 2, rel=1e-6)


def test_a_built_in_shape_asks_for_its_width_by_the_options_name(tmp_path: Path) -> None:
    """The message names what can be typed."""
    desk = Desk(tmp_path)
    desk.do("setup name=Quay")
    told = desk.run("fits circle")

    assert told.err == (
        "salvage: --width: the built-in shape 'circle' needs a width\n  such as 40 mm\n"
    )
