"""How a figure is drawn in the report's style and becomes a piece of a page, or of a PDF page."""

import io
import re
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

WIDTH = 7.3  # inches: the width of an A4 or Letter page within its margins
INK, GREY, PALE = "#1d2733", "#5b6673", "#c3cad2"
# deep blue against amber: far apart in hue for every common colour blindness, and in lightness for a grey print
SIDE_STYLE: dict[str, dict[str, Any]] = {
    "right": {"color": "#14507d", "linestyle": "-"},
    "left": {"color": "#d98a00", "linestyle": (0, (5, 1.6))},
}
SOURCE_STYLE: dict[str, dict[str, Any]] = {
    "sagittal": {"facecolor": "#b9c0c8", "hatch": ""},
    "pelvis_rotation": {"facecolor": "#123a5e", "hatch": ""},
    "pelvis_obliquity": {"facecolor": "#7fb2dc", "hatch": "//"},
    "hip_adduction": {"facecolor": "#d9730d", "hatch": ""},
    "hip_internal_rotation": {"facecolor": "#f7d070", "hatch": "\\\\"},
    "knee_adduction": {"facecolor": "#6d3b7c", "hatch": ""},
    "knee_internal_rotation": {"facecolor": "#d3b6dc", "hatch": ".."},
    "foot_on_floor": {"facecolor": "#4a5a2a", "hatch": ""},
    "ankle": {"facecolor": "#b8c98a", "hatch": "//"},
    "knee": {"facecolor": "#6d3b7c", "hatch": ""},
    "remainder": {"facecolor": "#ffffff", "hatch": "xx"},
}


@dataclass(frozen=True)
class Picture:
    """One figure: the question it answers, what it shows in words, and how it is drawn at which size."""

    name: str
    question: str
    finding: str  # the text for readers who do not see it
    height: float  # inches
    draw: Callable[["FigureBase", float, float], None]  # (figure, width, height in inches)
    note: str = ""
    panels: tuple[tuple[str, float], ...] = ()  # axes that follow the skeleton: id, percent at their right end


@lru_cache(maxsize=1)
def style() -> Any:
    """Every parameter of the style, so that a user's own matplotlibrc changes nothing."""
    import matplotlib

    path = resources.files("condyle.report") / "condyle.mplstyle"
    with resources.as_file(path) as file:
        chosen = matplotlib.rc_params_from_file(file, fail_on_error=True, use_default_template=True)
    kept = ("backend", "interactive", "toolbar", "timezone", "date.", "webagg", "keymap", "savefig.directory")
    return {key: value for key, value in chosen.items() if not key.startswith(kept)}


@contextmanager
def styled() -> Iterator[None]:
    """The report's style; a label in a script that the font lacks is drawn as boxes without a warning."""
    import matplotlib

    with matplotlib.rc_context(style()), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        yield


def margins(
    figure: "FigureBase",
    size: tuple[float, float],
    *,
    left: float = 0.6,
    right: float = 0.15,
    top: float = 0.3,
    bottom: float = 0.45,
    across: float = 0.55,
    down: float = 0.6,
    grid: tuple[int, int] = (1, 1),
) -> None:
    """Margins and gaps in inches, set by hand: a layout engine would draw every figure twice."""
    width, height = size
    rows, columns = grid
    panel = (
        (width - left - right - across * (columns - 1)) / columns,
        (height - top - bottom - down * (rows - 1)) / rows,
    )
    figure.subplots_adjust(
        left=left / width, right=1 - right / width, bottom=bottom / height, top=1 - top / height,
        wspace=across / panel[0], hspace=down / panel[1],
    )  # fmt: skip


def bundle(axes: "Axes", x: Any, curves: Any, **look: Any) -> None:
    """Many thin lines over the same ``x`` (or each over its own) as one, which draws many times as fast."""
    import numpy as np

    if len(curves):
        gap = np.full((len(curves), 1), np.nan)
        across = np.broadcast_to(x, np.shape(curves))
        axes.plot(np.hstack([across, gap]).ravel(), np.hstack([curves, gap]).ravel(), **look)


def inline_svg(picture: Picture) -> str:
    """The picture as inline SVG with ids of its own, without dates, and with its finding as text."""
    from matplotlib.figure import Figure

    stream = io.StringIO()
    with styled():
        figure = Figure(figsize=(WIDTH, picture.height))
        picture.draw(figure, WIDTH, picture.height)
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{picture.name}-\1"', text)
    text = re.sub(r'(xlink:href="|url\()#([^")]+)', rf"\1#{picture.name}-\2", text)
    text = re.sub(r' d="[^"]*"', lambda path: re.sub(r"(\d\.\d)\d+", r"\1", path[0]), text)
    label = f"{picture.name}-words"
    end = text.index(">")
    opening = re.sub(r'\s(width|height)="[^"]*"', "", text[len("<svg") : end])
    title = f'<title id="{label}">{escape(picture.finding)}</title>'
    return f'<svg class="picture" role="img" aria-labelledby="{label}"{opening}>{title}{text[end + 1 :]}'
