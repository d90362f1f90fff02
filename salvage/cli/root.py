"""The parser's root: every command, each loaded when it is asked for."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperGroup

from salvage.cli.contents import ENTRIES
from salvage.cli.failures import Misuse
from salvage.cli.front import ABOUT, EXAMPLE, HELP_WIDTH, VERSION_WORDS
from salvage.cli.parser import CONTEXT_SETTINGS, build, shared_options
from salvage.cli.session import Session, session_of

if TYPE_CHECKING:
    from collections.abc import Sequence

_LOADERS = {entry.name: entry.load for entry in ENTRIES}

# Contexts, formatters and commands are Any: the library keeps their types under a private name.


@cache
def _load(name: str) -> Any:
    return build(_LOADERS[name](), name)


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
        formatter.write(EXAMPLE)
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


@_root.callback(help=ABOUT)
def _begin(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", help=VERSION_WORDS),
) -> None:
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


def run_parsed(words: Sequence[str], session: Session) -> None:
    """
    Read a command line with the parser, and run what it asks for.

    Args:
        words: Without the program's name.
        session: The run.
    """
    world, command = session.world, root_command()
    if world.variable("_SALVAGE_COMPLETE"):  # the shell asks for completions
        command.main(list(words), prog_name="salvage", obj=session)
    sizes = {"terminal_width": min(world.width, HELP_WIDTH), "max_content_width": HELP_WIDTH}
    with command.make_context("salvage", list(words), obj=session, **sizes) as context:
        command.invoke(context)
