"""How alike are the repetitions?"""

from typing import TYPE_CHECKING

import numpy as np

from condyle.report.drawing import GREY, SIDE_STYLE, Picture, margins
from condyle.report.legs import Leg
from condyle.report.words import joined, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

_SHOWN = (
    ("knee_flexion_at_bottom", "Knee flexion, bottom"),
    ("fppa_change", "FPPA change"),
    ("knee_travel", "Knee travel, medial +"),
    ("pelvis_rotation_change", "Pelvis rotation change"),
    ("hip_adduction_change", "Hip adduction change"),
    ("hip_internal_rotation_change", "Hip rotation change"),
)


def repetition_picture(legs: list[Leg], name: str) -> Picture | None:
    """A panel per measure, a point per repetition, hollow where it does not count."""
    shown = [
        (m, words)
        for m, words in _SHOWN
        if any(leg.values(m)["value"].notna().any() for leg in legs if len(leg.values(m)))
    ]
    if not shown:
        return None
    rows = -(-len(shown) // 3)
    height = 0.55 + 1.6 * rows

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(rows, 3, squeeze=False)
        margins(figure, (width, tall), left=0.5, top=0.45, bottom=0.42, across=0.45, down=0.5, grid=(rows, 3))
        for k, panel in enumerate(axes.flat):
            panel.set_visible(k < len(shown))
            if k < len(shown):
                _panel(panel, legs, *shown[k])
                if k + 3 >= len(shown):
                    panel.set_xlabel("repetition")
        _legend(figure, legs)

    return Picture(
        name,
        "How alike are the repetitions?",
        _finding(legs),
        height,
        draw,
        "Whiskers: 95 % limits where they were computed (an error of markers is common to all repetitions). Hollow: the "
        "repetition does not count.",
    )


def _panel(axes: "Axes", legs: list[Leg], measure: str, words: str) -> None:
    unit, longest = "", 1
    for k, leg in enumerate(legs):
        rows = leg.values(measure)
        if not len(rows):
            continue
        unit = str(rows["unit"].iloc[0])
        value, lower, upper = (rows[n].to_numpy(dtype=float) for n in ("value", "lower", "upper"))
        place = np.arange(1, len(rows) + 1) + (k - (len(legs) - 1) / 2) * 0.22
        longest = max(longest, len(rows))
        colour = SIDE_STYLE[leg.side]["color"]
        for x, low, high in zip(place, lower, upper, strict=True):
            axes.plot([x, x], [low, high], color=colour, lw=0.9)
        counted = set(zip(leg.valid["trial"], leg.valid["repetition"], strict=True))
        counts = np.array([key in counted for key in zip(rows["trial"], rows["repetition"], strict=True)])
        marker = "o" if leg.side == "right" else "^"
        axes.plot(place[counts], value[counts], ls="", marker=marker, ms=5, color=colour)
        axes.plot(place[~counts], value[~counts], ls="", marker=marker, ms=5, color=colour, mfc="white")
    low, high = axes.get_ylim()
    if high - low < 10:
        axes.set_ylim(0.5 * (low + high) - 5, 0.5 * (low + high) + 5)
    if axes.get_ylim()[0] < 0 < axes.get_ylim()[1]:
        axes.axhline(0, color=GREY, lw=0.7)
    axes.set_xticks(range(1, longest + 1) if longest <= 12 else range(1, longest + 1, 1 + longest // 8))
    axes.set_xlim(0.4, longest + 0.6)
    axes.grid(visible=False, axis="x")
    axes.set_title(f"{words} ({unit})", fontsize=7.8)


def _legend(figure: "FigureBase", legs: list[Leg]) -> None:
    from matplotlib.lines import Line2D

    handles = [
        Line2D(
            [],
            [],
            ls="",
            ms=5,
            marker="o" if side == "right" else "^",
            color=SIDE_STYLE[side]["color"],
            label=f"{side} leg",
        )
        for side in dict.fromkeys(leg.side for leg in legs)
    ]
    figure.legend(handles=handles, loc="upper right", ncols=2, borderaxespad=0.2)


def _finding(legs: list[Leg]) -> str:
    said = []
    for leg in legs:
        values = leg.values("fppa_change")
        seen = values["value"].dropna() if len(values) else values
        if len(seen):
            ends = joined([number(seen.min(), 0), number(seen.max(), 0)], "to")
            said.append(
                f"{leg.side.capitalize()} leg: the FPPA change of {len(seen)} repetitions runs from {ends} degrees."
            )
    return " ".join(said) or "Values of every repetition."
