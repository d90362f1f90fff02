"""Laws of clearance: no order of findings, alerts and corrections cuts a held board."""

from __future__ import annotations

import random
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.errors import Held, NoRoom, Refused, SalvageError
from salvage.ids import Code
from salvage.work.alerts import NewAlert, lift_alert, list_alerts, raise_alert
from salvage.work.check import rebuild_tables
from salvage.work.checks_at_cut import cut_moments, standing_checks
from salvage.work.clear import NewCheck, read_checklist, record_checks
from salvage.work.correct import BoardCorrection, correct_board
from salvage.work.cutting import NewCut, record_cut
from salvage.work.history import undo
from salvage.work.workshop import Workshop
from tests.bench import add_board, circle_at, clear, dump, make_shop

HAZARDS = ("clock-battery", "coin-cell", "mercury-tilt")
FINDINGS = (
    NewCheck("", "absent", how="lamp"),
    NewCheck("", "present"),
    NewCheck("", "cannot tell"),
    NewCheck("", "present", "removed", "cut off", "battery box"),
    NewCheck("", "cannot tell", "accepted", reason="no need"),
)
ACTS = ("find", "find", "clear", "alert", "lift", "correct", "cut", "cut", "cut", "undo")


def _act(shop: Workshop, board: Code, chance: random.Random) -> None:
    """One act on the board, as far as the record allows it."""
    match chance.choice(ACTS):
        case "find":
            told = chance.choice(FINDINGS)
            check = NewCheck(chance.choice(HAZARDS), *_rest(told))
            record_checks(shop, boards=[board], checks=[check])
        case "clear":
            clear(shop, board)
        case "alert":
            maker = chance.choice(("Orrery", "Nocturn"))
            new = NewAlert(chance.choice(HAZARDS), "x", "y", maker=maker)
            raise_alert(shop, new=new)
        case "lift":
            for view in list_alerts(shop)[:1]:
                lift_alert(shop, alert=view.alert.id, reason="z")
        case "correct":
            maker = chance.choice(("Orrery", "Nocturn", ""))
            new_maker = BoardCorrection(maker=maker, date_code=chance.choice(("7801", "9843")))
            correct_board(shop, board=board, new=new_maker, why="misread")
        case "cut":
            spot = circle_at(shop, chance.randrange(12, 108), chance.randrange(12, 68), width_mm=12)
            record_cut(shop, new=NewCut(board, spot))
        case "undo":
            undo(shop)


def _rest(check: NewCheck) -> tuple[str, str, str, str, str]:
    return check.finding, check.outcome, check.how, check.goes_to, check.reason


@settings(max_examples=15)
@given(seed=st.integers(0, 10_000))
def test_no_order_of_events_cuts_a_held_board(seed: int) -> None:
    """Whatever is found, learned, corrected and undone: at each cut every check was settled."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder, make_shop(Path(folder) / "shop") as shop:
        board = add_board(shop).code
        clear(shop, board)
        for _ in range(25):
            try:
                _act(shop, board, chance)
            except (Held, NoRoom, Refused):
                continue
            except SalvageError as error:
                if "differs from the record" not in str(error):
                    raise
        moments = list(cut_moments(shop.conn))
        shown = {
            hazard: (state.finding, state.outcome)
            for hazard, state in standing_checks(shop.conn, board).items()
        }
        listed = {
            line.check.hazard: (line.check.finding, line.check.outcome)
            for line in read_checklist(shop, board).lines
        }
        before = dump(shop)
        rebuild_tables(shop)
        after = dump(shop)

    left = [h for moment in moments for h, state in moment.checks.items() if not state.is_settled]
    assert left == []
    assert after == before
    assert shown == listed
