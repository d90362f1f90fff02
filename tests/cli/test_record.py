"""Trace, history, undo, mass, recall, check, backup, settings: the record on the command line."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from tests.desk import Desk, add_board, add_cleared_board, add_drop_off, cut_piece


def test_a_trace_goes_back_and_forward(tmp_path: Path) -> None:
    """From the donor down to the piece, and from the donor's side the whole tree."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    back = desk.do(f"trace {piece} --json").value
    donor = back["back"][-1]["code"]
    tree = desk.do(f"trace {donor}").out
    plain = [line.split("\t") for line in desk.do(f"trace {piece} --plain").out.splitlines()]

    assert [link["kind"] for link in back["back"]] == ["cut", "board", "drop-off", "donor"]
    assert f"`-- {piece}  piece: circle, rough" in tree
    assert [row[0] for row in plain] == ["back"] * 4 + ["forward"]
    assert [row[1] for row in plain] == ["-4", "-3", "-2", "-1", "0"]


def test_history_tells_and_journal_lists(tmp_path: Path) -> None:
    """One thing's life in words, and the workshop's newest events with their ids."""
    desk = Desk(tmp_path)
    code = add_cleared_board(desk)
    told = desk.do(f"history {code}").out.splitlines()
    events = desk.do("journal --most 2 --json").value
    plain = desk.do("journal --most 3 --plain").out.splitlines()

    assert "board recorded: expansion-card" in told[0]
    assert told[0].startswith("2026-05-04 09:")
    assert told[-1].endswith("[Maren]")
    assert [event["kind"] for event in events] == ["hazard.checked"] * 2
    assert len(plain) == 3
    assert all(line.split("\t")[6] == code for line in plain)
    assert code in desk.do("journal").out


def test_a_step_is_taken_back(tmp_path: Path) -> None:
    """Undo shows what it takes back, wants a yes, and both stay in the history."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    silent = desk.run("undo")
    dry = desk.do("undo --dry-run")
    told = desk.do("undo --why 'wrong board' --yes")

    assert (silent.code, "--yes" in silent.err) == (2, True)
    assert f"dry run: undone: move board, {code}\n" in dry.out
    assert told.out == f"undone: move board, {code}\n  {code}  moved to shelf 9\n"
    assert "(undone)" in desk.do(f"history {code}").out
    assert desk.do(f"board show {code} --json").value["place"] == ""


def test_undo_asks_on_a_terminal(tmp_path: Path) -> None:
    """A no leaves everything as it is."""
    desk = Desk(tmp_path, terminal=True)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    kept = desk.run("undo", typed="n\n")
    assert desk.do(f"board show {code} --json").value["place"] == "shelf 9"
    desk.do("undo", typed="y\n")

    assert kept.code == 1
    assert f"  {code}  moved to shelf 9\nUndo 'move board' ({code})? " in kept.err
    assert "nothing was changed" in kept.err
    assert desk.do(f"board show {code} --json").value["place"] == ""


def test_an_operation_is_named_by_its_id(tmp_path: Path) -> None:
    """An earlier step is taken back by the beginning of its id."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    operation = desk.do("journal --most 1 --json").value[0]["operation"]
    add_board(desk)
    desk.do(f"undo {operation} --yes")

    assert desk.do(f"board show {code} --json").value["place"] == ""
    assert desk.run("undo ffffffff --yes").code == 1


def test_the_journal_lists_the_ids_that_undo_takes(tmp_path: Path) -> None:
    """What stands behind the time is typed as it stands."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do(f"board move {code} 'shelf 9'")
    desk.do(f"board move {code} 'shelf 3'")
    last = desk.do("journal").out.splitlines()[-2]
    day, time, short, about = last.split()[:4]
    refused = desk.run(f"undo {short} --yes")
    steps = [line.split()[0] for line in refused.err.splitlines() if code in line]
    for step in (*steps, short):
        desk.do(f"undo {step} --yes")

    assert (day, len(time), about) == ("2026-05-04", 5, code)
    assert len(steps) == 1
    assert desk.do(f"board show {code} --json").value["place"] == ""


def test_undo_says_that_settings_stay(tmp_path: Path) -> None:
    """After a change of settings plain undo takes the step before, and says so first."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    desk.do("setup wall-mm=3")
    told = desk.do("undo --yes").out.splitlines()

    assert told[0] == f"undone: record board, {code}"
    assert told[1].startswith("  passed over: settings: wall_um = 3000 ('salvage setup'")
    assert desk.run(f"board show {code}").code == 1


def test_mass_is_accounted_for(tmp_path: Path) -> None:
    """What came in, what left, and the rest that nobody explains."""
    desk = Desk(tmp_path)
    drop_off = add_drop_off(desk)
    missing = desk.run("consign --receiver x --contents y")
    told = desk.do(
        f"consign --receiver 'Quay Street yard' --contents 'coin cells' --weight 84g"
        f" --dropoff {drop_off} --date 2026-05-03"
    )
    listed = desk.do("consign --json").value
    desk.do("dropoff add --donor Ada --contents radio")
    account = desk.do("mass --json").value

    assert missing.code == 2
    assert "coin cells, 84 g, to Quay Street yard, 2026-05-03" in told.out
    assert [sent["weight_g"] for sent in listed] == [84.0]
    assert (account["received_g"], account["sent_g"], account["unweighed"]) == (6200.0, 84.0, 1)
    page = desk.do("mass").out
    assert "6.12 kg  unexplained" in page
    assert "1  drop-off without a weight" in page


