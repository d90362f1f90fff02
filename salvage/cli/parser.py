"""The parser's commands and groups: help with an example first, options that all of them share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_type_hints

import typer
from typer.core import TyperCommand, TyperGroup, TyperOption

from salvage.cli.command import FORMS, SHARED
from salvage.cli.failures import Misuse
from salvage.cli.session import session_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from salvage.cli.command import CommandSet

# The library keeps its own copy of the parser under a private name, so contexts, parameters and
# formatters are Any in the methods that override it.

CODES = "Exit codes: 0 done, 1 refused, 2 misused, 70 a bug, 130 interrupted."
FILES = "Files: the record is in the workshop's folder; FILE and FOLDER are as you name them."
"""What every command's help ends with."""

CONTEXT_SETTINGS = {"help_option_names": ["-h", "--help"]}


def _switch(name: str, value: Any, words: str, *flags: str, metavar: str = "") -> TyperOption:
    """An option that sets one field of the session."""

    def note(context: Any, param: Any, on: Any) -> None:
        if on:
            setattr(session_of(context), name, value if value is not None else on)

    return TyperOption(
        param_decls=[*flags],
        is_flag=value is not None,
        default=False if value is not None else None,
        type=None if value is not None else str,
        metavar=metavar or None,
        expose_value=False,
        callback=note,
        help=words,
    )


def _everywhere() -> list[TyperOption]:
    """Options of every command; they may stand before or after its name."""
    return [
        _switch(field, None if metavar else True, words, *flags, metavar=metavar)
        for field, flags, metavar, words in SHARED
    ]


def _forms() -> list[TyperOption]:
    return [_switch("form", form, words, flag) for form, flag, words in FORMS]


class Command(TyperCommand):
    """A command whose help starts with its example."""

    example = ""

    def invoke(self, ctx: Any) -> Any:
        """Run the command; a misuse that it finds names it."""
        try:
            return super().invoke(ctx)
        except Misuse as mistake:
            mistake.ctx = mistake.ctx or ctx
            raise

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the example first, then what the library writes."""
        formatter.write(f"Example: {self.example}\n\n")
        super().format_help(ctx, formatter)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write arguments, the command's own options, and those that every command has."""
        shared = {option.name for option in _everywhere()}
        parts: dict[str, list[Any]] = {"Arguments": [], "Options": [], "Everywhere": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None:
                is_shared = param.name in shared or param.name == "help"
                own = "Arguments" if param.param_type_name == "argument" else "Options"
                parts["Everywhere" if is_shared else own].append(record)
        for title, records in parts.items():
            if records:
                with formatter.section(title):
                    formatter.write_dl(records)

    def format_epilog(self, ctx: Any, formatter: Any) -> None:
        """Write what every command ends with, and where its record lies."""
        formatter.write(f"\n{CODES}\n{FILES}\n")


class Group(TyperGroup):
    """A group whose help starts with an example and which shows it when nothing else is asked."""

    example = ""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the example first, then what the library writes."""
        formatter.write(f"Example: {self.example}\n\n")
        super().format_help(ctx, formatter)

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the group's own options; alone, the group shows its help."""
        if not args and not ctx.resilient_parsing:
            session_of(ctx).world.stdout.write(ctx.get_help() + "\n")
            raise typer.Exit(0)
        return super().parse_args(ctx, args)


_OTHER_NAME = {"--why": "--reason", "--reason": "--why"}
# A reason was asked for under two names; help shows one, and both are promised.


def _one_name(args: Sequence[str], params: Sequence[Any]) -> list[str]:
    """The words with each option under the name that the command knows."""
    known = {name for param in params for name in getattr(param, "opts", ())}
    found, after = [], list(args)
    while after and after[0] != "--":
        name, equals, value = after.pop(0).partition("=")
        own = _OTHER_NAME.get(name, name)
        found.append((own if own in known and name not in known else name) + equals + value)
    return found + after


def _command_class(example_text: str, *, changes: bool) -> type[Command]:
    class Shaped(Command):
        """A command with the shared options added."""

        example = example_text

        def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
            """Read the words; an option is taken by either of its two names."""
            return super().parse_args(ctx, _one_name(args, self.params))

        def __init__(self, *words: Any, **named: Any) -> None:
            super().__init__(*words, **named)
            self.params += _forms()
            if changes:
                rolled = "Do everything, then roll back."
                self.params.append(_switch("dry_run", True, rolled, "--dry-run"))
            self.params += _everywhere()

        def invoke(self, ctx: Any) -> Any:
            """Run it; the session knows whether it writes."""
            session_of(ctx).is_change = changes
            return super().invoke(ctx)

    return Shaped


def build(commands: CommandSet, name: str) -> Any:
    """
    What the parser takes of one file: a command, or a group of them.

    Args:
        commands: The file's own.
        name: What people type.
    """
    top = typer.Typer(
        name=commands.name or None,
        help=commands.words,
        cls=_group_class(commands),
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings=CONTEXT_SETTINGS,
    )
    if commands.name:
        top.callback()(_nothing)
    for known in commands.known:
        _read_annotations(known.function)
        shaped = _command_class(known.example, changes=known.changes)
        top.command(known.name, cls=shaped, context_settings=CONTEXT_SETTINGS)(known.function)
    built = typer.main.get_command(top)
    built.name = name
    return built


def _group_class(commands: CommandSet) -> type[Group]:
    class Shaped(Group):
        """The group with its example."""

        example = commands.example

        def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
            """Read the words; a group may put the name of a command before them."""
            if commands.alone is not None:
                args = commands.alone(args, self.commands)
            return super().parse_args(ctx, args)

        def shell_complete(self, ctx: Any, incomplete: str) -> list[Any]:
            """Names of commands, and what may stand in their place."""
            found = super().shell_complete(ctx, incomplete)
            for command, param in commands.complete_as:
                params = self.commands[command].params
                (typed,) = (each for each in params if each.name == param)
                found += typed.shell_complete(ctx, incomplete)
            return found

    return Shaped


def _read_annotations(function: Callable[..., Any]) -> None:
    """
    Read what a command's parameters are, so that the parser's library finds it done.

    The modules of commands name the library and the shared options for the type checker alone,
    and are loaded without them.
    """
    from salvage.cli import options

    names = {"typer": typer, **vars(options)}
    hints = get_type_hints(function, localns=names, include_extras=True)
    function.__annotations__ = hints


def _nothing() -> None:
    """Do nothing; a group with a callback stays a group though it has one command."""


def shared_options() -> list[TyperOption]:
    """The options that stand before a command's name, or alone."""
    return [*_forms(), *_everywhere()]
