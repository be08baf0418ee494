"""Where do knee, pelvis and shoulders go, seen in the frontal plane?"""

from typing import TYPE_CHECKING, Any

import numpy as np

from condyle.report.drawing import GREY, INK, SIDE_STYLE, WIDTH, Picture, bundle, margins
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
    """A row per leg, a column per point; every repetition's path from its own start."""
    points = [p for p in _POINTS if any(_path(leg, p)[0].size for leg in legs)]
    if not points:
        return None
    square = (WIDTH - 0.75 - 0.48 * (len(points) - 1)) / max(len(points), 3)
    height = 0.5 + len(legs) * (square + 0.42)

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(len(legs), len(points), squeeze=False)
        margins(
            figure, (width, tall), left=0.6, top=0.3, bottom=0.6, across=0.48, down=0.42, grid=(len(legs), len(points))
        )
        for row, (line, leg) in enumerate(zip(axes, legs, strict=True)):
            for column, (panel, point) in enumerate(zip(line, points, strict=True)):
                _draw_path(panel, leg, point)
                panel.set_title(f"{leg.side.capitalize()}: {_POINTS[point]}", fontsize=7.6)
                if column == 0:
                    panel.set_ylabel("up (mm)")
                if row == len(legs) - 1:
                    panel.set_xlabel("medial + (mm)")
        _legend(figure)

    return Picture(
        name,
        "Where do knee, pelvis and shoulders go, seen from the front?",
        _finding(legs, points),
        height,
        draw,
        "Each path starts at 0; to the right is medial (inward) for both legs. Thin: every counted repetition; thick: the "
        "mean, solid on the way down, dotted on the way up.",
    )


def _path(leg: Leg, point: str) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """(repetition, percent) medial and up, of counted repetitions that were seen at all."""
    _, medial = repetition_curves(leg, f"{point}_medial_mm", valid=True)
    _, up = repetition_curves(leg, f"{point}_up_mm", valid=True)
    if not medial.size or not up.size:
        return np.zeros((0, 0)), np.zeros((0, 0))
    seen = np.isfinite(medial).any(axis=1)
    return medial[seen], up[seen]


def _draw_path(axes: "Axes", leg: Leg, point: str) -> None:
    medial, up = _path(leg, point)
    if not medial.size:
        axes.text(0.5, 0.5, "not measured", transform=axes.transAxes, ha="center", color=GREY)
        axes.set_xticks([])
        axes.set_yticks([])
        return
    colour = SIDE_STYLE[leg.side]["color"]
    bundle(axes, medial[:, ::2], up[:, ::2], color=colour, lw=0.5, alpha=0.55)
    seen = np.isfinite(medial).any(axis=0)
    x, y = np.full(seen.size, np.nan), np.full(seen.size, np.nan)
    x[seen], y[seen] = np.nanmean(medial[:, seen], axis=0), np.nanmean(up[:, seen], axis=0)
    half = seen.size // 2
    axes.plot(x[: half + 1], y[: half + 1], color=colour, lw=1.8)
    axes.plot(x[half:], y[half:], color=colour, lw=1.8, ls=(0, (1, 1.2)))
    for k, marker in ((-1, "s"), (half, "v"), (0, "o")):  # the start last, small and full: the end lies round it
        axes.plot(x[k], y[k], **_MARKS[marker], color=INK, mew=1.1, ls="")
    _square(axes, np.concatenate([medial.ravel(), [0.0]]), np.concatenate([up.ravel(), [0.0]]))


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
