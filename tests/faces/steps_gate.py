"""The job before a sale: tests of parts, what a piece is to be, what is answered for."""

from __future__ import annotations

from datetime import date

from salvage.knowledge.amounts import parse_amount
from salvage.work import assays, gate_steps
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step


def _assay(shop: Workshop, memory: Memory) -> None:
    new = assays.NewAssay(
        "lead",
        parse_amount("120 ppm"),
        "x-ray fluorescence",
        part="laminate",
        detection_limit=parse_amount("10 ppm"),
        uncertainty=parse_amount("0.002 %"),
        instrument="handheld XRF 3",
        tested_on=date(2026, 5, 3),
        document="X-7",
        note="three shots",
    )
    assays.record_assay(shop, code=memory["board"], new=new)


def _lab(shop: Workshop, memory: Memory) -> None:
    amount = parse_amount("<0.1 ug/cm2/week")
    new = assays.NewAssay(
        "nickel", amount, "release test", part="finding", instrument="bath 2", lab="Quay lab"
    )
    assays.record_assay(shop, code=memory["oval"], new=new)


def _describe(shop: Workshop, memory: Memory) -> None:
    new = gate_steps.NewProduct("pendant", solder="absent", component="absent")
    gate_steps.describe_pieces(shop, pieces=[memory["piece"], memory["oval"]], new=new)


STEPS = (
    Step(
        "record_assay",
        _assay,
        'assay add {board} --part laminate --analyte lead --value "120 ppm" --method xrf'
        ' --detection-limit 10ppm --uncertainty 0.002% --instrument "handheld XRF 3"'
        ' --date 2026-05-03 --document X-7 --note "three shots"',
    ),
    Step(
        "record_assay",
        _lab,
        'assay add {oval} --part finding --analyte nickel --value "<0.1 ug/cm2/week"'
        ' --method "release test" --instrument "bath 2" --lab "Quay lab"',
    ),
    Step(
        "void_assay",
        lambda shop, memory: assays.void_assay(shop, code=memory["oval"], n=1, why="wrong hook"),
        'assay void {oval} 1 --why "wrong hook"',
    ),
    Step(
        "describe_pieces",
        _describe,
        "gate describe {piece} {oval} pendant --solder absent --components absent",
    ),
    Step(
        "set_audience",
        lambda shop, memory: gate_steps.set_audience(
            shop, piece=memory["oval"], audience="adult", reason="sharp edge"
        ),
        'gate audience {oval} adult --reason "sharp edge"',
    ),
    Step(
        "accept_point",
        lambda shop, memory: gate_steps.accept_point(
            shop, pieces=[memory["panel"]], point="sealing", reason="worn over a shirt"
        ),
        'gate accept {panel} sealing --reason "worn over a shirt"',
    ),
)
"""In the order of the job."""
