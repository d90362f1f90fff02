"""Questions, asked only when somebody sits at the terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from salvage.cli.failures import Misuse
from salvage.cli.session import Session
from salvage.cli.show import clean, note, wrap
from salvage.errors import Refused, SalvageError

Answer = TypeVar("Answer")


def ask(
    session: Session, question: str, parse: Callable[[str], Answer], *, default: str = ""
) -> Answer:
    """
    The answer to a question, asked again with the mistake until it parses.

    Args:
        session: The run.
        question: Without a colon.
        parse: Raises our errors where the answer does not fit.
        default: Taken for an empty answer, and shown.
    """
    while True:
        shown = f" [{default}]" if default else ""
        typed = _read_line(session, f"{question}{shown}: ") or default
        try:
            return parse(typed)
        except SalvageError as mistake:
            for line in wrap(session, f"  {clean(str(mistake))}", indent=2):
                note(session, line)


def confirm(session: Session, question: str) -> None:
    """
    Go on only if the answer is yes.

    Raises:
        Misuse: If nobody can be asked; it names the flag.
        Refused: If the answer is no.
    """
    if session.yes:
        return
    if not session.may_ask:
        raise Misuse(f"{question} Say so with --yes")
    from salvage.cli.key_reader import forget_typed_ahead

    # A scanner may still be typing: what came before the question is no answer to it.
    forget_typed_ahead(session.world.stdin)
    if _read_line(session, f"{question} [y/N]: ").lower() not in ("y", "yes"):
        raise Refused("not confirmed; nothing was changed")


def _read_line(session: Session, prompt: str) -> str:
    session.world.stdout.flush()
    asked = prompt.rstrip()
    lines = wrap(session, asked, indent=2)
    session.world.stderr.write("\n".join(lines) + prompt[len(asked) :])
    session.world.stderr.flush()
    line = session.world.stdin.readline()
    if not line:
        raise EOFError
    return " ".join(line.split())
