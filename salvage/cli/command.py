"""Commands and groups: help that starts with an example, and the options that all of them share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import typer
from typer.core import TyperCommand, TyperGroup, TyperOption

from salvage.cli.session import session_of

# The library keeps its own copy of the parser under a private name, so contexts, parameters and
# formatters are Any in the methods that override it.

Function = TypeVar("Function", bound=Callable[..., Any])

CONTEXT_SETTINGS = {"help_option_names": ["-h", "--help"]}


def _switch(name: str, value: Any, words: str, *flags: str) -> TyperOption:
    """An option that sets one field of the session."""

    def note(context: Any, param: Any, on: Any) -> None:
        if on:
            setattr(session_of(context), name, value if value is not None else on)

    return TyperOption(
        param_decls=[*flags],
        is_flag=value is not None,
        default=False if value is not None else None,
        type=None if value is not None else str,
        metavar=None if value is not None else {"shop": "DIR", "by": "NAME"}[name],
        expose_value=False,
        callback=note,
        help=words,
    )


def _everywhere() -> list[TyperOption]:
    """Options of every command; they may stand before or after its name."""
    return [
        _switch("shop", None, "The workshop's folder (or SALVAGE_SHOP).", "--shop"),
        _switch("by", None, "Who works (or SALVAGE_BY).", "--by"),
        _switch("no_color", True, "Never colour (or NO_COLOR).", "--no-color"),
        _switch("no_input", True, "Never ask; name what is missing.", "--no-input"),
        _switch("yes", True, "Answer every question with yes.", "--yes", "-y"),
    ]


def _forms() -> list[TyperOption]:
    return [
        _switch("form", "json", "Print JSON.", "--json"),
        _switch("form", "plain", "Print one record a line, split by tabs.", "--plain"),
    ]


class Command(TyperCommand):
    """A command whose help starts with its example."""

    example = ""

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


def _command_class(example_text: str, *, changes: bool) -> type[Command]:
    class Shaped(Command):
        """A command with the shared options added."""

        example = example_text

        def __init__(self, *words: Any, **named: Any) -> None:
            super().__init__(*words, **named)
            self.params += _forms()
            if changes:
                rolled = "Do everything, then roll back."
                self.params.append(_switch("dry_run", True, rolled, "--dry-run"))
            self.params += _everywhere()

    return Shaped


class CommandSet:
    """
    The commands of one file: either one command, or a group of them.

    Args:
        name: The group's name; empty for a single command.
        words: What the group is for.
        example: A command line of the group.
    """

    def __init__(self, name: str = "", words: str = "", example: str = "") -> None:
        class Shaped(Group):
            """The group with its example."""

        Shaped.example = example
        self.typer = typer.Typer(
            name=name or None,
            help=words,
            cls=Shaped,
            add_completion=False,
            rich_markup_mode=None,
            pretty_exceptions_enable=False,
            context_settings=CONTEXT_SETTINGS,
        )
        if name:
            self.typer.callback()(_nothing)

    def command(
        self, name: str, *, example: str, changes: bool = False
    ) -> Callable[[Function], Function]:
        """
        Make a function a command.

        Args:
            name: What people type.
            example: A whole command line, for the help.
            changes: Whether it writes to the journal, so that it takes ``--dry-run``.
        """
        return self.typer.command(
            name,
            cls=_command_class(example, changes=changes),
            context_settings=CONTEXT_SETTINGS,
        )

    def build(self, name: str) -> Any:
        """The command or group for the parser, under *name*."""
        built = typer.main.get_command(self.typer)
        built.name = name
        return built


def _nothing() -> None:
    """Do nothing; a group with a callback stays a group though it has one command."""


def shared_options() -> list[TyperOption]:
    """The options that stand before a command's name, or alone."""
    return [*_forms(), *_everywhere()]