def test_a_recall_holds_and_frees(tmp_path: Path) -> None:
    """Everything that came of a drop-off is a no-go until the recall is closed."""
    desk = Desk(tmp_path)
    piece = cut_piece(desk)
    board = desk.do(f"piece show {piece} --json").value["board"]
    source = desk.do(f"board show {board} --json").value["drop_off"]
    told = desk.do(f"recall open {source} --reason 'mercury switch' --date 2026-05-03")
    recall = told.out.split()[0]

    assert f"{piece}  circle, rough" in told.out
    assert "local authority" in told.err
    assert desk.run(f"scan {board}").code == 1
    assert desk.run(f"piece sell {piece} --price 9").code == 1
    assert "mercury switch" in desk.do("recall list").out
    desk.do(f"recall close {recall} --outcome 'all looked at' --anyway 'a drill'")
    assert desk.run(f"scan {board}").code == 0


def test_check_is_all_well_or_names_the_fault(tmp_path: Path) -> None:
    """A sound workshop passes; a table that was altered by hand is found and rebuilt."""
    desk = Desk(tmp_path)
    code = add_board(desk)
    well = desk.do("check")
    with sqlite3.connect(tmp_path / "shop" / "workshop.db") as conn:
        conn.execute("UPDATE board SET clearance = 'cleared' WHERE code = ?", (code,))
    conn.close()
    ill = desk.run("check")
    plain = desk.run("check --plain")
    rebuilt = desk.do("rebuild")

    assert all(line.startswith("ok ") for line in well.out.splitlines())
    assert ill.code == 1
    assert "FAULT  the tables equal a rebuild from the journal" in ill.out
    assert "\tfault\t" in plain.out
    assert "events replayed" in rebuilt.out
    assert all(line["ok"] for line in desk.do("check --json").value)


def test_check_shows_its_progress_to_somebody(tmp_path: Path) -> None:
    """On a terminal a long check tells where it is, beside the answer."""
    desk = Desk(tmp_path, terminal=True, environment={"NO_COLOR": "1"})
    add_drop_off(desk)

    assert "… the journal's chain verifies" in desk.do("check").err
    assert desk.do("check --json").err == ""


def test_a_backup_is_a_whole_database(tmp_path: Path) -> None:
    """The copy opens by itself and holds the journal; it replaces nothing unasked."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    told = desk.do("backup copy.db")
    refused = desk.run("backup copy.db")
    folder = desk.run("backup shop")
    itself = desk.run("backup shop/workshop.db --force")
    desk.do("backup copy.db --force")
    conn = sqlite3.connect(tmp_path / "copy.db")
    (count,) = conn.execute("SELECT count(*) FROM event").fetchone()
    conn.close()

    nowhere = desk.run("backup /nosuch/copy.db")
    assert str(tmp_path / "shop" / "files") in told.err
    assert nowhere.err.startswith("salvage: the folder /nosuch is not there\n  make it first")
    assert "--shop" not in nowhere.err
    assert (refused.code, folder.code, itself.code) == (1, 1, 1)
    assert count == len(desk.do("journal --most 999 --json").value)


def test_settings_are_shown_and_set(tmp_path: Path) -> None:
    """All settings with their values, and every wrong one told at once."""
    desk = Desk(tmp_path)
    desk.do("setup name='Tidewrack Workshop' kerf-mm=1.5 currency=gbp")
    shown = desk.do("setup --json").value
    wrong = desk.run("setup kerf-mm=thick colour=red currency=pounds")
    shapeless = desk.run("setup kerf-mm")

    assert (shown["name"], shown["kerf-mm"], shown["currency"]) == (
        "Tidewrack Workshop",
        "1.5",
        "GBP",
    )
    assert "kerf-mm" in desk.do("setup").out
    assert wrong.err.count("\n  ") == 3
    assert shapeless.code == 2


def test_wishes_of_donors_change_what_cards_say(tmp_path: Path) -> None:
    """A donor may be named from now on, and stays private in the list's heading."""
    desk = Desk(tmp_path)
    add_drop_off(desk)
    code = desk.do("donor list --plain").first
    told = desk.do(f"donor naming {code} named --how 'by letter'")

    assert "cards say: Kelpie Point Planetarium" in told.out
    assert "name (private)" in desk.do("donor list").out


def test_look_ups_name_their_sources(tmp_path: Path) -> None:
    """Hazards and sizes come with where they were read, and need no workshop."""
    desk = Desk(tmp_path)
    hazards = desk.do("hazards psu --json").value
    formats = desk.do("formats --json").value
    table = desk.do("hazards memory-module").out

    assert all(hazard["source"] for hazard in hazards)
    assert {"lead-acid", "large-capacitor"} <= {hazard["slug"] for hazard in hazards}
    assert "data-bearing-part" in table
    assert {form["slug"]: form["width_mm"] for form in formats}["mini-itx"] == 170.0
    assert "Mini-ITX" in desk.do("formats").out
    assert desk.run("hazards toaster").code == 1
    assert not (tmp_path / "shop").exists()


def test_empty_lists_say_what_to_do(tmp_path: Path) -> None:
    """A new workshop's lists are empty without looking broken."""
    desk = Desk(tmp_path)
    desk.do("setup place=Quay")
    for line in (
        "dropoff list",
        "donor list",
        "board list",
        "piece list",
        "recall list",
        "consign",
    ):
        told = desk.do(line)

        assert told.out == ""
        assert len(told.err.splitlines()) == 1
        assert desk.do(f"{line} --json").value == []
