"""The pictures of a study: pairs, misreading, courses, camera."""

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from condyle.mechanics.association import prediction_half_width
from condyle.study.curves import CurvePair
from condyle.study.drawing import BLACK, BLUE, GREY, ORANGE, SKY, cloud, drawn, label, svg, titled
from condyle.study.outcome import PairResult
from condyle.study.statistics import Estimate

if TYPE_CHECKING:
    from matplotlib.axes import Axes


PLACES = {  # a move of the camera: the words under its axis; both turns and moves to the side count by the stance leg
    "yaw_deg": "turned towards the stance side (deg)",
    "sideways_mm": "moved towards the stance side (mm)",
    "height_mm": "height of the lens (mm)",
    "distance_mm": "distance (mm)",
}


def pair_figure(result: PairResult, name: str, level: float) -> str:
    """Differences against means, reference against planar value, and ROC, as far as each makes sense."""
    differences = result.units[0] == result.units[1] and result.sample.pairs > 1
    wanted = ((_differences, differences), (_scatter, True), (_roc, result.roc is not None))
    panels = [panel for panel, there in wanted if there]
    with drawn(len(panels)) as (figure, axes):
        for draw, place in zip(panels, axes[0], strict=True):
            draw(place, result, level)
        return svg(figure, name, _in_words(result))


def _in_words(result: PairResult) -> str:
    tail = "" if result.sample.one_each else "_repeated"
    parts = [
        f"{result.pair.planar} against {result.pair.reference}, {result.sample.pairs} pairs of "
        f"{result.sample.participants} participants"
    ]
    for statistic, words in (
        ("bias" + tail, "bias"),
        ("limit_lower" + tail, "lower limit"),
        ("limit_upper" + tail, "upper limit"),
        ("pearson_r", "r"),
        ("auc", "area under the ROC curve"),
    ):
        e = result.value(statistic)
        if e is not None and np.isfinite(e.value):
            parts.append(f"{words} {e.value:.2f}")
    return "; ".join(parts)


def _differences(axes: "Axes", result: PairResult, _level: float) -> None:
    x, y, unit = result.sample.planar, result.sample.reference, result.units[1]
    cloud(axes, (x + y) / 2, x - y, result.rows["side"].to_numpy())
    tail = "" if result.sample.one_each else "_repeated"
    colour = BLACK if result.pair.same_quantity else GREY
    for statistic, style in (("bias", "-"), ("limit_lower", "--"), ("limit_upper", "--")):
        e = result.value(statistic + tail)
        if e is None or not np.isfinite(e.value):
            continue
        axes.axhline(e.value, color=colour, linestyle=style, linewidth=1.2)
        if np.isfinite(e.lower):
            axes.axhspan(e.lower, e.upper, color=SKY, alpha=0.25, linewidth=0)
        axes.annotate(
            f"{e.value:.1f}", (1.0, e.value), xycoords=("axes fraction", "data"), ha="right", va="bottom", fontsize=8
        )
    title = "Differences" if result.pair.same_quantity else "Differences (not one quantity)"
    titled(axes, title, label("mean of both", unit), label("planar minus reference", unit))


def _scatter(axes: "Axes", result: PairResult, level: float) -> None:
    x, y = result.sample.planar, result.sample.reference
    cloud(axes, x, y, result.rows["side"].to_numpy())
    slope, intercept = (result.value(n) for n in ("slope", "intercept"))
    if slope is not None and intercept is not None and np.isfinite(slope.value):
        at = np.linspace(x.min(), x.max(), 60)
        middle = intercept.value + slope.value * at
        half = prediction_half_width(x, y, at, result.sample.participants, level)
        axes.plot(at, middle, color=BLACK, linewidth=1.3, label="line of prediction")
        if np.isfinite(half).all():
            axes.plot(
                at,
                middle - half,
                color=BLACK,
                linewidth=0.9,
                linestyle=":",
                label=f"{100 * level:.0f} % prediction, new person",
            )
            axes.plot(at, middle + half, color=BLACK, linewidth=0.9, linestyle=":")
    if result.pair.same_quantity and result.units[0] == result.units[1]:
        ends = np.array([min(x.min(), y.min()), max(x.max(), y.max())])
        axes.plot(ends, ends, color=GREY, linewidth=1, linestyle="-.", label="equality")
    words = _in_brackets("r =", result.value("pearson_r")) or "no correlation defined"
    titled(axes, words, label(result.pair.planar, result.units[0]), label(result.pair.reference, result.units[1]))
    axes.legend(fontsize=7, loc="best")


