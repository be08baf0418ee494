"""Where do knee, pelvis and shoulders go, seen in the frontal plane?"""

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from condyle.report.absent import not_drawn
from condyle.report.drawing import INK, SIDE_STYLE, WIDTH, Picture, bundle, margins
from condyle.report.legs import Leg
from condyle.report.picture_curves import repetition_curves
from condyle.report.words import joined, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_POINTS = {
    "shoulders": "shoulders",
    "pelvis": "pelvis",
    "knee": "knee centre",
    "lateral_epicondyle": "lateral knee",
    "patella": "kneecap",
}
_LEAST_MM = 90.0
_MARKS: dict[str, dict[str, Any]] = {
    "o": {"marker": "o", "ms": 3, "mfc": INK},
    "v": {"marker": "v", "ms": 5, "mfc": "white"},
    "s": {"marker": "s", "ms": 6.5, "mfc": "white"},
}


def path_picture(legs: list[Leg], name: str) -> Picture | None:
    """A row per leg, a column per point; every repetition's path from its own start.

    Of a leg of which no repetition counts the others are drawn, dotted and without a mean; a leg of which no path was
    measured has no row.
    """
    points = [p for p in _POINTS if any(_path(leg, p).medial.size for leg in legs)]
    if not points:
        return None
    drawn = [any(_path(leg, p).medial.size for p in points) for leg in legs]
    shown = [leg for leg, there in zip(legs, drawn, strict=True) if there]
    square = (WIDTH - 0.75 - 0.48 * (len(points) - 1)) / max(len(points), 3)
    height = 0.5 + len(shown) * (square + 0.42)

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        grid = (len(shown), len(points))
        axes = figure.subplots(*grid, squeeze=False)
        margins(figure, (width, tall), left=0.6, top=0.3, bottom=0.6, across=0.48, down=0.42, grid=grid)
        for line, leg in zip(axes, shown, strict=True):
            there = [_draw_path(panel, leg, point) for panel, point in zip(line, points, strict=True)]
            line[there.index(True)].set_ylabel("up (mm)")
        for column in axes.T:  # the lowest panel that is there
            [panel for panel in column if panel.get_visible()][-1].set_xlabel("medial + (mm)")
        _legend(figure)

    uncounted = [leg for leg in shown if not len(leg.valid)]
    note = [
        "Each path starts at 0; to the right is medial (inward) for both legs. Thin: every counted repetition; thick: the "
        "mean, solid on the way down, dotted on the way up.",
        *(
            f"{leg.side.capitalize()} leg: none of its repetitions counts; they are drawn dotted, without a mean."
            for leg in uncounted
        ),
        not_drawn(legs, drawn, "its paths were"),
    ]
    return Picture(
        name,
        "Where do knee, pelvis and shoulders go, seen from the front?",
        _finding(legs, points),
        height,
        draw,
        " ".join(words for words in note if words),
    )


class _Path(NamedTuple):
    """(repetition, percent) medial and up, of the repetitions that count, else of the others, that were seen at all."""

    medial: np.ndarray[Any, Any]
    up: np.ndarray[Any, Any]
    counted: bool


def _path(leg: Leg, point: str) -> _Path:
    counts = len(leg.valid) > 0
    _, medial = repetition_curves(leg, f"{point}_medial_mm", valid=counts)
    _, up = repetition_curves(leg, f"{point}_up_mm", valid=counts)
    if not medial.size or not up.size:
        return _Path(np.zeros((0, 0)), np.zeros((0, 0)), counts)
    seen = np.isfinite(medial).any(axis=1)
    return _Path(medial[seen], up[seen], counts)


def _draw_path(axes: "Axes", leg: Leg, point: str) -> bool:
    """Draw one panel, or take it away where the path was not measured; whether it is there."""
    medial, up, counted = _path(leg, point)
    axes.set_visible(bool(medial.size))
    if not medial.size:
        return False
    axes.set_title(f"{leg.side.capitalize()}: {_POINTS[point]}", fontsize=7.6)
    colour = SIDE_STYLE[leg.side]["color"]
    if counted:
        bundle(axes, medial[:, ::2], up[:, ::2], color=colour, lw=0.5, alpha=0.55)
        _draw_mean(axes, medial, up, colour)
    else:
        bundle(axes, medial[:, ::2], up[:, ::2], color=colour, lw=0.9, ls=":")
        half = medial.shape[1] // 2
        for k, marker in ((-1, "s"), (half, "v"), (0, "o")):
            axes.plot(medial[:, k], up[:, k], **_MARKS[marker], color=colour, mew=0.8, ls="")
    _square(axes, np.concatenate([medial.ravel(), [0.0]]), np.concatenate([up.ravel(), [0.0]]))
    return True


def _draw_mean(axes: "Axes", medial: np.ndarray[Any, Any], up: np.ndarray[Any, Any], colour: str) -> None:
    seen = np.isfinite(medial).any(axis=0)
    x, y = np.full(seen.size, np.nan), np.full(seen.size, np.nan)
    x[seen], y[seen] = np.nanmean(medial[:, seen], axis=0), np.nanmean(up[:, seen], axis=0)
    half = seen.size // 2
    axes.plot(x[: half + 1], y[: half + 1], color=colour, lw=1.8)
    axes.plot(x[half:], y[half:], color=colour, lw=1.8, ls=(0, (1, 1.2)))
    for k, marker in ((-1, "s"), (half, "v"), (0, "o")):  # the start last, small and full: the end lies round it
        axes.plot(x[k], y[k], **_MARKS[marker], color=INK, mew=1.1, ls="")


def _square(axes: "Axes", x: np.ndarray[Any, Any], y: np.ndarray[Any, Any]) -> None:
    """The same scale both ways, so that an angle is an angle; never so close that noise looks like a path."""
    span = max(np.nanmax(x) - np.nanmin(x), np.nanmax(y) - np.nanmin(y), _LEAST_MM) * 1.14
    for middle, setter in (
        (0.5 * (np.nanmax(x) + np.nanmin(x)), axes.set_xlim),
        (0.5 * (np.nanmax(y) + np.nanmin(y)), axes.set_ylim),
    ):
        setter(middle - span / 2, middle + span / 2)
    axes.set_box_aspect(1)
    axes.locator_params(nbins=4)


def _legend(figure: "FigureBase") -> None:
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], **_MARKS[m], ls="", color=INK, mew=1.1, label=words)
        for m, words in (("o", "start"), ("v", "bottom"), ("s", "end"))
    ]
    handles += [
        Line2D([], [], color=INK, lw=1.8, label="down"),
        Line2D([], [], color=INK, lw=1.8, ls=(0, (1, 1.2)), label="up"),
    ]
    figure.legend(handles=handles, loc="lower center", ncols=5, borderaxespad=0.1)


def _finding(legs: list[Leg], points: list[str]) -> str:
    said = []
    for leg in legs:
        words = [
            f"the {_POINTS[p]} {_moved(travel.value)}" for p in points if (travel := leg.measure(f"{p}_travel")).known
        ]
        if words:
            said.append(f"{leg.side.capitalize()} leg, start to bottom: {joined(words)}.")
    return " ".join(said) or "Paths in the frontal plane."


def _moved(travel: float) -> str:
    if abs(travel) < 5:
        return "stays within 5 mm sideways"
    return f"travels {number(abs(travel), 0)} mm {'medially' if travel > 0 else 'laterally'}"
