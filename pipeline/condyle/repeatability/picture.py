"""The picture of the comparison: which landmark was placed how far which way, and how far are the axes turned by it?"""

from collections.abc import Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

import numpy as np
import pandas as pd

from condyle.body_names import JOINTS
from condyle.files.atomic import atomic_path
from condyle.mechanics.arrays import FloatArray
from condyle.repeatability.pair import Pair

_SHOWN = 14
_LINE = 130  # characters of the title
_LONGER = 3.0  # arrows on the body, so that 20 mm show
_STRONG, _FAINT, _INK = "#9a4d00", "#b9c7cf", "#222222"
_VIEWS = (("from the front", 2, "to the participant's right (mm)"), ("from the right", 0, "forward (mm)"))


def draw(pairs: Sequence[Pair], landmarks: pd.DataFrame, axes: pd.DataFrame, path: Path) -> None:
    """The body of the pair that differs most, with an arrow for each landmark; below, landmarks and axes of all pairs."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 11.0), layout="constrained")
    grid = figure.subplot_mosaic([["front", "right"], ["landmarks", "axes"]], height_ratios=[1.5, 1.0])
    shown = max(pairs, key=_severity)
    for panel, (view, across, label) in zip(("front", "right"), _VIEWS, strict=True):
        _body(grid[panel], shown, across)
        grid[panel].set_xlabel(label, fontsize=8)
        grid[panel].set_title(view, fontsize=9, loc="left")
    title = [f"{_title(shown)} (arrows {_LONGER:g} times as long)"]
    if let_through := dict.fromkeys(pair.overridden for pair in pairs if pair.overridden):
        title += wrap(f"let through by the session file - {'; '.join(let_through)}", _LINE)
    figure.suptitle("\n".join(title), fontsize=10, x=0.01, ha="left")
    many = len(pairs) > 1
    _landmark_bars(grid["landmarks"], landmarks.dropna(subset=["distance_mm"]).head(_SHOWN)[::-1], many)
    _axes_bars(grid["axes"], axes.head(_SHOWN)[::-1], many)
    for drawn in grid.values():
        drawn.tick_params(labelsize=7)
        for side in ("top", "right"):
            drawn.spines[side].set_visible(False)
    with atomic_path(path) as temporary, mpl.rc_context({"svg.hashsalt": "condyle"}):
        figure.savefig(temporary, format="svg", metadata={"Date": None})


def _severity(pair: Pair) -> tuple[bool, float]:
    share = pair.found.told.statistic / pair.found.threshold
    return pair.reviewed, float(share.max())


def _title(pair: Pair) -> str:
    return f"{pair.first.participant}: {pair.second.session} against {pair.first.session}"


def _body(panel: Any, pair: Pair, across: int) -> None:
    """Landmarks where the first session had them, an arrow to where the second has them; legs by joint centres."""
    joint: FloatArray = pair.first.standing.joint
    for tail in ("_l", "_r"):
        leg = joint[[JOINTS.index(f"{n}{tail}") for n in ("hip", "knee", "ankle")]]
        panel.plot(leg[:, across], leg[:, 1], color=_FAINT, linewidth=5, solid_capstyle="round", zorder=1)
    start, shift = pair.two.first, pair.found.told.displacement
    named = {*pair.found.moved, *(by for s, a in pair.turned if (by := pair.turned_by(s, a)) is not None)}
    for k, name in enumerate(pair.names):
        moved = k in named
        colour = _STRONG if moved else _INK
        x, y = start[k, across], start[k, 1]
        panel.plot(x, y, marker="o", markersize=5 if moved else 3, color=colour, zorder=3)
        size = {"width": 2.5 if moved else 0.8, "headwidth": 8 if moved else 3, "headlength": 8 if moved else 3}
        if np.linalg.norm(shift[k, [across, 1]]) >= 3.0:
            arrow = {"color": colour, "shrink": 0, "linewidth": 0, **size}
            panel.annotate(
                "", (x + _LONGER * shift[k, across], y + _LONGER * shift[k, 1]), (x, y), arrowprops=arrow, zorder=4
            )
        if moved:
            words = f"{name.replace('_', ' ')}\n{np.linalg.norm(shift[k]):.0f} mm"
            panel.annotate(words, (x, y), (9, -5), textcoords="offset points", fontsize=8, color=colour, va="top")
    panel.set_aspect("equal", adjustable="datalim")
    panel.set_ylabel("up (mm)", fontsize=8)
    if across == 2:
        panel.invert_xaxis()


def _landmark_bars(panel: Any, table: pd.DataFrame, many: bool) -> None:
    rows = np.arange(len(table))
    records = table.to_dict("records")
    colours = [_STRONG if r["verdict"] == "review" else _FAINT for r in records]
    panel.barh(rows, table["distance_mm"], color=colours, height=0.6)
    panel.plot(table["limit_mm"], rows, "|", markersize=11, color=_INK)
    for k, r in enumerate(records):
        words = ", ".join(f"{round(float(r[n])) + 0:+d}" for n in ("anterior_mm", "superior_mm", "right_mm"))
        at = max(float(r["distance_mm"]), float(r["limit_mm"]))
        panel.annotate(words, (at, k), (5, 0), textcoords="offset points", va="center", fontsize=6.5)
    panel.set_yticks(rows, [_label(r, r["landmark"], many) for r in records])
    panel.set_xlabel("mm from where the other landmarks put it (forward, up, right)", fontsize=8)
    panel.set_title("Landmarks, worst first (tick: what palpation explains)", fontsize=9, loc="left")
    panel.margins(x=0.3)
    panel.set_xlim(left=0)


def _axes_bars(panel: Any, table: pd.DataFrame, many: bool) -> None:
    rows = np.arange(len(table))
    records = table.to_dict("records")
    colours = [_STRONG if r["verdict"] == "review" else _FAINT for r in records]
    panel.barh(rows, table["turned_deg"], color=colours, height=0.6)
    panel.hlines(rows, table["lower_deg"], table["upper_deg"], color=_INK, linewidth=1)
    if records:
        limit = float(records[0]["limit_deg"])
        for side in (-limit, limit):
            panel.axvline(side, color=_INK, linewidth=0.8, linestyle=":")
        words = f"Axes, worst first (line: 95 %; dotted: {limit:g} degrees)"
        panel.set_title(words, fontsize=9, loc="left")
    panel.axvline(0, color=_INK, linewidth=0.8)
    panel.set_yticks(rows, [_label(r, f"{r['segment']}, {r['about']} axis", many) for r in records])
    panel.set_xlabel("turned by (deg)", fontsize=8)


def _label(row: Any, what: str, many: bool) -> str:
    words = str(what).replace("_", " ")
    return f"{row['participant']} {row['second']}: {words}" if many else words
