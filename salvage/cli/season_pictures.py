"""The plots of ``salvage sales report``, written into a folder."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from salvage.errors import BadValue, Refused

if TYPE_CHECKING:
    from salvage.cli.session import Session
    from salvage.work.ledger import Period
    from salvage.work.workshop import Workshop


def write_pictures(
    session: Session, shop: Workshop, period: Period, typed: tuple[str, str], *, force: bool
) -> list[str]:
    """
    Draw all plots of a season into a folder, and give the names of their files.

    All are drawn before the first is written, so that nothing lies there half done.

    Args:
        session: The run.
        shop: The open workshop.
        period: Which part of the ledger.
        typed: The folder as typed, empty for no plots, and the form.
        force: Replace files that are there.

    Raises:
        BadValue: If there is no such form.
        MissingTool: If the plotting library is not installed.
        Refused: If the folder cannot be made, or a file is there already.
    """
    from salvage.cli.files import check_target, write_file
    from salvage.paper.plots import FORMS, check_plotting, draw_plot
    from salvage.work.season_plots import plot_season

    folder, form = typed
    if form not in FORMS:
        raise BadValue(f"plots are not made as '{form}'", hint="use png or svg", field="--form")
    if not folder:
        return []
    target = session.place(folder)
    if target.exists() and not target.is_dir():
        raise Refused(f"{folder} is no folder", hint="name another")
    if not target.parent.is_dir():
        raise Refused(f"the folder {target.parent} is not there", hint="make it first")
    check_plotting()
    plots = {f"{plot.name}.{form}": plot for plot in plot_season(shop, period=period)}
    if target.exists():
        for name in plots:
            check_target(session, str(target / name), force=force)
    drawn = {name: draw_plot(plot, form=form) for name, plot in plots.items()}
    target.mkdir(exist_ok=True)
    for name, data in drawn.items():
        write_file(session, str(target / name), partial(bytes, data), force=force)
    return list(drawn)
