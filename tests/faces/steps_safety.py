"""The job of knowing: a row of one's own, an alert on what is on the shelf, evidence of a check."""

from __future__ import annotations

from datetime import date

from salvage.work import alerts, evidence, own_facts
from salvage.work.alerts import NewAlert, raise_alert
from salvage.work.evidence import NewEvidence
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step

THERMAL_LINK = {
    "name": "thermal link",
    "board_types": "power supply, ups",
    "where": "beside the heater plug",
    "how_to_spot": "small can with a red end",
    "how_removed": "desolder whole",
    "goes_to": "metal box",
    "protection": "gloves",
    "source": "leaflet of the fire brigade, 2025",
    "confidence": "read-primary",
    "read_on": "2026-04-30",
}


def _add(shop: Workshop, memory: Memory) -> None:
    own_facts.add_own_facts(shop, kind="hazard", rows=[("Thermal link", THERMAL_LINK)])


def _raise(shop: Workshop, memory: Memory) -> None:
    raise_alert(
        shop,
        new=NewAlert(
            "clock battery",
            "soldered under the slot",
            "bulletin 7",
            type="motherboard",
            maker="Orrery",
            made_from=date(1990, 1, 1),
            made_to=date(1999, 12, 31),
        ),
    )


def _lift(shop: Workshop, memory: Memory) -> None:
    (raised,) = alerts.list_alerts(shop)
    alerts.lift_alert(shop, alert=raised.alert.id, reason="bulletin withdrawn")


def _evidence(shop: Workshop, memory: Memory) -> None:
    evidence.add_evidence(
        shop,
        board=memory["board"],
        hazards=["coin-cell"],
        evidence=NewEvidence("holder is empty"),
    )


_TYPED = " ".join(f'"{name}={text}"' for name, text in THERMAL_LINK.items())

STEPS = (
    Step("add_own_facts", _add, f'facts add hazard "Thermal link" {_TYPED}'),
    Step(
        "raise_alert",
        _raise,
        'alert raise "clock battery" --type mainboard --maker Orrery --from 1990 --to 1999'
        ' --reason "soldered under the slot" --source "bulletin 7"',
        made="alert",
    ),
    Step("lift_alert", _lift, 'alert lift {alert} --reason "bulletin withdrawn"'),
    Step("add_evidence", _evidence, 'board evidence {board} coin-cell --note "holder is empty"'),
    Step(
        "withdraw_own_fact",
        lambda shop, memory: own_facts.withdraw_own_fact(
            shop, slug="own-thermal-link", reason="not in our boards"
        ),
        'facts withdraw thermal-link --reason "not in our boards"',
    ),
)
"""In the order of the job."""
