"""The bench's screen, line by line: mode, answer, board with its map, last deeds, keys."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.cli.show import clean
from salvage.units import format_area, format_money
from salvage.work.bench_words import KEYS, BoardSeen, PieceSeen

if TYPE_CHECKING:
    from salvage.work.bench_state import Bench
    from salvage.work.bench_words import Answer, Seen
    from salvage.work.look import BoardLook

LEAST_WIDTH, LEAST_HEIGHT = 60, 16
"""A smaller terminal shows lines without a map."""

_WORDS = {"asked": "YES OR NO?", "refused": "REFUSED:", "done": "DONE:", "shown": ""}
_WORDS |= {"wanted": "", "told": ""}
_STYLES = {"asked": "warn", "wanted": "warn", "refused": "bad", "done": "good"}
_MOST_ANSWER_ROWS = 4
_TALL = 30
_LEAST_MAP_ROWS = 4
_MOST_REASONS = 6
_TOO_LOW = "  … this window is too low for the rest; make it higher"


@dataclass(frozen=True, slots=True)
class Row:
    """
    One row of the screen.

    Args:
        text: At most as wide as the terminal.
        style: As for :func:`salvage.cli.show.paint`, ``mode`` for the banner, or empty.
    """

    text: str
    style: str = ""


@dataclass(frozen=True, slots=True)
class Screen:
    """
    What there is to show.

    Args:
        bench: As it stands.
        answers: To the last line, the newest last.
        seen: The board or piece in hand; None for none.
        typed: What is typed and not ended yet.
        who: Who works.
        cautions: The usual ones before cutting.
        plain_map: Draw the map without block characters.
    """

    bench: Bench
    answers: Sequence[Answer]
    seen: Seen | None
    typed: str
    who: str
    cautions: Sequence[str]
    plain_map: bool = False


def draw_screen(screen: Screen, *, width: int, height: int) -> list[Row]:
    """
    The screen as rows, exactly as many as the terminal has.

    Args:
        screen: What there is to show.
        width: Columns.
        height: Rows.
    """
    top = [*_banner(screen, width), *_answer_rows(screen.answers, width)]
    bottom = _bottom(screen, width, most=3 if height < _TALL else 8)
    room = max(0, height - len(top) - len(bottom))
    body = _body(screen, width, room)
    if len(body) > room:
        body = [*body[: max(0, room - 1)], Row(_TOO_LOW, "warn")]
    rows = [*top, *body, *[Row("")] * (room - len(body)), *bottom]
    return [Row(_fit(row.text, width), row.style) for row in rows[:height]]


def _fit(text: str, width: int) -> str:
    from rich.cells import cell_len, set_cell_size

    return text if cell_len(text) <= width else set_cell_size(text, width - 1) + "…"


def _banner(screen: Screen, width: int) -> list[Row]:
    """The mode in spaced capitals across the whole width, between two rules."""
    mode = clean(screen.bench.title)
    head, _, tail = mode.partition(" to ")
    spaced = "  ".join(" ".join(word) for word in head.split(" "))
    mode = f"{spaced}  to  {tail}" if tail else spaced
    left = f"  {mode}"
    right = f"{clean(screen.who)}, bench  "
    gap = " " * max(2, width - len(left) - len(right))
    rule = "=" * width
    return [Row(rule, "mode"), Row(f"{left}{gap}{right}", "mode"), Row(rule, "mode")]


def _answer_rows(answers: Sequence[Answer], width: int) -> list[Row]:
    rows: list[Row] = []
    for answer in answers[-2:]:
        word = _WORDS[answer.kind]
        text = clean(f"{word}  {answer.words}" if word else answer.words)
        style = _STYLES.get(answer.kind, "strong")
        if answer.kind == "shown" and isinstance(answer.seen, BoardSeen):
            style = "good" if answer.seen.go else "bad"
        lines = textwrap.wrap(text, width - 2, subsequent_indent="  ", break_on_hyphens=False)
        rows += [Row(f" {line}", style) for line in lines[:_MOST_ANSWER_ROWS]]
    if answers and answers[-1].hint:
        lines = textwrap.wrap(f"> {clean(answers[-1].hint)}", width - 2, subsequent_indent="  ")
        rows += [Row(f" {line}") for line in lines[:2]]
    return [*rows, Row("")]


def _bottom(screen: Screen, width: int, *, most: int) -> list[Row]:
    done = [
        Row(f" {'before ' + one.at if one.before else 'done'}  {clean(one.words)}", "quiet")
        for one in screen.bench.done[-most:]
    ]
    typed = clean(screen.typed)[-(width - 20) :]
    short = "c cut x scrap n next s sold r back m move u undo y yes k cancel d done q quit ?"
    return [*done, Row(f" scan or type: {typed}_", "strong"), Row(f" {short}", "quiet")]


def _body(screen: Screen, width: int, room: int) -> list[Row]:
    if screen.answers and screen.answers[-1].words == "help":
        return _help_rows(screen, width)
    if isinstance(screen.seen, BoardSeen):
        return _board_rows(screen, screen.seen, width, room)
    if isinstance(screen.seen, PieceSeen):
        return _piece_rows(screen.seen)
    return _caution_rows(screen.cautions, width)


def _help_rows(screen: Screen, width: int) -> list[Row]:
    """The keys in two columns; scans do the same."""
    pairs = [f"{key} + Enter  {verb.replace('-', ' ')}" for key, verb in KEYS.items()]
    pairs += ["? + Enter  this help", "q + Enter  close the bench"]
    half = -(-len(pairs) // 2)
    column = width // 2 - 2
    rows = [
        Row(f"  {left:<{column}}{right}")
        for left, right in zip(pairs[:half], [*pairs[half:], ""], strict=False)
    ]
    more = "a number + Enter is a count; a code typed + Enter is the same as a scan"
    return [*rows, Row(f"  {more}"), Row(""), *_caution_rows(screen.cautions, width)]


def _caution_rows(cautions: Sequence[str], width: int) -> list[Row]:
    lines = (
        line
        for caution in cautions
        for line in textwrap.wrap(f"! {caution}", width - 4, subsequent_indent="  ")
    )
    return [Row(f"  {line}") for line in lines]


def _piece_rows(piece: PieceSeen) -> list[Row]:
    price = "no price yet"
    if piece.price_minor is not None:
        price = format_money(piece.price_minor, piece.currency)
    facts = {
        "piece": f"{piece.code}  {clean(piece.shape)}",
        "stage": clean(piece.now),
        "price": price,
        "from": piece.board,
        "next": _piece_next(piece),
    }
    return [Row(f"  {name:<6} {words}") for name, words in facts.items()]


def _piece_next(piece: PieceSeen) -> str:
    if piece.recalled:
        return f"recalled, keep it here: salvage trace {piece.code}"
    if piece.stage == "sold":
        return "nothing, unless it comes back: then Taken back"
    return "Sold" if piece.stage == "ready" else "Next stage"


def _board_rows(screen: Screen, board: BoardSeen, width: int, room: int) -> list[Row]:
    """Figures on the left, the map on the right."""
    look = board.look
    chart = _chart(look, width, room, plain=screen.plain_map) if look else []
    wide = max(map(len, chart), default=0)
    column = width - wide - 4 if wide else width - 4
    facts = _board_facts(board, screen.cautions if screen.bench.question else ())
    if screen.answers and screen.answers[-1].kind == "shown":
        facts = facts[1:]  # the answer itself is the verdict
    left = [
        (line, style)
        for text, style in facts
        for line in textwrap.wrap(text, max(20, column - 2), subsequent_indent="  ")
    ]
    count = max(len(left), len(chart))
    left += [("", "")] * (count - len(left))
    right = [*chart, *[""] * (count - len(chart))]
    return [
        Row(f"  {text:<{column}}{cells}".rstrip(), "" if cells else style)
        for (text, style), cells in zip(left, right, strict=True)
    ]


def _board_facts(board: BoardSeen, cautions: Sequence[str]) -> list[tuple[str, str]]:
    verdict = "GO" if board.go else "NO-GO"
    facts = [(f"{verdict}  {board.code}  {clean(board.title)}", "good" if board.go else "bad")]
    look = board.look
    obstacles = look.obstacles if look else ()
    facts += [(f"- {clean(obstacle.words)}", "") for obstacle in obstacles[:_MOST_REASONS]]
    if len(obstacles) > _MOST_REASONS:
        facts.append((f"… and {len(obstacles) - _MOST_REASONS} more reasons", ""))
    if obstacles:
        facts.append((f"do: {clean(obstacles[0].mend)}", ""))
    if board.place:
        facts.append((f"at {clean(board.place)}", ""))
    if look and look.ledger:
        area, share = format_area(look.ledger.usable_mm2), int(look.ledger.usable_percent)
        facts.append((f"usable {area}, {share} %", ""))
    facts += [(f"! {clean(warning)}", "") for warning in (look.warnings if look else ())]
    facts += [(f"{n}. {clean(one.words)}", "") for n, one in enumerate(board.held, 1)]
    if not board.held:
        facts.append(("nothing reserved on it", ""))
    return facts + [(f"! {clean(caution)}", "") for caution in cautions]


def _chart(look: BoardLook, width: int, room: int, *, plain: bool) -> list[str]:
    """The map, as large as half of the screen and the rows allow; with its legend below."""
    from salvage.records.region import region_of_text
    from salvage.work.look import chart_legend, draw_board_chart

    if not look.board.outline or width < LEAST_WIDTH:
        return []
    half = width // 2
    across, up = region_of_text(look.board.outline).size_mm
    for rows in range(room, _LEAST_MAP_ROWS - 1, -1):
        # A character is twice as high as wide, so n rows of a board take 2 n w / h columns.
        columns = min(half, max(8, round(2 * rows * across / up)))
        chart = list(draw_board_chart(look, columns=columns, ascii_only=plain))
        legend = textwrap.wrap(chart_legend(chart, ascii_only=plain), half)
        if len(chart) + len(legend) <= room:
            return [*chart, *legend]
    return []
