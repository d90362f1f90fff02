"""Plans from the command line: ordered, shown, drawn, planned again, cut, released."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from salvage.cli.plan_search import SearchWatch, searching
from salvage.cli.session import Session
from salvage.cli.world import system_world
from tests.bench import START
from tests.desk import Desk, Told

TERN = Path(__file__).resolve().parents[2] / "demo_db" / "shapes" / "tern.svg"


def _board(desk: Desk, *, cleared: bool = True) -> str:
    drop_off = desk.do("dropoff add --donor Kelpie --contents boards --plain").first
    board = desk.do(
        f"board add {drop_off} --type expansion-card --size 120x80 --place 'shelf 2' --plain"
    ).first
    if cleared:
        desk.do(f"board clear {board} --absent all-open --how looked")
    return board


def _order(desk: Desk, words: str = "circle@30:3", more: str = "") -> str:
    return desk.do(f'plan order {words} --for "order 12" --seconds 0 {more} --plain').first


def _refused(told: Told) -> str:
    assert told.code == 1
    return told.err + told.out


def test_an_order_tells_plan_boards_and_what_is_missing(tmp_path: Path) -> None:
    """The plan's code and day first, then each board with its places, then the rest with why."""
    desk = Desk(tmp_path)
    board = _board(desk)
    told = desk.do('plan order circle@30:2 circle@90:1 --for "order 12" --days 7 --seconds 0')
    value = desk.do('plan order circle@20:1 --for "order 13" --seconds 0 --json').value

    assert "2 places held for order 12 on 1 board (1 fresh), until 2026-05-11" in told.out
    assert "not met: 1 x circle@90, it fits on none" in told.out
    assert f"{board}  2 x circle" in told.out
    assert "next: salvage plan show J" in told.err
    assert (value["plan"][0], value["tool"], len(value["reservations"])) == ("J", "router", 1)
    assert value["reservations"][0]["plan"] == value["plan"]


def test_nothing_found_is_said_and_ends_with_1(tmp_path: Path) -> None:
    """An order of which nothing can be met makes no plan."""
    desk = Desk(tmp_path)
    _board(desk)
    told = desk.run('plan order circle@90:1 --for "order 12" --seconds 0')

    assert "no place was found for order 12; nothing is held" in _refused(told)
    assert desk.do("plan list --all --json").value == []


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("plan order circle@30:1 --for a --until tomorrow", 1, "'tomorrow' is no date"),
        ("plan order circle@30:1 --for a --until 2020-01-01", 1, "has passed"),
        ("plan order circle@30:1 --for a --until 2026-06-01 --days 3", 1, "not both"),
        ("plan order circle@30:1 --for a --tool saw", 1, "router, shears"),
        ("plan order circle@30:1 --for a --tool shears --any-angle", 1, "right angles"),
        ("plan order circle@30:1 --for a --tool shears --either-face", 1, "never over"),
        ("plan order circle@30:1 --for a --angles 5 --any-angle", 1, "not both"),
        ("plan order circle@30:1 --for a --angles 5,x", 1, "'x' is not an angle"),
        ("plan order circle@30:1 --for a --only BX9999X", 1, "BX9999X"),
        ("plan order circle@30:0 --for a", 1, "circle@30:0"),
        ("plan show JX0001B", 1, "JX0001B"),
        ("plan show {plan} --before", 2, "--picture"),
        ("plan show {plan} --picture map.gif", 1, "end it in .svg or .png"),
        ("plan release", 2, "give plans"),
        ("plan release --expired", 1, "no plan has expired"),
        ("plan again {plan} --hold-all --hold RX0001B", 2, "--hold-all"),
        ("plan again {plan} --hold-all", 1, "is left to plan"),
        ("plan cut {plan} --scrap {place}", 1, "why it is scrap"),
        ("plan list --all --places", 2, "one of them"),
        ("plan cut {plan} --no-input", 2, "--yes"),
    ],
)
def test_slips_are_refused_in_one_line(tmp_path: Path, line: str, code: int, says: str) -> None:
    """What is wrong and what to do; nothing is held that was not held before."""
    desk = Desk(tmp_path)
    _board(desk)
    plan = _order(desk)
    places = desk.do("plan list --places --json").value
    told = desk.run(line.format(plan=plan, place=places[0]["code"]))

    assert told.code == code
    assert says in told.err
    assert "Traceback" not in told.err
    assert desk.do("plan list --places --json").value == places


