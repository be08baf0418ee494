"""When was each marker seen, and did the clusters keep their shape?"""

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from condyle.report.drawing import Picture, margins
from condyle.report.words import joined, number
from condyle.vocabulary import SEGMENTS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_MOST_MARKERS = 24
_FILLED = {  # value of `filled`: words, colour, height of the bar (so that grey prints and colour-blind readers tell them)
    1: ("rebuilt from its rigid cluster", "#7fb2dc", 0.45),
    2: ("bridged by a spline", "#d98a00", 0.65),
    3: ("rebuilt by the pelvis ladder", "#6d3b7c", 0.45),
    -1: ("missing", "#1d2733", 0.9),
}
_SEGMENT_LOOK = {
    "trunk": ("#5b6673", (0, (1, 1))),
    "pelvis": ("#6d3b7c", "-"),
    "thigh": ("#d9730d", "-"),
    "shank": ("#14507d", (0, (5, 1.6))),
    "foot": ("#8a9a5b", (0, (3, 1, 1, 1))),
}


def quality_picture(trial: xr.Dataset, name: str, label: str = "", side: str = "") -> Picture | None:
    """Gaps of the worst markers over time, and the residual of every segment's fit; repetitions shaded."""
    if "point" not in trial:
        return None
    time = trial.variables["time"].values
    state = _states(trial)
    markers = [
        str(m)
        for m in (trial.variables["label"].values if "label" in trial.variables else trial.variables["marker"].values)
    ]
    troubled = [k for k in np.argsort(-(state != 0).mean(axis=0), kind="stable") if (state[:, k] != 0).any()]
    shown = troubled[:_MOST_MARKERS]
    upper = max(0.5, 0.155 * len(shown))
    height = upper + 3.0
    label = label or str(trial.attrs.get("trial", ""))

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(2, 1, sharex=True, height_ratios=[upper, 1.35])
        margins(figure, (width, tall), left=1.15, top=0.3, bottom=1.0, down=0.0, grid=(2, 1))
        figure.subplots_adjust(hspace=0.5 / ((tall - 1.3) / 2))
        for panel in axes:
            _repetitions(panel, trial)
        _visibility(axes[0], time, state[:, shown], [markers[k] for k in shown])
        axes[0].set_title(
            f"{label}: samples missing or filled, worst first"
            if shown
            else f"{label}: every marker was seen in every frame"
        )
        _residuals(axes[1], trial, time, side)
        axes[1].set_xlabel("time (s); repetitions shaded")
        axes[1].set_xlim(time[0], time[-1])
        _legend(figure, axes[1])

    return Picture(
        name,
        f"Trial {label}: were the markers there, and did the clusters keep their shape?",
        _finding(label, state, [markers[k] for k in troubled], trial),
        height,
        draw,
        "Above: markers with missing or filled samples"
        + (f" (the worst {_MOST_MARKERS} of {len(troubled)})" if len(troubled) > _MOST_MARKERS else "")
        + ". Below: how far a segment's markers are from the shape they had in the standing trial.",
    )


def _states(trial: xr.Dataset) -> np.ndarray[Any, Any]:
    """(time, marker): 0 seen, 1 to 3 filled, -1 missing; what was never meant to be there is seen."""
    missing = np.isnan(trial.variables["point"].values).any(axis=2)
    filled = trial.variables["filled"].values if "filled" in trial else np.zeros(missing.shape, dtype=int)
    state = np.where(missing, -1, filled).astype(int)
    if "static_only" in trial:
        state[:, trial.variables["static_only"].values & missing.all(axis=0)] = 0
    return state


def _repetitions(axes: "Axes", trial: xr.Dataset) -> None:
    if "repetition_start_s" not in trial:
        return
    ends = zip(*(trial.variables[f"repetition_{n}_s"].values for n in ("start", "end")), strict=True)
    for start, end in sorted(set(ends)):
        axes.axvspan(start, end, color="#eef1f4", lw=0, zorder=0)


