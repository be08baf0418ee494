"""How do the angles run through a trial without repetitions (walking, jumping, standing)?"""

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from condyle.body_names import SIDES
from condyle.report.drawing import GREY, SIDE_STYLE, Picture, margins
from condyle.report.picture_curves import SHOWN, positive_words
from condyle.report.words import angle_words, joined, number

if TYPE_CHECKING:
    from matplotlib.figure import FigureBase

_COLUMNS, _ROW, _MOST_POINTS = 3, 1.5, 400


def time_picture(trial: xr.Dataset, name: str, label: str) -> Picture | None:
    """Angles of both sides against time; None for a trial with repetitions or without angles."""
    if "angle" not in trial or trial.sizes.get("repetition", 0):
        return None
    names = [str(a) for a in trial.variables["joint_angle"].values]
    values, time = trial.variables["angle"].values, trial.variables["time"].values
    shown = [a for a in SHOWN if a in names and np.isfinite(values[:, :, names.index(a)]).any()]
    if not shown:
        return None
    rows = -(-len(shown) // _COLUMNS)
    every = max(1, time.size // _MOST_POINTS)

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        from matplotlib.lines import Line2D

        axes = figure.subplots(rows, _COLUMNS, squeeze=False, sharex=True)
        grid = (rows, _COLUMNS)
        margins(figure, (width, tall), left=0.45, top=0.5, bottom=0.42, across=0.42, down=0.52, grid=grid)
        for k, panel in enumerate(axes.flat):
            panel.set_visible(k < len(shown))
            if k >= len(shown):
                continue
            for side in SIDES:
                curve = values[::every, SIDES.index(side), names.index(shown[k])]
                panel.plot(time[::every], curve, **{**SIDE_STYLE[side], "linewidth": 1.1})
            panel.set_title(f"{angle_words(shown[k])} (deg)", pad=12)
            panel.text(0, 1.03, f"+ {positive_words(shown[k])}", transform=panel.transAxes, fontsize=6.8, color=GREY)
            panel.set_xlim(time[0], time[-1])
            if k + _COLUMNS >= len(shown):
                panel.set_xlabel("time (s)")
                panel.tick_params(labelbottom=True)
        handles = [Line2D([], [], **SIDE_STYLE[side], label=f"{side} side") for side in reversed(SIDES)]
        figure.legend(handles=handles, loc="upper right", ncols=2, borderaxespad=0.2)

    said = []
    for angle in ("hip_flexion", "knee_flexion", "ankle_dorsiflexion"):
        if angle in shown:
            column = values[:, :, names.index(angle)]
            said.append(
                f"{angle_words(angle)} runs from {number(np.nanmin(column), 0)} to {number(np.nanmax(column), 0)} degrees"
            )
    finding = f"Trial {label}: {joined(said)}." if said else f"Trial {label}: angles over time."
    note = "Angles only: repetitions are not looked for in this task, or none were found."
    return Picture(name, f"Trial {label}: how do the angles run?", finding, 0.75 + _ROW * rows, draw, note)
