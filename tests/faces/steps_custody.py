"""The job at the drawer for disks and chips: searched, described, handed over, ended, closed."""

from __future__ import annotations

from salvage.work import custody_steps as custody
from salvage.work import sanitising
from salvage.work.photos import NewPhoto
from salvage.work.workshop import Workshop
from tests.faces.step import Memory, Step, photo_bytes


def _search(shop: Workshop, memory: Memory) -> None:
    photo = NewPhoto(photo_bytes(), "front.png", "other", "evidence about data")
    new = custody.NewSearch((("memory card", 2),), "all three crates", "lamp", photo)
    custody.search_for_data(shop, drop_off=memory["again"], new=new)


def _describe(shop: Workshop, memory: Memory) -> None:
    new = custody.NewMedium("Orrery", "M2", "77-A", source="mixing desk", confidentiality="staff")
    custody.describe_medium(shop, drop_off=memory["again"], n=1, new=new)


def _hand(shop: Workshop, memory: Memory) -> None:
    new = custody.NewHandOver("donor", "Ilva Brandt", place="at the gate", document="R-5")
    custody.hand_over_medium(shop, drop_off=memory["again"], n=1, new=new)


def _sanitise(shop: Workshop, memory: Memory) -> None:
    new = sanitising.NewSanitising(
        method="destroy",
        technique="cut",
        tool="hand shears",
        verification="looked at",
        verified_by="Ilva",
        verified_title="bench lead",
        place="back room",
        die="destroyed",
        contact="line 5",
        destination="metal bin",
        photo=NewPhoto(photo_bytes(), "front.png", "other", "evidence about data"),
    )
    sanitising.sanitise_medium(shop, drop_off=memory["again"], n=2, new=new)


STEPS = (
    Step(
        "search_for_data",
        _search,
        'custody search {again} "memory card:2" --scope "all three crates" --how lamp'
        " --photo {photo}",
    ),
    Step(
        "describe_medium",
        _describe,
        "custody describe {again} 1 --maker Orrery --model M2 --serial 77-A"
        ' --source "mixing desk" --confidentiality staff',
    ),
    Step(
        "sanitise_medium",
        _sanitise,
        "custody sanitise {again} 2 --method destroy --technique cut --tool 'hand shears'"
        ' --verify "looked at" --verified-by Ilva --title "bench lead" --place "back room"'
        ' --die destroyed --contact "line 5" --destination "metal bin" --photo {photo}',
    ),
    Step(
        "hand_over_medium",
        _hand,
        'custody hand {again} 1 donor --to "Ilva Brandt" --place "at the gate" --document R-5',
    ),
    Step(
        "close_drop_off",
        lambda shop, memory: custody.close_drop_off(shop, drop_off=memory["again"], note="done"),
        "dropoff close {again} --note done",
    ),
)
"""In the order of the job."""
