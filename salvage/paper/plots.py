"""
A plot of bars as PNG or SVG: rows of names, and beside them one panel for each figure.

Each bar carries its own figure, so that nothing rests on length or colour alone: no legend, no
grid, no ticks. What is below zero is hatched as well as copper. The same plot gives the same bytes
with the same fonts and the same version of the library, which is loaded only here.
"""

from __future__ import annotations

import io
import textwrap
import warnings
from dataclasses import dataclass
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

from salvage.errors import BadValue, MissingTool
from salvage.paper.typeset import tidy_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FORMS = ("png", "svg")
"""Formats of a plot's file."""

INK, DEEP, COPPER, SHOAL = "#1b2629", "#123f4c", "#a4551f", "#dce8e8"
"""The colours of the cards: text, bars, marks that say so in words as well, and tracks."""

_WIDTH, _NAMES, _EDGE, _ROW, _HEAD, _FOOT, _GAP = 9.6, 2.5, 0.35, 0.36, 1.45, 0.55, 0.3
_CHARACTER = 0.087
"""Inches that a character of a figure takes at most, at 9.5 points."""

_NAME_CHARACTERS, _DPI = 27, 160


@dataclass(frozen=True, slots=True)
class Bar:
    """
    One bar.

    Args:
        value: Its length; None where it is not known, which is drawn as words alone.
        told: The figure as people read it, with its unit.
    """

    value: float | None
    told: str


@dataclass(frozen=True, slots=True)
class Panel:
    """
    One figure of all rows.

    Args:
        head: What it tells.
        bars: One for each row.
        mark: A value to compare with, as a line; None for none.
        mark_words: What the line stands for.
        whole: What a full bar would be, such as 100 percent, drawn as a pale track; 0 for none.
    """

    head: str
    bars: tuple[Bar, ...]
    mark: float | None = None
    mark_words: str = ""
    whole: float = 0.0


@dataclass(frozen=True, slots=True)
class Plot:
    """
    What is drawn.

    Args:
        name: Of the file, without its ending.
        title: What the reader learns.
        words: How the figures are meant, under the title.
        rows: Names of the rows, first on top.
        panels: Figures, from left to right.
        note: At the foot: what is left out, and up to when it counts.
        one_scale: Whether bars of all panels are of one scale.
        empty: What stands there where no row is.
    """

    name: str
    title: str
    words: str
    rows: tuple[str, ...]
    panels: tuple[Panel, ...]
    note: str = ""
    one_scale: bool = False
    empty: str = "nothing to show yet"


def check_plotting() -> None:
    """
    Raise unless the plotting library is here.

    Raises:
        MissingTool: With the line that installs it.
    """
    try:
        import matplotlib  # noqa: F401
    except ImportError as error:
        raise MissingTool(
            "plots need a library that is not installed",
            hint="pip install 'salvage[plots]'; 'salvage sales report' shows bars without it",
        ) from error


def draw_plot(plot: Plot, *, form: str = "png") -> bytes:
    """
    A plot as the bytes of a file.

    Args:
        plot: What is drawn.
        form: One of :data:`FORMS`.

    Raises:
        BadValue: If there is no such form.
        MissingTool: If the plotting library is not installed.
    """
    if form not in FORMS:
        raise BadValue(f"plots are not made as '{form}'", hint="use png or svg", field="--form")
    check_plotting()
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with matplotlib.rc_context(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_settings())
        height = _HEAD + _ROW * max(1, len(plot.rows)) + _FOOT
        figure = Figure(figsize=(_WIDTH, height), facecolor="white")
        FigureCanvasAgg(figure)
        _draw(figure, plot, height)
        out = io.BytesIO()
        about = {"Title": tidy_text(plot.title), "Description": _description(plot)}
        fixed = {"Software": None} if form == "png" else {"Date": None, "Creator": None}
        metadata: dict[str, Any] = about | fixed  # Any: the library takes text or None
        figure.savefig(out, format=form, dpi=_DPI, metadata=metadata)
    return out.getvalue()


def _settings() -> dict[Any, Any]:  # Any: the library names each of its settings in its types
    """Our font first, then what this machine has for other scripts; nothing random in an SVG."""
    from matplotlib.font_manager import fontManager

    with as_file(files("salvage.paper").joinpath("fonts")) as shipped:
        for weight in ("Regular", "Bold"):
            path = str(shipped / f"NotoSans-{weight}.ttf")
            if all(font.fname != path for font in fontManager.ttflist):
                fontManager.addfont(path)
    here = {font.name for font in fontManager.ttflist}
    more = sorted(name for name in here if name.startswith(("Noto Sans CJK", "Noto Sans Arabic")))
    return {
        "font.family": ["Noto Sans", "DejaVu Sans", *more],
        "font.size": 9.5,
        "text.color": INK,
        "text.parse_math": False,
        "svg.hashsalt": "salvage",
        "svg.fonttype": "path",
        "hatch.linewidth": 1.0,
    }