HOOK = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="70mm"
 viewBox="0 0 100 70"><path d="M0 58 H70 V0 H100 V70 H0 Z"/></svg>"""
BAR = """<svg xmlns="http://www.w3.org/2000/svg" width="125mm" height="6mm"
 viewBox="0 0 125 6"><path d="M0 0 H125 V6 H0 Z"/></svg>"""


def test_either_face_plans_the_mirror_image(tmp_path: Path) -> None:
    """A hook that goes on the remnant only turned over: told as such, and cut as such."""
    desk = Desk(tmp_path)
    board = _board(desk)
    (tmp_path / "hook.svg").write_text(HOOK)
    desk.do("shape add hook hook.svg")
    desk.do(f"reserve {board} --shape circle --width 60 --at 85,50 --for stays")
    upright = _refused(desk.run("plan order hook:1 --for a --angles 0 --seconds 1"))
    told = desk.do("plan order hook:1 --for a --angles 0 --either-face --seconds 1")
    places = desk.do("plan list --places --json").value
    plan = desk.do("plan list --json").value[0]["code"]
    desk.do(f"plan cut {plan} --yes")

    assert "fits on none of 1 boards, even empty, at 0 degrees" in upright
    assert "picture on the back" in told.out
    assert [one["mirrored"] for one in places if one["shape"] == "hook"] == [1]
    assert "ok     areas add up" in desk.do("check").out


def test_any_angle_plans_what_right_angles_cannot(tmp_path: Path) -> None:
    """A bar longer than the board goes on it aslant; planned again without, it has no place."""
    desk = Desk(tmp_path)
    _board(desk)
    (tmp_path / "bar.svg").write_text(BAR)
    desk.do("shape add bar bar.svg")
    square = _refused(desk.run("plan order bar:1 --for a --seconds 1"))
    plan = desk.do("plan order bar:1 --for a --any-angle --seconds 1 --plain").first
    place = desk.do("plan list --places --json").value[0]
    again = desk.run(f"plan again {plan} --seconds 1")
    free = desk.run(f"plan again {plan} --seconds 1 --any-angle")

    assert "even empty, at right angles" in square
    assert place["angle_deg"] % 90 != 0
    assert "stays as it was" in _refused(again)
    assert free.code == 0


def test_a_plan_is_shown_with_boards_to_pull_and_a_map(tmp_path: Path) -> None:
    """Asked, placed, cut, open; the shelf; GO or NO-GO; each place under its sign on the map."""
    desk = Desk(tmp_path)
    board = _board(desk)
    plan = _order(desk)
    shown = desk.do(f"plan show {plan}").out
    value = desk.do(f"plan show {plan} --json").value
    plain = desk.do(f"plan show {plan} --plain").out.splitlines()

    assert "asked  placed   cut  open" in shown
    assert f"GO {board}  expansion card; shelf 2" in shown
    assert "3333" in shown
    assert (value["boards"][0]["go"], value["boards"][0]["place"]) == (True, "shelf 2")
    assert value["lines"][0]["placed"] == 3
    assert [row.split("\t")[5] for row in plain] == ["held"] * 3


def test_a_plan_is_drawn_before_and_after(tmp_path: Path) -> None:
    """SVG and PNG; only the drawing of the plan has its places."""
    desk = Desk(tmp_path)
    _board(desk)
    plan = _order(desk)
    desk.do(f"plan show {plan} --picture after.svg")
    desk.do(f"plan show {plan} --before --picture before.svg")
    desk.do(f"plan show {plan} --picture after.png")
    after, before = ((tmp_path / f"{name}.svg").read_text() for name in ("after", "before"))

    assert ("planned</text>" in after, "planned</text>" in before) == (True, False)
    assert (tmp_path / "after.png").read_bytes().startswith(b"\x89PNG")
    assert "is there already" in _refused(desk.run(f"plan show {plan} --picture after.png"))


def test_one_question_cuts_a_plan(tmp_path: Path) -> None:
    """No leaves everything; yes makes every place a piece."""
    desk = Desk(tmp_path)
    _board(desk)
    plan = _order(desk)
    desk.terminal = True
    asked = desk.run(f"plan cut {plan}", typed="n\n")
    desk.terminal = False
    tried = desk.do(f"plan cut {plan} --dry-run").out
    done = desk.do(f"plan cut {plan} --yes --json").value

    assert (asked.code, f"Record 3 cuts on 1 board from {plan}? [y/N]" in asked.err) == (1, True)
    assert "GO B" in asked.err.replace("\x1b[1;32m", "").replace("\x1b[0m", "")
    assert tried.count("piece P") == 3
    assert [one["cut"]["outcome"] for one in done["cuts"]] == ["piece"] * 3
    assert done["left"] == []
    assert desk.do("plan list --json").value == []


def test_a_held_board_stops_the_cut(tmp_path: Path) -> None:
    """Nothing is recorded, and the way on is named."""
    desk = Desk(tmp_path)
    board = _board(desk, cleared=False)
    plan = _order(desk)
    told = _refused(desk.run(f"plan cut {plan} --yes"))

    assert f"{board} may not be cut" in told
    assert f"salvage board clear {board}" in told
    assert len(desk.do("plan list --places --json").value) == 3


def test_places_that_failed_are_told_apart(tmp_path: Path) -> None:
    """One is scrap, one waits; the rest of the order is planned again around it."""
    desk = Desk(tmp_path)
    _board(desk)
    plan = _order(desk)
    first, second, _ = (place["code"] for place in desk.do("plan list --places --json").value)
    done = desk.do(
        f"plan cut {plan} --scrap {first} --reason cracked --except {second} --yes --json"
    ).value
    again = desk.do(f"plan again {plan} --hold {second} --seconds 0 --json").value
    (line,) = desk.do(f"plan show {plan} --json").value["lines"]

    assert [one["cut"]["outcome"] for one in done["cuts"]] == ["scrap", "piece"]
    assert [place["code"] for place in again["kept"]] == [second]
    assert (line["cut"], line["scrap"], line["held"], line["open"]) == (1, 1, 2, 0)


def test_expired_plans_are_said_until_somebody_acts(tmp_path: Path) -> None:
    """List, show and the next order tell; the plan holds on until it is released or extended."""
    clock = Ticking()
    desk = Desk(tmp_path, clock=clock)
    _board(desk)
    plan = _order(desk, more="--until 2026-05-05")
    clock.days = 3
    told = desk.do("plan list")
    (place, *_) = desk.do("plan list --places --json").value
    scanned = desk.do(f"scan {place['board']}").err
    shown = desk.do(f"plan show {plan}").out
    tried = desk.do('plan order circle@30:2 --for "order 13" --seconds 0 --dry-run').out

    assert f"plan {plan} for order 12 held until 2026-05-05, which has passed" in told.err
    assert f"plan {plan} for order 12 held until 2026-05-05" in scanned
    assert "EXPIRED" in shown
    assert f"expired: {plan}; 3 places let go first" in tried
    assert len(desk.do("plan list --places --json").value) == 3
    desk.do(f"plan extend {plan} --days 5")
    assert "EXPIRED" not in desk.do(f"plan show {plan}").out
    clock.days = 30
    assert len(desk.do("plan release --expired --json").value) == 3


class Ticking:
    """A clock that stands still but for the days that are let pass."""

    def __init__(self) -> None:
        self.days = 0

    def __call__(self) -> datetime:
        return START + timedelta(days=self.days)


def test_shears_tell_their_cuts(tmp_path: Path) -> None:
    """Each straight cut from edge to edge stands under its board, in order."""
    desk = Desk(tmp_path)
    board = _board(desk)
    plan = _order(desk, "circle@40:2", "--tool shears")
    shown = desk.do(f"plan show {plan}").out
    cuts = desk.do(f"plan show {plan} --json").value["shears"]
    done = desk.do(f"plan cut {plan} --yes").out

    assert "shears, kerf 0 mm" in shown
    assert "cut 1: straight from" in shown
    assert {cut["board"] for cut in cuts} == {board}
    assert "in parts now" in done


def test_a_bit_too_wide_for_a_shape_is_refused_unless_told(tmp_path: Path) -> None:
    """The place, the mend and the way round it stand in the refusal."""
    desk = Desk(tmp_path)
    _board(desk)
    desk.do(f"shape add tern {TERN}")
    desk.do("setup tool-mm=4")
    told = _refused(desk.run('plan order tern:1 --for "order 12" --seconds 0'))

    assert "a 4 mm bit cannot cut 'tern' as drawn" in told
    assert "--anyway" in told
    assert _order(desk, "tern:1", "--anyway").startswith("J")


def _session(stderr: io.StringIO, *, is_terminal: bool) -> Session:
    world = replace(system_world(), stderr=stderr, stderr_is_terminal=is_terminal)
    return Session(world, lambda words, folder: 0)


def test_the_wait_is_shown_on_a_terminal_and_nowhere_else() -> None:
    """What is placed so far, on one line that goes away; a pipe stays clean."""
    seen, piped = io.StringIO(), io.StringIO()
    for stream, is_terminal in ((seen, True), (piped, False)):
        watch = SearchWatch(_session(stream, is_terminal=is_terminal), 12)
        watch.tell(7, 0.4)
        watch.finish()

    assert "7 of 12 pieces placed" in seen.getvalue()
    assert seen.getvalue().endswith("\r\x1b[K")
    assert piped.getvalue() == ""


def test_ctrl_c_ends_the_search_with_the_best_so_far() -> None:
    """The first one moves the clock to the end of any search; the second stops everything."""
    import signal

    before = signal.getsignal(signal.SIGINT)
    with searching(_session(io.StringIO(), is_terminal=False), 3) as watch:
        early = watch.clock()
        signal.raise_signal(signal.SIGINT)
        late = watch.clock()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)

    assert watch.stopped
    assert late - early > 1e8
    assert signal.getsignal(signal.SIGINT) == before
