"""The command line's entry: ``salvage``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from functools import cache
from typing import Any

import typer
from typer.core import TyperGroup

from salvage.cli.command import CONTEXT_SETTINGS, shared_options
from salvage.cli.contents import ENTRIES
from salvage.cli.failures import MISUSED, Misuse, run_guarded
from salvage.cli.session import Session, session_of
from salvage.cli.world import World, system_world

_LOADERS = {entry.name: entry.load for entry in ENTRIES}
_HELP_WIDTH = 100

# Contexts, formatters and commands are Any: the library keeps their types under a private name.


@cache
def _load(name: str) -> Any:
    return _LOADERS[name]().build(name)


class _Root(TyperGroup):
    """All commands, each loaded when it is asked for."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Names in the order of the job."""
        return list(_LOADERS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of a name; the nearest are offered where there is none."""
        if cmd_name in _LOADERS:
            return _load(cmd_name)
        if ctx.resilient_parsing or cmd_name.startswith("-"):
            return None
        import difflib

        near = difflib.get_close_matches(cmd_name, _LOADERS, n=3, cutoff=0.5)
        offer = f"; nearest: {', '.join(near)}" if near else ""
        raise Misuse(f"there is no command '{cmd_name}'{offer}", ctx=ctx)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the example first, then what the library writes."""
        formatter.write("Example: salvage demo\n\n")
        super().format_help(ctx, formatter)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the commands first: they are what people look for."""
        self.format_commands(ctx, formatter)
        with formatter.section("Options"):
            records = [param.get_help_record(ctx) for param in self.get_params(ctx)]
            formatter.write_dl([record for record in records if record])

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands under their headings, without loading them."""
        wide = max(map(len, _LOADERS))
        for section in dict.fromkeys(entry.section for entry in ENTRIES):
            with formatter.section(section):
                formatter.write_dl(
                    [(e.name.ljust(wide), e.words) for e in ENTRIES if e.section == section]
                )


_root = typer.Typer(
    cls=_Root,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings=CONTEXT_SETTINGS,
    invoke_without_command=True,
)


@_root.callback()
def _begin(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", help="Show the version and stop."),
) -> None:
    """
    From a donated circuit board to a sold piece that can prove where it came from.

    Alone it tells what to do next. Salvage keeps the record: it informs and certifies nothing.
    Local codes and licensed practice come first. Each command tells more with --help; most take
    --json, --plain and --dry-run.
    """
    session = session_of(context)
    if version:
        from salvage import __version__

        session.world.stdout.write(f"salvage {__version__}\n")
    elif context.invoked_subcommand is None:
        from salvage.cli.next import tell_next

        tell_next(session)


@cache
def root_command() -> Any:
    """The whole command line as the parser wants it, which keeps its types private."""
    command = typer.main.get_command(_root)
    command.params += shared_options()
    return command


def run(words: Sequence[str], world: World) -> int:
    """
    Run one command line and give its exit code.

    Args:
        words: Without the program's name.
        world: The outside.
    """
    session = Session(world, lambda more, folder: run(more, replace(world, folder=folder)))

    def call() -> None:
        command = root_command()
        if world.variable("_SALVAGE_COMPLETE"):  # the shell asks for completions
            command.main(list(words), prog_name="salvage", obj=session)
        sizes = {"terminal_width": min(world.width, _HELP_WIDTH), "max_content_width": _HELP_WIDTH}
        with command.make_context("salvage", list(words), obj=session, **sizes) as context:
            command.invoke(context)

    # Help and completions are written by the library, which knows only the process's own streams.
    with redirect_stdout(world.stdout), redirect_stderr(world.stderr):
        return run_guarded(call, world)


def main(argv: Sequence[str] | None = None, world: World | None = None) -> None:
    """
    Run the command line and leave with its exit code.

    Args:
        argv: Words after the program's name; those of this process when None.
        world: The outside; this process's own when None.

    Raises:
        SystemExit: Always, with 0 done, 1 refused, 2 misused, 70 a bug, 130 interrupted.
    """
    own = world or system_world()
    words = list(sys.argv[1:] if argv is None else argv)
    if any("\udc80" <= character <= "\udcff" for word in words for character in word):
        own.stderr.write("salvage: a word of the command line is not UTF-8\n")
        raise SystemExit(MISUSED)
    raise SystemExit(run(words, own))
