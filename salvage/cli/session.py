"""One run of the command line: what was asked for globally, and the way to the workshop."""

from __future__ import annotations

import re
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import date

    import typer

    from salvage.cli.world import World
    from salvage.store.keeper import Keeper
    from salvage.work.workshop import Workshop


@dataclass
class Session:
    """
    What one run knows; options fill it in while the line is read.

    Args:
        world: The outside.
        again: Runs another command line, its relative file names starting in a folder of its own,
            and gives its exit code.
        shop: Folder named with ``--shop``.
        by: Who works, named with ``--by``.
        form: ``json``, ``plain``, or empty for people.
        no_color: Never colour.
        no_input: Never ask.
        yes: Every question is answered with yes.
        dry_run: Do everything, then roll back.
        rows_told: Rows of the terminal that were written so far.
        is_change: Whether the command writes.
    """

    world: World
    again: Callable[[Sequence[str], Path], int]
    shop: str = ""
    by: str = ""
    form: str = ""
    no_color: bool = False
    no_input: bool = False
    yes: bool = False
    dry_run: bool = False
    rows_told: int = 0
    is_change: bool = False

    @property
    def folder(self) -> Path:
        """The workshop's folder: ``--shop``, else ``SALVAGE_SHOP``, else the user's data folder."""
        named = self.shop or self.world.variable("SALVAGE_SHOP")
        if named:
            return self.place(named)
        from platformdirs import user_data_path

        return user_data_path("salvage", appauthor=False)

    def place(self, name: str) -> Path:
        """
        Where a typed file or folder lies; ``~`` at its beginning is the home folder.

        Args:
            name: As typed; relative to the current folder.
        """
        try:
            return self.world.folder / Path(name).expanduser()
        except (RuntimeError, ValueError):  # nobody is called so: there are names as ~$draft.jpg
            return self.world.folder / name

    def open(
        self, *, create: bool = False, device: str = "", taking_over: bool = False
    ) -> Workshop:
        """
        The open workshop.

        Args:
            create: Begin a new one where there is none.
            device: Letter of a new one's first device; drawn by lot if empty.
            taking_over: Open it whichever computer keeps its folder.

        Raises:
            NotFound: If there is none and *create* is false.
            StoreTrouble: If it cannot be used.
        """
        from salvage.store.migrations import NEWEST
        from salvage.work.workshop import open_workshop

        keeper = self.keeper()
        if keeper and not taking_over:
            keeper.check_may_open(newest=NEWEST)
        shop = open_workshop(
            self.folder,
            clock=self.world.clock,
            entropy=self.world.entropy,
            by=self.by or self.world.variable("SALVAGE_BY"),
            create=create,
            device=device,
            busy_ms=self.busy_ms,
        )
        if keeper:
            self._hand_over(shop, keeper)
        return shop

    @property
    def busy_ms(self) -> int:
        """How long to wait for another writer: ``SALVAGE_BUSY_MS``, else the usual time."""
        from salvage.store.connection import BUSY_MS

        busy = self.world.variable("SALVAGE_BUSY_MS")
        return int(busy) if re.fullmatch("[0-9]{1,9}", busy) else BUSY_MS

    def _hand_over(self, shop: Workshop, keeper: Keeper) -> None:
        """Give a workshop its keeper, and tell what the keeper has to say."""
        from salvage.store.connection import plain_errors

        shop.keeper = keeper
        try:
            with plain_errors(shop.path):
                hints = keeper.hints(shop.conn, changing=self.is_change)
        except BaseException:
            shop.close()
            raise
        for words in hints:
            printable = "".join(c if c.isprintable() else "�" for c in words)
            self.world.stderr.write(f"{printable}\n")
            self.rows_told += 1

    def keeper(self) -> Keeper | None:
        """Who watches over the workshop's folder for this computer; None where nobody does."""
        computer = self.world.computer()
        if computer is None:
            return None
        from salvage.store.keeper import Keeper

        return Keeper(computer, self.folder, clock=self.world.clock, entropy=self.world.entropy)

    @contextmanager
    def open_if_there(self) -> Iterator[Workshop | None]:
        """The open workshop, or None where there is none: look-ups begin no workshop."""
        if self.is_begun:
            with self.open() as shop:
                yield shop
        else:
            yield None

    @property
    def is_begun(self) -> bool:
        """Whether a workshop is there."""
        from salvage.work.workshop import DATABASE_NAME

        return (self.folder / DATABASE_NAME).exists()

    @property
    def today(self) -> date:
        """The date now, in the computer's own time zone."""
        return self.world.clock().astimezone().date()

    @property
    def may_ask(self) -> bool:
        """Whether somebody sits there who can be asked."""
        return self.world.stdin_is_terminal and not self.no_input

    @property
    def has_color(self) -> bool:
        """Whether standard output takes colour: a terminal that nobody asked to stay plain."""
        world = self.world
        return (
            world.stdout_is_terminal
            and not self.no_color
            and not self.form
            and not world.variable("NO_COLOR")
            and world.variable("TERM") != "dumb"
        )

    @property
    def has_true_color(self) -> bool:
        """Whether standard output shows any colour, as pictures need."""
        deep = self.world.variable("COLORTERM").lower() in ("truecolor", "24bit")
        return self.has_color and deep and self.world.has_blocks


def session_of(context: typer.Context) -> Session:
    """The session that a command runs in."""
    session = context.find_object(Session)
    assert session is not None  # the entry puts it there
    return session