def _description(plot: Plot) -> str:
    """All that is drawn, in words, for who cannot see it."""
    rows = (
        f"{name}: " + ", ".join(f"{panel.head} {panel.bars[n].told}" for panel in plot.panels)
        for n, name in enumerate(plot.rows)
    )
    return tidy_text("; ".join((plot.words, *rows)) if plot.rows else plot.empty)


def _draw(figure: Figure, plot: Plot, height: float) -> None:
    def at(y_in: float) -> float:
        return 1 - y_in / height

    left = _EDGE / _WIDTH
    figure.text(left, at(0.26), tidy_text(plot.title), size=15, weight="bold", va="top")
    figure.text(left, at(0.66), tidy_text(plot.words), va="top")
    figure.text(left, 0.17 / height, tidy_text(plot.note), size=8, va="bottom")
    if not plot.rows:
        figure.text(left, at(_HEAD), tidy_text(plot.empty), size=12, va="top")
        return
    for n, name in enumerate(plot.rows):
        middle = at(_HEAD + _ROW * (n + 0.5))
        figure.text(left, middle, _short(name), va="center", linespacing=0.95)
    room = (_WIDTH - 2 * _EDGE - _NAMES) / len(plot.panels)
    size = (room - _GAP, _ROW * len(plot.rows))
    widest = max(_most(panel, size[0]) for panel in plot.panels)
    for n, panel in enumerate(plot.panels):
        start = _EDGE + _NAMES + n * room
        place = (start / _WIDTH, _FOOT / height, size[0] / _WIDTH, size[1] / height)
        axes = figure.add_axes(place)
        head = textwrap.fill(tidy_text(panel.head), max(9, int(size[0] / _CHARACTER)))
        figure.text(start / _WIDTH, at(_HEAD - 0.08), head, weight="bold", va="bottom")
        _draw_panel(axes, panel, widest if plot.one_scale else _most(panel, size[0]))


def _short(name: str) -> str:
    """A name on two lines at most."""
    lines = textwrap.wrap(tidy_text(name), _NAME_CHARACTERS, max_lines=2, placeholder=" …")
    return "\n".join(lines)


def _least(panel: Panel) -> float:
    return min(0.0, min(bar.value or 0.0 for bar in panel.bars))


def _most(panel: Panel, width_in: float) -> float:
    """The right end of a panel's scale, so that the longest bar and its figure fit."""
    text_in = _CHARACTER * max(len(bar.told) for bar in panel.bars) + 0.1
    most = max(panel.whole, panel.mark or 0.0, *(bar.value or 0.0 for bar in panel.bars))
    least = _least(panel)
    share = max(0.2, 1 - text_in / width_in)
    # Figures of bars below zero stand right of zero, where they need the same room.
    return max(least + (most - least) / share, -least / share + least, 1e-9)


def _draw_panel(axes: Axes, panel: Panel, most: float) -> None:
    axes.set_axis_off()
    least = _least(panel)
    axes.set_xlim(least, most)
    axes.set_ylim(len(panel.bars), 0)
    for n, bar in enumerate(panel.bars):
        value, middle = bar.value or 0.0, n + 0.5
        if panel.whole:
            axes.barh(middle, panel.whole, 0.6, color=SHOAL)
        if value < 0:
            axes.barh(middle, value, 0.6, facecolor="white", edgecolor=COPPER, hatch="////")
        elif value:
            axes.barh(middle, value, 0.6, color=DEEP)
        axes.annotate(
            tidy_text(bar.told),
            (max(panel.whole, value), middle),
            (4, 0),
            textcoords="offset points",
            va="center_baseline",
            annotation_clip=False,
        )
    axes.plot([0, 0], [0, len(panel.bars)], color=INK, linewidth=0.8, clip_on=False)
    if panel.mark is not None:
        axes.plot(
            [panel.mark] * 2, [0, len(panel.bars)], color=COPPER, linewidth=1.2, ls=(0, (4, 2))
        )
        axes.annotate(
            tidy_text(panel.mark_words),
            (panel.mark, len(panel.bars)),
            (0, -3),
            textcoords="offset points",
            va="top",
            ha="center",
            size=8,
            color=COPPER,
            annotation_clip=False,
        )
