"""How do the joint angles run through the squat, in every repetition, and where do published groups peak?"""

from typing import TYPE_CHECKING, Any

import numpy as np

from condyle.body_names import ANGLE_WORDS
from condyle.report.drawing import GREY, SIDE_STYLE, Picture, bundle, margins
from condyle.report.legs import Leg
from condyle.report.words import angle_words, joined, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

SHOWN = (
    *("fppa", "thigh_axial_rotation", "knee_flexion"),
    *("pelvis_rotation", "pelvis_obliquity", "pelvis_tilt"),
    *("hip_flexion", "hip_adduction", "hip_internal_rotation"),
    *("trunk_flexion", "trunk_lean", "trunk_rotation"),
    *("knee_adduction", "knee_internal_rotation", "shoulder_line_tilt"),
    *("ankle_dorsiflexion", "ankle_inversion", "ankle_internal_rotation"),
)
_WHEN_NO_TRUNK = {
    "trunk_flexion": "trunk_line_flexion",
    "trunk_lean": "trunk_line_lean",
    "trunk_rotation": "shoulder_line_rotation",
}
_COLUMNS, _ROW = 3, 1.62
_PUBLISHED: dict[bool, dict[str, Any]] = {  # by whether the group has pain
    False: {"fmt": "D", "ms": 3, "mfc": "white"},
    True: {"fmt": "X", "ms": 4, "mfc": GREY},
}
_POSITIVE = {
    "fppa": "knee medial",
    "shoulder_line_tilt": "this side down",
    "shoulder_line_rotation": "this side forward",
}