def _roc(axes: "Axes", result: PairResult, _level: float) -> None:
    found = result.roc
    if found is None:
        return
    sensitivity, specificity = found.points[:, 0], found.points[:, 1]
    axes.plot(1 - specificity, sensitivity, color=BLUE, linewidth=1.4, drawstyle="steps-post")
    axes.plot([0, 1], [0, 1], color=GREY, linewidth=0.8, linestyle=":")
    axes.plot(
        1 - specificity[found.best],
        sensitivity[found.best],
        "o",
        color=BLACK,
        label=f"best: {found.threshold[found.best]:.1f}",
    )
    corrected = [result.value(f"{n}_best_corrected") for n in ("sensitivity", "specificity")]
    if all(e is not None for e in corrected):
        high, spared = (e.value for e in corrected if e is not None)
        axes.plot(
            1 - spared, high, "o", markerfacecolor="none", markeredgecolor=BLACK, label="best, optimism taken off"
        )
    given = result.value("threshold_given")
    if found.given is not None and given is not None:
        axes.plot(1 - found.given[1], found.given[0], "^", color=ORANGE, label=f"screen's own: {given.value:g}")
    titled(axes, _in_brackets("ROC, area", result.value("auc")) or "ROC", "1 - specificity", "sensitivity")
    axes.set_aspect("equal")
    axes.legend(fontsize=7, loc="lower right")


def _in_brackets(words: str, e: Estimate | None) -> str:
    if e is None or not np.isfinite(e.value):
        return ""
    ends = f" [{e.lower:.2f}, {e.upper:.2f}]" if np.isfinite(e.lower) else ""
    return f"{words} {e.value:.2f}{ends}"


def camera_figure(values: pd.DataFrame, table: pd.DataFrame, measure: str, name: str) -> str:
    """How one measure moves with the camera's place: a line a repetition, and their mean with its interval."""
    moves = [m for m in dict.fromkeys(table["moved"]) if ((table["moved"] == m) & (table["measure"] == measure)).any()]
    with drawn(len(moves), width=3.4, height=3.1) as (figure, axes):
        for place, moved in zip(axes[0], moves, strict=True):
            _moves(place, values, table, measure, str(moved))
            titled(place, "", PLACES[str(moved)], label(f"change of {measure}", "deg"))
        rows = table[(table["measure"] == measure) & (table["statistic"] == "slope")]
        return svg(figure, name, "; ".join(f"{measure}: {r.value:.2f} {r.unit}" for r in rows.itertuples()))