def _visibility(axes: "Axes", time: np.ndarray[Any, Any], state: np.ndarray[Any, Any], names: list[str]) -> None:
    step = float(np.median(np.diff(time))) if time.size > 1 else 1.0
    for row in range(len(names)):
        for value, (_, colour, tall) in _FILLED.items():
            edges = np.flatnonzero(np.diff(np.concatenate([[0], (state[:, row] == value).astype(int), [0]])))
            runs = [(time[a] - step / 2, (b - a) * step) for a, b in zip(edges[::2], edges[1::2], strict=True)]
            if runs:
                axes.broken_barh(runs, (row - tall / 2, tall), facecolors=colour, edgecolors=colour, linewidth=0.5)
    axes.set_yticks(range(len(names)), names, fontsize=6.8)
    axes.set_ylim(max(len(names), 1) - 0.4, -0.6)
    axes.grid(visible=False)
    axes.tick_params(axis="x", labelbottom=False)


def _residuals(axes: "Axes", trial: xr.Dataset, time: np.ndarray[Any, Any], side: str) -> None:
    axes.set_ylabel("fit (mm)")
    axes.set_title("Distance of the markers from their standing shape (root mean square)")
    if "fit_rms" not in trial:
        return
    fit, every = trial.variables["fit_rms"].values, max(1, time.size // 700)
    for k, segment in enumerate(SEGMENTS):
        stem, _, tail = segment.partition("_")
        if side and tail and tail != side[0]:
            continue
        if np.isfinite(fit[:, k]).any():
            colour, line = _SEGMENT_LOOK[stem]
            axes.plot(
                time[::every],
                _largest(fit[:, k], every),
                color=colour,
                ls=line,
                lw=1.0,
                label=segment.replace("_", " "),
            )
    axes.set_ylim(0, max(2.0, axes.get_ylim()[1]))


def _largest(values: np.ndarray[Any, Any], every: int) -> np.ndarray[Any, Any]:
    """The largest of every run of so many values: a thinned line must not lose a spike."""
    padded = np.concatenate([values, np.full(-values.size % every, np.nan)]).reshape(-1, every)
    return np.where(np.isfinite(padded).any(axis=1), np.nanmax(np.nan_to_num(padded, nan=-np.inf), axis=1), np.nan)


def _legend(figure: "FigureBase", lower: "Axes") -> None:
    from matplotlib.patches import Patch

    lines, names = lower.get_legend_handles_labels()
    patches = [Patch(facecolor=colour, label=words) for words, colour, _ in _FILLED.values()]
    figure.legend(handles=[*patches, *lines], labels=[*(str(p.get_label()) for p in patches), *names], loc="lower center",
                  ncols=5, fontsize=6.8, borderaxespad=0.1, columnspacing=1.0, handlelength=1.8)  # fmt: skip


def _finding(label: str, state: np.ndarray[Any, Any], troubled: list[str], trial: xr.Dataset) -> str:
    share = 100 * float((state == -1).mean())
    filled = 100 * float((state > 0).mean())
    words = f"Trial {label}: {number(share)} % of the samples are missing, {number(filled)} % were filled"
    if troubled:
        words += f"; most in {joined(troubled[:3])}"
    if "fit_rms" in trial and np.isfinite(trial.variables["fit_rms"].values).any():
        fit = trial.variables["fit_rms"].values
        worst = int(np.nanargmax(np.nan_to_num(fit, nan=-1).max(axis=0)))
        words += f"; the largest residual is {number(np.nanmax(fit))} mm in {SEGMENTS[worst].replace('_', ' ')}"
    return f"{words}. {history_words(trial)}".strip()


def history_words(trial: xr.Dataset) -> str:
    """Which stages made the trial what it is."""
    try:
        steps = json.loads(str(trial.attrs.get("history", "[]")))
    except ValueError:
        return ""
    names = [next(iter(step)) for step in steps if isinstance(step, dict) and step]
    return f"Stages: {', '.join(names)}." if names else ""