def curve_picture(legs: list[Leg], name: str, references: dict[str, Any]) -> Picture | None:
    """Small panels, one angle each, of the legs of one task; None where no curve was measured."""
    angles = [a for wanted in SHOWN if (a := _given(legs, wanted))]
    if not angles:
        return None
    rows = -(-len(angles) // _COLUMNS)
    height = 0.75 + _ROW * rows

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(rows, _COLUMNS, squeeze=False)
        margins(figure, (width, tall), left=0.45, top=0.5, bottom=0.42, across=0.42, down=0.52, grid=(rows, _COLUMNS))
        for k, panel in enumerate(axes.flat):
            if k >= len(angles):
                panel.set_visible(False)
                continue
            _panel(panel, legs, angles[k], references, last=k + _COLUMNS >= len(angles))
            panel.set_gid(f"panel{k}")
        _legend(figure, legs, {r[2] for shown in angles for r in references.get(shown, ())})

    return Picture(
        name,
        "How do the angles run through the squat?",
        _finding(legs),
        height,
        draw,
        "Thin lines: every repetition (dotted: not counted). Thick line and band: mean and one standard deviation. "
        "0\u00a0% start, 50\u00a0% bottom (deepest knee flexion), 100\u00a0% end of the repetition."
        + (
            " Bars at the edge: published peak values, mean and one standard deviation, as context."
            if references
            else ""
        ),
        tuple((f"{name}-panel{k}", _end(references, a)) for k, a in enumerate(angles)),
    )


def _given(legs: list[Leg], angle: str) -> str:
    for candidate in (angle, _WHEN_NO_TRUNK.get(angle, "")):
        if any(candidate in leg.curves and leg.curves[candidate].notna().any() for leg in legs):
            return candidate
    return ""


def repetition_curves(leg: Leg, column: str, *, valid: bool) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Percent, and (repetition, percent) of a column of the curves, of the repetitions that count or of the others."""
    rows = leg.curves
    if column not in rows:
        return np.zeros(0), np.zeros((0, 0))
    rows = rows[rows["valid"].astype(bool) == valid]
    percent = rows["percent"].drop_duplicates().to_numpy(dtype=float)
    count = len(rows) // max(percent.size, 1)
    return percent, rows[column].to_numpy(dtype=float).reshape(count, percent.size)


def _panel(axes: "Axes", legs: list[Leg], angle: str, references: dict[str, Any], last: bool) -> None:
    for leg in legs:
        look = SIDE_STYLE[leg.side]
        percent, curves = repetition_curves(leg, angle, valid=True)
        bundle(axes, percent[::2], curves[:, ::2], lw=0.5, alpha=0.55, color=look["color"])
        unsure, out = repetition_curves(leg, angle, valid=False)
        bundle(axes, unsure[::2], out[:, ::2], lw=0.7, ls=":", color=look["color"])
        if len(curves) and (seen := np.isfinite(curves).sum(axis=0) > 0).any():
            mean, sd = mean_and_sd(curves[:, seen])
            axes.fill_between(percent[seen], mean - sd, mean + sd, color=look["color"], alpha=0.16, lw=0)
            axes.plot(percent[seen], mean, **look)
    for k, (mean, sd, with_pain) in enumerate(references.get(angle, ())):
        axes.errorbar(103 + 3 * k, mean, sd, color=GREY, **_PUBLISHED[with_pain], capsize=2, lw=1, clip_on=False)
    axes.axvline(50, color=GREY, lw=0.6, ls=(0, (1, 2)))
    axes.set_xlim(0, _end(references, angle))
    axes.set_xticks([0, 50, 100], ["start", "bottom", "end"] if last else ["0", "50", "100"])
    low, high = axes.get_ylim()
    if high - low < 10:  # noise must not fill a panel
        middle = 0.5 * (low + high)
        axes.set_ylim(middle - 5, middle + 5)
    axes.set_title(f"{angle_words(angle)} (deg)", pad=12)
    axes.text(0, 1.03, f"+ {positive_words(angle)}", transform=axes.transAxes, fontsize=6.8, color=GREY)


def positive_words(angle: str) -> str:
    """What a positive value of an angle means, in short."""
    return _POSITIVE.get(angle) or ANGLE_WORDS[angle].partition("; positive is ")[2].partition(";")[0]


def _end(references: dict[str, Any], angle: str) -> float:
    """Percent at the right edge of a panel: published values stand beyond the end of the repetition."""
    return 100.0 + (3.0 + 3.0 * len(references[angle]) if references.get(angle) else 0.0)


def mean_and_sd(curves: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Mean and SD over the repetitions seen at each percent; columns with none must be left out before."""
    seen = np.isfinite(curves)
    count = seen.sum(axis=0)
    mean = np.where(seen, curves, 0.0).sum(axis=0) / count
    spread = np.where(seen, curves - mean, 0.0)
    return mean, np.sqrt((spread**2).sum(axis=0) / np.maximum(count - 1, 1))


def _legend(figure: "FigureBase", legs: list[Leg], published: set[bool]) -> None:
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], **SIDE_STYLE[side], label=f"{side} leg") for side in dict.fromkeys(leg.side for leg in legs)
    ]
    for with_pain in sorted(published):
        look = {**_PUBLISHED[with_pain], "marker": _PUBLISHED[with_pain]["fmt"]}
        look.pop("fmt")
        label = "published peak, people with pain" if with_pain else "published peak, mean and SD"
        handles.append(Line2D([], [], color=GREY, **look, lw=1, label=label))
    figure.legend(handles=handles, loc="upper right", ncols=len(handles), borderaxespad=0.2)


def _finding(legs: list[Leg]) -> str:
    said = []
    for leg in legs:
        parts = [
            f"{angle_words(angle)} changes by {number(found.value, 0)} degrees"
            for angle in ("knee_flexion", "fppa", "pelvis_rotation", "hip_adduction", "hip_internal_rotation")
            if (found := leg.measure(f"{angle}_change")).known
        ]
        if parts:
            said.append(f"{leg.side} leg, start to bottom: {joined(parts)}")
    return f"Angle curves over the repetition. {'; '.join(said)}." if said else "Angle curves over the repetition."