def _moves(axes: "Axes", values: pd.DataFrame, table: pd.DataFrame, measure: str, moved: str) -> None:
    rows = values[(values["measure"] == measure) & (values["moved"] == moved)]
    keys = ["task", "participant", "session", "trial", "side", "repetition"]
    wide = rows.pivot(index=keys, columns="at", values="value").dropna()
    found = table[(table["measure"] == measure) & (table["moved"] == moved) & (table["statistic"] == "mean_change")]
    home = found.loc[found["value"].abs() < 1e-12, "at"]
    base = float(home.iloc[0]) if len(home) else float(wide.columns[0])
    shown = wide.iloc[:: max(1, len(wide) // 120)]
    axes.plot(wide.columns, (shown.sub(shown[base], axis=0)).to_numpy().T, color=SKY, linewidth=0.5, alpha=0.6)
    for k, (_, of_task) in enumerate(found.groupby("task", sort=False)):
        axes.plot(of_task["at"], of_task["value"], color=BLACK, linewidth=1.4, linestyle=("-", "--", ":")[k % 3])
        axes.fill_between(of_task["at"], of_task["lower"], of_task["upper"], color=GREY, alpha=0.3, linewidth=0)
    axes.axhline(0, color=GREY, linewidth=0.7)


def curve_figure(curve: CurvePair, name: str) -> str:
    """Bias with its simultaneous band, and limits, over the repetition."""
    with drawn(1, width=6.4, height=3.2) as (figure, axes):
        place = axes[0, 0]
        place.fill_between(
            curve.percent,
            curve.limits[:, 0],
            curve.limits[:, 1],
            color=SKY,
            alpha=0.3,
            linewidth=0,
            label="limits of agreement",
        )
        place.fill_between(
            curve.percent,
            curve.band[:, 0],
            curve.band[:, 1],
            color=BLUE,
            alpha=0.4,
            linewidth=0,
            label="band of the mean course",
        )
        place.plot(curve.percent, curve.bias, color=BLACK, linewidth=1.4, label="bias")
        place.axhline(0, color=GREY, linewidth=0.8, linestyle=":")
        place.axvline(50, color=GREY, linewidth=0.8, linestyle="--")
        titled(
            place,
            f"{curve.planar} minus {curve.reference}",
            "repetition (%; 0 start, 50 bottom, 100 end)",
            "difference (deg)",
        )
        place.legend(fontsize=7, ncols=3)
        worst = float(np.abs(curve.bias).max())
        return svg(
            figure,
            name,
            f"{curve.planar} minus {curve.reference} over the repetition; largest bias {worst:.1f} degrees",
        )


def misreading_figure(table: pd.DataFrame, name: str) -> str:
    """The two misreadings over the sweep of the rule's limits: all sizes of travel."""
    rows = table[
        (table["band"] == "all") & table["misreading"].isin(["hip_blamed_for_pelvis", "hip_not_blamed_for_hip"])
    ]
    kinds = list(dict.fromkeys(rows["misreading"]))
    with drawn(len(kinds) or 1, width=5.2, height=3.4) as (figure, axes):
        for place, kind in zip(axes[0], kinds, strict=False):
            _shares(place, rows[rows["misreading"] == kind])
            titles = {
                "hip_blamed_for_pelvis": "3D says pelvis, planar says hip",
                "hip_not_blamed_for_hip": "3D says hip, planar does not",
            }
            titled(place, titles[kind], "medial travel from which the rule calls (mm)", "share of repetitions (%)")
            place.set_ylim(-3, 103)
            place.legend(fontsize=7, title="path angle from", title_fontsize=7)
        return svg(figure, name, "; ".join(_share_words(rows, kind) for kind in kinds))


def _shares(axes: "Axes", rows: pd.DataFrame) -> None:
    styles = [(BLUE, "-", "o"), (ORANGE, "--", "^"), (BLACK, ":", "s"), (SKY, "-.", "D")]
    swept = rows[rows["swept"]]
    for k, (angle, of_angle) in enumerate(swept.groupby("path_angle_deg", sort=True)):
        colour, line, marker = styles[k % len(styles)]
        nudge = (k - 1) * 0.6  # so that intervals do not hide one another
        share, low, high = (100 * of_angle[n].to_numpy(dtype=float) for n in ("share", "lower", "upper"))
        ends: Any = np.nan_to_num(np.abs(np.stack([share - low, high - share])))
        look: Any = {
            "color": colour,
            "linestyle": line,
            "marker": marker,
            "markersize": 4,
            "capsize": 2,
            "linewidth": 1.1,
        }
        axes.errorbar(of_angle["travel_mm"] + nudge, share, ends, label=f"{angle:g} deg", **look)


def _share_words(rows: pd.DataFrame, kind: str) -> str:
    share = rows.loc[rows["misreading"] == kind, "share"].dropna()
    return (
        f"{kind.replace('_', ' ')}: {100 * share.min():.0f} to {100 * share.max():.0f} % over the rules"
        if len(share)
        else f"{kind}: none"
    )
