"""``salvage trace``: back to the donor, forward to what was made."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any

from salvage.cli.command import CommandSet
from salvage.cli.files import write_file
from salvage.cli.session import Session, session_of
from salvage.cli.show import clean, paint, say, show_change, show_json, show_plain

if TYPE_CHECKING:
    import typer

    from salvage.cli.options import AnyCode, Force
    from salvage.work.trace import Branch, Link, Trace

commands = CommandSet()


def _link_record(link: Link) -> dict[str, Any]:
    return {"code": link.code, "kind": link.kind, "words": link.words}


def _branch_record(branch: Branch) -> dict[str, Any]:
    return _link_record(branch.link) | {"branches": [_branch_record(b) for b in branch.branches]}


def trace_record(found: Trace) -> dict[str, Any]:
    """A trace as JSON: the subject, its line back, and its trees forward and back."""
    return {
        "subject": _link_record(found.subject),
        "back": [_link_record(link) for link in found.back],
        "forward": _branch_record(found.forward),
        "origins": _branch_record(found.origins),
    }


def _rows(branch: Branch, depth: int) -> Iterator[tuple[str, int, str, str, str]]:
    yield "forward", depth, branch.link.code, branch.link.kind, branch.link.words
    for child in branch.branches:
        yield from _rows(child, depth + 1)


def show_trace(session: Session, found: Trace) -> None:
    """
    Print a trace in the form that was asked for.

    Args:
        session: The run.
        found: The trace.
    """
    if session.form == "json":
        show_json(session, trace_record(found))
    elif session.form == "plain":
        back = [
            ("back", -place, link.code, link.kind, link.words)
            for place, link in enumerate(found.back, 1)
        ]
        show_plain(session, [*reversed(back), *_rows(found.forward, 0)])
    else:
        _show_tree(session, found)


def _show_tree(session: Session, found: Trace) -> None:
    if len(found.origins.branches) > 1:  # an article: all its parts, each with its own line back
        say(session, "  was made of" if found.is_apart else "  made of")
        for line in _branches(found.origins, "  "):
            say(session, line)
    else:
        for link in reversed(found.back):
            say(session, f"  {link.code}  {link.kind}: {clean(link.words)}")
    link = found.subject
    say(session, paint(session, f"> {link.code}  {link.kind}: {clean(link.words)}", "strong"))
    for line in _branches(found.forward, "  "):
        say(session, line)


def _branches(branch: Branch, indent: str) -> Iterator[str]:
    for place, child in enumerate(branch.branches, 1):
        is_last = place == len(branch.branches)
        link = child.link
        elbow, beside = ("`-- ", "    ") if is_last else ("|-- ", "|   ")
        yield f"{indent}{elbow}{link.code}  {link.kind}: {clean(link.words)}"
        yield from _branches(child, indent + beside)


@commands.command("trace", example="salvage trace PC0001D")
def trace(
    context: typer.Context,
    code: AnyCode,
    svg: Annotated[
        str, typer.Option("--svg", metavar="FILE", help="Draw it, without private names.")
    ] = "",
    force: Force = False,
) -> None:
    """Show where a thing came from, back to the donor, and what became of it."""
    from salvage.work.reading import read_code
    from salvage.work.trace import trace

    session = session_of(context)
    with session.open() as shop:
        wanted = read_code(shop, text=code)
        if svg:
            from salvage.work.trace_picture import draw_trace

            path = write_file(session, svg, lambda: draw_trace(shop, code=wanted), force=force)
            show_change(
                session,
                {"code": wanted, "file": str(path)},
                lines=[f"{wanted}  lineage drawn: {path}"],
                codes=[str(path)],
            )
            return
        found = trace(shop, wanted)
    show_trace(session, found)
