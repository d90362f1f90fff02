"""The bench as a machine: what a scan means in each mode, and that nothing is done unasked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.ids import Code
from salvage.records.actions import ACTIONS
from salvage.work.bench import advance, rest, settle
from salvage.work.bench_state import MODES, Bench, Step
from salvage.work.bench_words import (
    ASK_FIRST,
    ActionSeen,
    BoardSeen,
    Done,
    HeldPlace,
    PieceSeen,
    PlaceSeen,
    Seen,
    ThingSeen,
    TypedSeen,
)

PLACES = (
    HeldPlace(Code("RC0001D"), "tern at 30 mm, 40 mm, front, for order 12"),
    HeldPlace(Code("RC0002B"), "kite at 60 mm, 40 mm, front, for order 12"),
)
BOARD = BoardSeen(Code("BC0002J"), "expansion card", True, place="shelf 2", held=PLACES)
OTHER = BoardSeen(Code("BC0003H"), "motherboard", True, held=PLACES[1:])
EMPTY = BoardSeen(Code("BC0004F"), "modem", True)
HELD = BoardSeen(Code("BC0006B"), "modem", False, ("coin-cell: present",), "salvage board clear …")
ROUGH = PieceSeen(Code("PC0001D"), "tern", "rough", "rough")
READY = PieceSeen(Code("PC0002B"), "tern", "ready", "ready", 1850)
SOLD = PieceSeen(Code("PC0003X"), "tern", "sold", "sold", 1850)
RECALLED = PieceSeen(Code("PC0004V"), "tern", "ready", "ready, recalled", 1850, recalled=True)
GONE = PieceSeen(Code("PC0006R"), "tern", "withdrawn", "withdrawn")
BACK = PieceSeen(Code("PC0007P"), "tern", "returned", "came back", 1850)

TYPED: tuple[str, ...] = (
    "y",
    "n",
    "yes",
    "no",
    "k",
    "c",
    "x",
    "s",
    "r",
    "m",
    "u",
    "d",
    "?",
    "q",
    "2",
    "0",
    "99",
)
TYPED += ("12.50", "-3", "shelf 4", "sealed", "next stage", "BC0002K", "", "€", "00000000000")
SEEN: st.SearchStrategy[Seen] = st.one_of(
    st.sampled_from([BOARD, OTHER, EMPTY, HELD]),
    st.sampled_from([ROUGH, READY, SOLD, RECALLED, GONE, BACK]),
    st.sampled_from([ActionSeen(action.verb, action.argument) for action in ACTIONS]),
    st.sampled_from(TYPED).map(TypedSeen),
    st.text(max_size=5).map(TypedSeen),
    st.sampled_from([PlaceSeen("shelf 7"), ThingSeen(Code("DC0001B"), "drop-off, a box")]),
)


def play(*line: Seen | str, bench: Bench | None = None) -> Step:
    """The last step of some scans; text is typed."""
    step = Step(bench or Bench(), advance(Bench(), TypedSeen("?")).answer)
    for one in line:
        step = advance(step.bench, TypedSeen(one) if isinstance(one, str) else one)
    return step


CUT, YES, CANCEL = ActionSeen("cut"), ActionSeen("confirm"), ActionSeen("cancel")


def test_a_board_is_shown_before_anything_else() -> None:
    """Without an action a scan only looks: go or no-go, and how to go on."""
    assert play(BOARD).answer.words.startswith("GO  BC0002J")
    assert play(HELD).answer.words.startswith("NO-GO  BC0006B")
    assert play(BOARD).deeds == play(HELD).deeds == ()


@pytest.mark.parametrize("yes", [YES, TypedSeen("y"), TypedSeen(" YES ")])
def test_a_cut_is_asked_and_then_done(yes: Seen) -> None:
    """Cut, board: the next reserved place is named; only a yes cuts it."""
    asked = play(CUT, BOARD)

    assert asked.answer.kind == "asked"
    assert "tern at 30 mm" in asked.answer.words
    assert asked.deeds == ()
    (deed,) = advance(asked.bench, yes).deeds
    assert (deed.verb, deed.code, deed.reservation) == ("cut", BOARD.code, "RC0001D")


def test_the_same_board_again_is_no_yes() -> None:
    """Whoever scans twice out of habit has cut nothing."""
    again = play(CUT, BOARD, BOARD)

    assert again.deeds == ()
    assert again.answer.kind == "asked"
    assert again.answer.words.startswith("not done: ")


def test_another_board_takes_the_place_of_the_question() -> None:
    """The wrong board was scanned: the right one is asked about instead."""
    (deed,) = play(CUT, BOARD, OTHER, "y").deeds

    assert deed.code == OTHER.code


@pytest.mark.parametrize("no", [CANCEL, ActionSeen("done"), TypedSeen("n"), TypedSeen("no")])
def test_a_no_forgets_the_question(no: Seen) -> None:
    """After a no, a yes means nothing any more."""
    step = play(CUT, BOARD, no)

    assert step.answer.words.startswith("not done: cut tern")
    assert advance(step.bench, YES).deeds == ()
    assert advance(step.bench, YES).answer.kind == "refused"


def test_what_is_neither_leaves_the_question_standing() -> None:
    """A cough of the scanner at a question is refused, and the question waits."""
    step = play(CUT, BOARD, "BC0002")

    assert step.answer.kind == "refused"
    assert len(advance(step.bench, YES).deeds) == 1


def test_a_held_board_is_refused_at_once() -> None:
    """No question is asked where the answer could only be no."""
    step = play(CUT, HELD)

    assert step.answer.kind == "refused"
    assert "coin-cell: present" in step.answer.words
    assert step.bench.question == ()


def test_nothing_reserved_nothing_cut() -> None:
    """The bench cuts what was planned; a board without a place says so."""
    assert play(CUT, EMPTY).answer.words == "nothing is reserved on BC0004F"


@pytest.mark.parametrize("two", [ActionSeen("quantity", "2"), TypedSeen("2")])
def test_a_count_cuts_several(two: Seen) -> None:
    """Two at once, asked once; the count is used up by it."""
    for line in ((two, CUT, BOARD), (CUT, two, BOARD)):
        step = play(*line)

        assert [deed.reservation for deed in step.bench.question] == ["RC0001D", "RC0002B"]
        assert step.bench.quantity == 1
        assert step.answer.words.count("cut ") == 2


def test_scrap_spoils_a_place_or_withdraws_a_piece() -> None:
    """A cut without a piece is recorded as scrap, a broken piece is withdrawn; both are asked."""
    for seen, verb in ((BOARD, "spoil"), (ROUGH, "withdraw")):
        (deed,) = play("x", seen, "y").deeds

        assert deed.verb == verb
        assert play("x", seen).deeds == ()


def test_pieces_go_one_stage_on() -> None:
    """Scan after scan, without a question: a stage is set again in a moment."""
    (deed,) = play("n", ROUGH).deeds

    assert (deed.verb, deed.stage) == ("stage", "sanded")
    assert play("n", READY).answer.kind == "refused"
    assert play("n", BACK).answer.kind == "refused"


def test_a_stage_card_sets_that_stage() -> None:
    """The card Sealed seals whatever is scanned; what is sealed already is told."""
    sealed = ActionSeen("stage", "sealed")
    (deed,) = play(sealed, ROUGH).deeds

    assert deed.stage == "sealed"
    assert play("sealed").bench == play(sealed).bench
    assert play(ActionSeen("stage", "ready"), READY).deeds == ()


def test_a_priced_piece_is_sold_at_once() -> None:
    """At the fair a scan is a sale, at the marked price."""
    (deed,) = play("s", READY).deeds

    assert (deed.verb, deed.price_minor) == ("sell", None)
    assert "18.50 EUR" in deed.words


def test_a_piece_without_a_price_is_asked_about() -> None:
    """The price is typed, and shown before the sale: a stray barcode is no price."""
    wanted = play("s", ROUGH)
    priced = play("s", ROUGH, "12.50")
    (deed,) = advance(priced.bench, YES).deeds

    assert wanted.answer.kind == "wanted"
    assert priced.answer.kind == "asked"
    assert priced.deeds == ()
    assert deed.price_minor == 1250
    assert play("s", ROUGH, "a lot").answer.kind == "refused"
    assert play("s", ROUGH, READY).deeds[0].code == READY.code


@pytest.mark.parametrize("piece", [SOLD, GONE, RECALLED])
def test_what_may_not_be_sold_is_refused(piece: PieceSeen) -> None:
    """Sold, withdrawn and recalled pieces stay."""
    assert play("s", piece).answer.kind == "refused"


def test_boards_are_moved_to_a_scanned_place() -> None:
    """Scan the shelf, then what lies there now; what is there already is told."""
    (deed,) = play(PlaceSeen("shelf 7"), BOARD).deeds

    assert (deed.verb, deed.place) == ("move", "shelf 7")
    assert play("m", "shelf 7", BOARD).deeds == (deed,)
    assert play("m", BOARD).answer.kind == "refused"
    assert play(PlaceSeen("Shelf 2"), BOARD).deeds == ()
    assert play(PlaceSeen("shelf 7"), ROUGH).answer.kind == "refused"


def test_undo_says_what_it_takes_back() -> None:
    """The newest deed of the session is named and asked about, and then forgotten."""
    done = (Done("op-1", "PC0001D is sanded"), Done("op-2", "PC0001D is sealed"))
    asked = play("u", bench=Bench(done=done))
    (deed,) = advance(asked.bench, YES).deeds

    assert asked.answer.words == "undo: PC0001D is sealed?"
    assert deed.operation == "op-2"
    assert settle(asked.bench, deed, Done("op-2", "undone")).done == done[:1]
    assert play("u").answer.kind == "refused"


def test_rest_forgets_mode_and_question_but_not_the_deeds() -> None:
    """After a break the bench only looks, so that nobody cuts or sells by looking."""
    done = (Done("op-1", "PC0001D is sanded"),)
    bench = play(CUT, BOARD, bench=Bench(done=done)).bench

    assert rest(bench) == Bench(done=done)


@given(scans=st.lists(SEEN, max_size=30))
def test_no_scans_raise_and_nothing_is_done_unasked(scans: list[Seen]) -> None:
    """
    Whatever is scanned in whatever order, the bench goes on, and grave deeds were on the screen.

    A deed that is asked first must be word for word in the question before, and its yes must be a
    typed one or the card.
    """
    bench, shown = Bench(done=(Done("op-1", "PC0001D is sanded"),)), ""
    for seen in scans:
        step = advance(bench, seen)
        for deed in step.deeds:
            grave = deed.verb in ASK_FIRST or deed.price_minor is not None
            is_yes = seen == YES or (isinstance(seen, TypedSeen) and "y" in seen.text.lower())

            assert deed.words
            assert not grave or (is_yes and deed in bench.question and deed.words in shown)
        assert step.bench.mode in MODES
        assert step.answer.words
        assert not (step.bench.question and step.deeds)
        bench, shown = step.bench, step.answer.words if step.bench.question else shown


@given(scans=st.lists(SEEN, max_size=12), last=st.sampled_from([BOARD, OTHER, ROUGH, READY, SOLD]))
def test_the_code_of_a_thing_is_never_a_yes(scans: list[Seen], last: Seen) -> None:
    """A board or piece scanned at a question never makes it be done."""
    bench = Bench()
    for seen in scans:
        bench = advance(bench, seen).bench
    step = advance(bench, last)

    assert not set(step.deeds) & set(bench.question)
