"""What a board or a piece means in each mode of the bench."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from salvage.records.choices import BENCH_STAGES
from salvage.units import format_money
from salvage.work.bench_state import Bench, Step, ask, do, hint
from salvage.work.bench_words import Answer, BoardSeen, Deed, PieceSeen


def _show_board(bench: Bench, seen: BoardSeen) -> Step:
    if seen.go:
        return Step(
            bench, Answer("shown", f"GO  {seen.code}  {seen.title}", _board_hint(seen), seen)
        )
    words = f"NO-GO  {seen.code}  {seen.title}"
    return Step(bench, Answer("shown", words, seen.mend, seen))


def _board_hint(seen: BoardSeen) -> str:
    count = len(seen.held)
    return (
        f"{count} reserved on it: scan Cut, then the board" if count else "nothing reserved on it"
    )


def _cut_board(bench: Bench, seen: BoardSeen) -> Step:
    if seen.bars:
        words = f"NO-GO: {seen.code} may not be cut: {'; '.join(seen.bars)}"
        return Step(bench, Answer("refused", words, seen.mend, seen))
    if not seen.held:
        words = f"nothing is reserved on {seen.code}"
        return Step(bench, Answer("refused", words, f"salvage fits … or cut {seen.code} …", seen))
    verb, says = ("cut", "cut") if bench.mode == "cut" else ("spoil", "record as scrap, no piece:")
    deeds = [
        Deed(verb, f"{says} {place.words} on {seen.code}", seen.code, place.reservation)
        for place in seen.held[: bench.quantity]
    ]
    return ask(replace(bench, quantity=1), *deeds, seen=seen)


def _move_board(bench: Bench, seen: BoardSeen) -> Step:
    if bench.asks_place or not bench.argument:
        words = f"say first where {seen.code} goes"
        return Step(bench, Answer("refused", words, "scan the place, or type it + Enter", seen))
    if seen.place.casefold() == bench.argument.casefold():
        return Step(bench, Answer("told", f"{seen.code} is there already", hint(bench), seen))
    words = f"move {seen.code} to {bench.argument}"
    return do(bench, Deed("move", words, seen.code, place=bench.argument), seen)


def board_where_pieces_go(bench: Bench, seen: BoardSeen) -> Step:
    """Refuse a board in a mode for pieces."""
    words = f"{seen.code} is a board; this mode is for pieces"
    return Step(bench, Answer("refused", words, hint(bench), seen))


def piece_where_boards_go(bench: Bench, seen: PieceSeen) -> Step:
    """Refuse a piece in a mode for boards."""
    words = f"{seen.code} is a piece; this mode is for boards"
    return Step(bench, Answer("refused", words, hint(bench), seen))


def _show_piece(bench: Bench, seen: PieceSeen) -> Step:
    return Step(bench, Answer("shown", f"{seen.code}  {seen.shape}, {seen.now}", seen=seen))


def _withdraw(bench: Bench, seen: PieceSeen) -> Step:
    if seen.stage in ("sold", "withdrawn"):
        words = f"{seen.code} is {seen.stage} already"
        return Step(bench, Answer("refused", words, hint(bench), seen))
    deed = Deed("withdraw", f"withdraw {seen.code} {seen.shape} for good", seen.code)
    return ask(bench, deed, seen=seen)


def _next_stage(bench: Bench, seen: PieceSeen) -> Step:
    if seen.stage in BENCH_STAGES[:-1]:
        following = BENCH_STAGES[BENCH_STAGES.index(seen.stage) + 1]
        return _to_stage(bench, seen, following)
    words = f"{seen.code} is {seen.stage}; no stage follows"
    mend = "scan Sold when it goes" if seen.stage == "ready" else "scan a stage's own card"
    return Step(bench, Answer("refused", words, mend, seen))


def _set_stage(bench: Bench, seen: PieceSeen) -> Step:
    if seen.stage == bench.argument:
        return Step(bench, Answer("told", f"{seen.code} is {seen.stage} already", seen=seen))
    return _to_stage(bench, seen, bench.argument)


def _to_stage(bench: Bench, seen: PieceSeen, stage: str) -> Step:
    words = f"{seen.code} {seen.shape}: {seen.stage} -> {stage}"
    return do(bench, Deed("stage", words, seen.code, stage=stage), seen)


def _sell(bench: Bench, seen: PieceSeen) -> Step:
    if seen.stage in ("sold", "withdrawn") or seen.recalled:
        state = "recalled" if seen.recalled else seen.stage
        words = f"{seen.code} is {state} and is not sold"
        return Step(bench, Answer("refused", words, f"salvage history {seen.code}", seen))
    if seen.price_minor is None:
        words = f"{seen.code} has no price: what was paid, in {seen.currency}?"
        return Step(replace(bench, priced=seen), Answer("wanted", words, "type it + Enter", seen))
    price = format_money(seen.price_minor, seen.currency)
    return do(bench, Deed("sell", f"sell {seen.code} {seen.shape} for {price}", seen.code), seen)


def _take_back(bench: Bench, seen: PieceSeen) -> Step:
    if seen.stage != "sold":
        words = f"{seen.code} is not sold but {seen.stage}"
        return Step(bench, Answer("refused", words, hint(bench), seen))
    deed = Deed("take back", f"take back {seen.code} {seen.shape}", seen.code)
    return ask(bench, deed, seen=seen)


BOARD_MODES: dict[str, Callable[[Bench, BoardSeen], Step]] = {
    "look": _show_board,
    "cut": _cut_board,
    "scrap": _cut_board,
    "move": _move_board,
}
"""What a board means, by mode."""

PIECE_MODES: dict[str, Callable[[Bench, PieceSeen], Step]] = {
    "look": _show_piece,
    "scrap": _withdraw,
    "next-stage": _next_stage,
    "stage": _set_stage,
    "sold": _sell,
    "return": _take_back,
}
"""What a piece means, by mode."""
