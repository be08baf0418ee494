"""How much is named, by the true lead, with errors of full, half and quarter size: the picture of docs/methods/accuracy.md."""

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.figure import Figure
from scipy.stats import binomtest

Row = tuple[float, float, int, float, float]  # lead from, to [degrees]; how many; share named; share of these right
LINES = {  # errors as a share of the published ones: words, colour, line, marker
    1.0: ("errors of published size", "#0b5c8a", "-", "o"),
    0.5: ("half as large", "#c25e00", (0, (5, 2)), "s"),
    0.25: ("a quarter as large", "#5b6673", (0, (1.5, 1.5)), "^"),
}


def naming_figure(by_scale: Mapping[float, Sequence[Row]], goal: tuple[float, float] = (20.0, 60.0)) -> Figure:
    """Share named against the true lead, with 95 % intervals (Wilson), a line for each size of the errors.

    ``goal``: the lead from which on that percentage should be named.
    """
    figure = Figure(figsize=(6.4, 3.4), layout="constrained")
    axes = figure.subplots()
    for k, (scale, rows) in enumerate(by_scale.items()):
        words, colour, line, marker = LINES[scale]
        known = [row for row in rows if row[2]]
        classes = np.arange(len(rows))[[row[2] > 0 for row in rows]]
        share = np.array([row[3] for row in known])
        limits = np.array([binomtest(round(r[3] * r[2]), r[2]).proportion_ci(method="wilson") for r in known])
        reach = np.clip([share - limits[:, 0], limits[:, 1] - share], 0.0, None)
        axes.errorbar(
            classes + 0.07 * (k - 1), 100 * share, yerr=100 * reach, color=colour, linestyle=line, marker=marker,
            markersize=5, linewidth=1.6, elinewidth=0.9, capsize=2.5, label=words,
        )  # fmt: skip
    first = next(i for i, row in enumerate(next(iter(by_scale.values()))) if row[0] >= goal[0])
    axes.hlines(goal[1], first - 0.35, len(rows) - 0.65, color="#444444", linewidth=0.9)
    axes.text(len(rows) - 0.62, goal[1], " aim at\n published size", fontsize=7.5, va="center")
    axes.set_xticks(range(len(rows)), [_class_words(row) for row in rows])
    axes.set(xlabel="true lead of pelvis or leg (degrees of FPPA)", ylabel="named (%)", ylim=(-3, 103))
    axes.set_xlim(-0.4, len(rows) - 0.05)
    axes.legend(loc="upper left", frameon=False, fontsize=8)
    for edge in ("top", "right"):
        axes.spines[edge].set_visible(False)
    return figure


def _class_words(row: Row) -> str:
    return f"{row[0]:g} and more" if np.isinf(row[1]) else f"{row[0]:g} to {row[1]:g}"
