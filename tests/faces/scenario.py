"""
The whole job as a list of steps, each told once for every face.

A step names an operation, says it in Python, and says it as a command line. What a step makes is
remembered under a name, so that later steps of the same face speak of it.
"""

from __future__ import annotations

from tests.faces import (
    steps_articles,
    steps_bench,
    steps_custody,
    steps_devices,
    steps_fair,
    steps_gate,
    steps_intake,
    steps_labels,
    steps_looks,
    steps_materials,
    steps_measure,
    steps_papers,
    steps_plan,
    steps_proof,
    steps_safety,
    steps_season,
    steps_stock,
    steps_tools,
    steps_waste,
)

STEPS = (
    *steps_intake.STEPS,
    *steps_custody.STEPS,
    *steps_safety.STEPS,
    *steps_measure.STEPS,
    *steps_looks.STEPS,
    *steps_bench.STEPS,
    *steps_plan.STEPS,
    *steps_labels.STEPS,
    *steps_tools.STEPS,
    *steps_stock.STEPS,
    *steps_materials.STEPS,
    *steps_gate.STEPS,
    *steps_fair.STEPS,
    *steps_articles.STEPS,
    *steps_waste.STEPS,
    *steps_season.STEPS,
    *steps_papers.STEPS,
    *steps_devices.STEPS,
    *steps_proof.STEPS,
)
"""The whole job, from the door to the fair and back."""
