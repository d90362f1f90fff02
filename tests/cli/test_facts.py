"""``salvage facts``: what the program knows, and rows of one's own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.desk import Desk, add_drop_off
from tests.faces.steps_safety import THERMAL_LINK
from tests.paper import printed

TABLE = (
    "# our county\n"
    "slug,topic,jurisdiction,subject,operator,value,unit,source,confidence,read_on\n"
    'lead-in-air,exposure,Fjord County,"lead in air, permissible limit",<=,30,ug/m3,'
    '"county leaflet 12, page 3",read-primary,2026-11-30\n'
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk without a workshop yet."""
    return Desk(tmp_path)


def test_a_look_up_begins_no_workshop(desk: Desk) -> None:
    """Who only asks leaves nothing behind."""
    for line in ("limits", "materials", "removal", "date 0626", "dust 100", "capacitor --oil"):
        desk.do(f"facts {line}")
    desk.do("hazards ups")

    assert not desk.shop.exists()


def test_limits_are_narrowed_and_expired_ones_say_so(desk: Desk) -> None:
    """A seller in California sees what holds, and what no longer does."""
    told = desk.do("facts limits --market california --topic jewellery").out

    assert "ca-jewellery-lead: California, lead: below 500 ppm, from 2020-06-01\n" in told
    assert "below 6 % w/w, until 2020-05-31, EXPIRED" in told
    assert "US federal" not in told
    assert "no such limits" in desk.do("facts limits --topic cooking").out


def test_a_row_that_nobody_read_is_marked_weak(desk: Desk) -> None:
    """In words, so that it shows without colour."""
    told = desk.do("facts materials").out

    assert "source:    weak: handbook value, from memory (from memory, not confirmed)" in told


def test_the_worked_example_of_dust(desk: Desk) -> None:
    """100 mm of a 2 mm cut in 1.57 mm board at 1.85 g/cm3 are 0.58 g (worked by hand)."""
    told = desk.do("facts dust 100 --kerf 2 --thickness 1.57").out

    assert "about 0.58 g" in told
    assert "at most 50 ug/m3 (29 CFR 1910.1025(c)" in told


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("--height 35 --diameter 22", "counts as large"),
        ("--height 20 --diameter 10", "need not come off"),
        ("--height 20", "the strict case"),
        ("--oil", "counts as PCB"),
        ("--date-code 9843", "need not be taken for PCB"),
    ],
)
def test_a_capacitor_is_judged_in_one_line(desk: Desk, line: str, says: str) -> None:
    """At the bench, with a ruler in hand."""
    told = desk.do(f"facts capacitor {line}").out

    assert says in told
    assert "source: " in told


def test_a_date_code_is_read_with_its_doubts(desk: Desk) -> None:
    """The week of the RoHS day is neither before nor after it; 8049 is a part number."""
    assert "2006-07-01 lies inside this week" in desk.do("facts date 0626").out
    assert "more likely a part number" in desk.do("facts date 8049").out


def test_a_hazard_of_ones_own_is_listed_with_ours(desk: Desk) -> None:
    """With its source, and said to be the workshop's."""
    typed = " ".join(f'"{name}={text}"' for name, text in THERMAL_LINK.items())
    told = desk.do(f"facts add hazard thermal-link {typed}")
    listed = desk.do("hazards ups").out

    assert "own-thermal-link  hazard added" in told.out
    assert "salvage alert raise own-thermal-link" in told.err
    assert "leaflet of the fire brigade, 2025 (the workshop's own row" in " ".join(listed.split())


def test_a_table_of_limits_is_taken_in_and_shows_everywhere(desk: Desk) -> None:
    """The county's limit stands beside the others, on the page of dust too."""
    (desk.folder / "county.csv").write_text(TABLE, encoding="utf-8")
    desk.do("facts import limit county.csv")
    told = desk.do("facts dust 100").out
    (own,) = desk.do("facts own --json").value

    assert "Fjord County, lead in air, permissible limit: at most 30 ug/m3" in told
    assert own["is_own"]
    assert not own["source_is_weak"]
    desk.do('facts withdraw lead-in-air --reason "county merged"')
    assert "Fjord County" not in desk.do("facts dust 100").out


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("facts add limit x value", 2, "write field=value"),
        ("facts add ghost x a=b", 1, "use one of: hazard, limit, material"),
        ("facts add material x name=oak value=much unit=g", 1, "say its source"),
        ("facts import limit nothing.csv", 1, "is not there"),
        ("facts capacitor --height 0 --diameter 5", 1, ""),
    ],
)
def test_a_bad_line_is_refused_in_one(desk: Desk, line: str, code: int, says: str) -> None:
    """What is wrong, where, and the mend."""
    told = desk.run(line)

    assert told.code == code
    assert says in told.err
    assert "Traceback" not in told.err


def test_a_hazard_of_ones_own_goes_through_clearing_waste_and_the_log(desk: Desk) -> None:
    """It is taken off, put into a container, and printed in the log with its own source."""
    typed = " ".join(f'"{name}={text}"' for name, text in THERMAL_LINK.items())
    desk.do(f"facts add hazard thermal-link {typed}")
    board = desk.code(f"board add {add_drop_off(desk)} --type ups --size 90x60")
    desk.do(f"board clear {board} --removed thermal-link --how desoldered --goes-to box")
    bin_ = desk.code("waste open metal")
    desk.do(f"waste put {bin_} link --weight 3g --from {board} --hazard own-thermal-link")
    desk.do("report hazards --out log.pdf")
    log = printed.letters((desk.folder / "log.pdf").read_bytes())

    assert "thermallink" in log
    assert "leafletofthefirebrigade,2025" in log


@pytest.mark.parametrize(
    ("unit", "is_taken"),
    [("furlong", False), ("g/cm3", True), ("% w/w", True), ("1", True), ("kg/m³", True),
     ("gg/cm3", False), ("g/cubit", False), ("W/(m K)", True)],
)  # fmt: skip
def test_a_figure_has_a_unit_of_measure(desk: Desk, unit: str, is_taken: bool) -> None:
    """A misspelt unit would make a figure that no estimate can use."""
    told = desk.run(f"facts add material alumina name=board value=3.8 'unit={unit}' source=scales")

    assert told.code == (0 if is_taken else 1), told.err
    assert ("is no unit of measure\n  such as g/cm3" in told.err) != is_taken


def test_all_units_of_our_own_rows_are_known() -> None:
    """What we write ourselves would be taken from anybody."""
    from salvage.knowledge.limits import limits
    from salvage.knowledge.materials import material_facts
    from salvage.work.own_rows import is_unit

    units = {fact.unit for fact in material_facts()} | {one.unit for one in limits()}

    assert len(units) > 10
    assert [unit for unit in units if unit and not is_unit(unit)] == []
