"""How the study's figures look, and how one becomes a piece of a page."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import quoteattr

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Okabe & Ito 2008: told apart by colour-blind readers; marker and line style repeat what colour says
BLUE, ORANGE, SKY, BLACK, GREY = "#0072B2", "#D55E00", "#56B4E9", "#000000", "#6b6b6b"
SIDE_STYLE: Any = {
    "left": (ORANGE, "^", "left leg"),
    "right": (BLUE, "o", "right leg"),
    "both": (BLACK, "s", "both legs"),
}
_RASTER_FROM = 300  # points of a cloud from which it is drawn as a picture inside the figure
_STYLE: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "sans-serif"],
    "font.size": 9,
    "axes.titlesize": 10,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#e3e3e3",
    "grid.linewidth": 0.6,
    "legend.frameon": True,
    "legend.edgecolor": "none",
    "legend.framealpha": 0.75,
    "svg.fonttype": "none",
    "svg.hashsalt": "condyle",
    "figure.dpi": 100,
    "savefig.dpi": 110,
}


@contextmanager
def drawn(columns: int, rows: int = 1, width: float = 4.2, height: float = 3.4) -> Iterator[tuple["Figure", Any]]:
    """A figure with its axes (rows, columns), in the study's style; without a window and without pyplot's memory."""
    import matplotlib
    from matplotlib.figure import Figure

    with matplotlib.rc_context(_STYLE):
        across, down = width * columns, height * rows
        figure = Figure(figsize=(across, down))
        axes = figure.subplots(rows, columns, squeeze=False)
        # margins in inches, set by hand: a layout engine would draw everything twice
        figure.subplots_adjust(left=0.78 / across, right=1 - 0.15 / across, bottom=0.5 / down, top=1 - 0.35 / down,
                               wspace=0.85 / (width - 0.85))  # fmt: skip
        yield figure, axes


def svg(figure: "Figure", name: str, words: str) -> str:
    """The figure as inline SVG whose ids are its own, with ``words`` for readers who do not see it."""
    import matplotlib

    stream = io.StringIO()
    with matplotlib.rc_context(_STYLE):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(xlink:href="|url\()#([^")]+)', rf"\1#{name}-\2", text)
    return text.replace("<svg ", f'<svg role="img" aria-label={quoteattr(words)} ', 1)


def cloud(axes: "Axes", x: Any, y: Any, sides: Any) -> None:
    """Points by leg: colour and marker."""
    for side in dict.fromkeys(sides):
        colour, marker, label = SIDE_STYLE.get(str(side), (GREY, "D", str(side) or "leg not named"))
        here = sides == side
        axes.plot(
            x[here], y[here], linestyle="", marker=marker, markersize=4, markerfacecolor="none", markeredgecolor=colour,
            markeredgewidth=0.8, alpha=0.8, label=label, rasterized=len(x) > _RASTER_FROM,
        )  # fmt: skip


def titled(axes: "Axes", title: str, x: str, y: str) -> None:
    """Title and axis names, units in them."""
    axes.set_title(title, loc="left")
    axes.set_xlabel(x)
    axes.set_ylabel(y)


def label(measure: str, unit: str) -> str:
    """A measure's name as an axis says it."""
    return f"{measure.replace('_', ' ')}{f' ({unit})' if unit and unit != '1' else ''}"
