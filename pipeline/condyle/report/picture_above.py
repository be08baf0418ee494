"""Seen from above: how pelvis, thigh and foot are turned at start and bottom, and where the centre of mass is."""

from typing import TYPE_CHECKING, Any

import numpy as np

from condyle.report.absent import mass_words, not_drawn
from condyle.report.drawing import GREY, INK, SIDE_STYLE, Picture, margins
from condyle.report.legs import Leg
from condyle.report.repetition_frames import Frames, points_of, repetitions_in, typical
from condyle.report.results_read import Results
from condyle.report.words import joined, number

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import FigureBase

Points = dict[str, np.ndarray[Any, Any]]
MASS_QUESTION = "Does the centre of mass stay over the foot?"


def axes_picture(results: Results, legs: list[Leg], name: str) -> Picture | None:
    """Pelvis, thigh and foot of a typical repetition of each leg, at start and bottom."""
    found = [typical(results, leg) for leg in legs]
    shown = [(leg, f, _start_and_bottom(results, leg, f)) for leg, f in zip(legs, found, strict=True) if f]
    if not shown:
        return None
    height = 3.75
    absent = not_drawn(legs, [f is not None for f in found], "its trial was")

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(1, len(shown), squeeze=False)[0]
        margins(figure, (width, tall), left=0.6, top=0.32, bottom=0.72, across=0.5, grid=(1, len(shown)))
        for panel, (leg, frames, points) in zip(axes, shown, strict=True):
            _turned(panel, leg, points)
            panel.set_title(f"{leg.side.capitalize()} leg, repetition {frames.number}")
            panel.set_xlabel("medial + (mm)")
        axes[0].set_ylabel("forward + (mm)")
        _legend(figure)

    return Picture(
        name,
        "How are pelvis, thigh and foot turned, seen from above?",
        " ".join(_said_turned(leg) for leg, _, _ in shown),
        height,
        draw,
        "The counted repetition nearest to the median. Dashed and grey: start; solid: bottom. Pelvis: its right-left axis "
        "with a tick to the front; thigh: hip to knee centre with the knee's axis across; foot: heel to second metatarsal. "
        f"To the right is medial for both legs. {absent}".strip(),
    )


def mass_picture(results: Results, legs: list[Leg], name: str) -> Picture | None:
    """The centre of mass against the stance foot through every counted repetition."""
    found = [_mass_paths(results, leg) for leg in legs]
    shown = [(leg, paths) for leg, paths in zip(legs, found, strict=True) if paths]
    if not shown:
        return None
    height = 3.2
    note = [
        "Centre of mass of the whole body seen from above, in the frame of the stance foot (line from heel to second "
        "metatarsal).",
        mass_words(results, legs) or "Segment masses: de Leva 1996, J Biomech 29:1223.",
        not_drawn(legs, [bool(paths) for paths in found], "the centre of mass over its foot was"),
    ]

    def draw(figure: "FigureBase", width: float, tall: float) -> None:
        axes = figure.subplots(1, len(shown), squeeze=False)[0]
        margins(figure, (width, tall), left=0.6, top=0.32, bottom=0.72, across=0.5, grid=(1, len(shown)))
        for panel, (leg, paths) in zip(axes, shown, strict=True):
            _mass(panel, leg, paths)
            panel.set_title(f"{leg.side.capitalize()} leg")
            panel.set_xlabel("medial of the foot's line + (mm)")
        axes[0].set_ylabel("in front of the heel + (mm)")
        _legend_mass(figure)

    return Picture(
        name,
        MASS_QUESTION,
        " ".join(_said_mass(leg, paths) for leg, paths in shown),
        height,
        draw,
        " ".join(words for words in note if words),
    )


def _start_and_bottom(results: Results, leg: Leg, frames: Frames) -> list[Points]:
    trial = results.trial(frames.trial)
    return [points_of(trial, leg.side, slice(k, k + 1), frames.heading_deg) for k in (frames.start, frames.bottom)]


def _turned(axes: "Axes", leg: Leg, both: list[Points]) -> None:
    from matplotlib.patheffects import withStroke

    heel = both[0]["heel"][0] if np.isfinite(both[0]["heel"]).all() else both[0]["ankle"][0]
    origin = np.where(np.isfinite(heel), heel, 0.0)

    def flat(point: np.ndarray[Any, Any]) -> tuple[float, float]:
        return float(point[0, 2] - origin[2]), float(point[0, 0] - origin[0])

    looks: tuple[dict[str, Any], ...] = (
        {"color": GREY, "lw": 1.3, "ls": (0, (4, 2))},
        {"color": SIDE_STYLE[leg.side]["color"], "lw": 2.2, "ls": "-"},
    )
    for points, look in zip(both, looks, strict=True):
        left, right = flat(points["pelvis_left"]), flat(points["pelvis_right"])
        axes.plot(*zip(left, right, strict=True), **look)
        middle = np.mean([left, right], axis=0)
        across = np.array(right) - np.array(left)
        front = np.array([-across[1], across[0]]) * (1 if across[0] * (1 if leg.side == "left" else -1) > 0 else -1)
        ahead = middle + 0.22 * front * (1 if front[1] > 0 else -1)
        axes.plot(*zip(middle, ahead, strict=True), **{**look, "lw": 1.1})
        axes.plot(*zip(flat(points["hip"]), flat(points["knee"]), strict=True), marker="o", ms=3.5, mfc="white", **look)
        axes.plot(*zip(flat(points["thigh_left"]), flat(points["thigh_right"]), strict=True), **{**look, "lw": 1.1})
        axes.plot(
            *zip(flat(points["heel"]), flat(points["metatarsal"]), strict=True), marker="s", ms=3, mfc="white", **look
        )
    bottom = both[1]
    free_end = "pelvis_left" if leg.side == "right" else "pelvis_right"  # away from thigh and foot
    for words, point, offset, ha, va in (
        ("pelvis", bottom[free_end], (0, -4), "center", "top"),
        ("knee", bottom["knee"], (7, 2), "left", "bottom"),
        ("foot", bottom["heel"], (0, -5), "center", "top"),
    ):
        if np.isfinite(point).all():
            label = axes.annotate(words, flat(point), offset, textcoords="offset points", ha=ha, va=va, fontsize=7.2,
                                  color=INK, zorder=5)  # fmt: skip
            label.set_path_effects([withStroke(linewidth=2.5, foreground="white")])
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.1)


def _legend(figure: "FigureBase") -> None:
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], color=GREY, lw=1.3, ls=(0, (4, 2)), label="start"),
        Line2D([], [], color=INK, lw=2.2, label="bottom"),
        Line2D([], [], color=INK, marker="o", ms=3.5, mfc="white", lw=1, label="hip to knee"),
        Line2D([], [], color=INK, marker="s", ms=3, mfc="white", lw=1, label="heel to second metatarsal"),
    ]
    figure.legend(handles=handles, loc="lower center", ncols=4, borderaxespad=0.2)


def _said_turned(leg: Leg) -> str:
    parts = [
        f"{words} {number(found.value, 0)} degrees"
        for words, measure in (
            ("the pelvis turns (this side forward)", "pelvis_rotation_change"),
            ("the thigh turns inward", "thigh_axial_rotation_change"),
            ("the ankle turns inward", "ankle_internal_rotation_change"),
        )
        if (found := leg.measure(measure)).known
    ]
    said = f"start to bottom, {joined(parts)}" if parts else "turning was not measured"
    return f"{leg.side.capitalize()} leg: {said}."


def _mass_paths(results: Results, leg: Leg) -> list[Points]:
    """Per repetition: the centre of mass and the foot's points in the foot's frame, (frames, 2) medial and ahead."""
    out = []
    for frames in repetitions_in(results, leg):
        trial = results.trial(frames.trial)
        points = points_of(trial, leg.side, slice(frames.start, frames.end + 1), frames.heading_deg)
        heel, toe, mass = (points[n][:, [2, 0]] for n in ("heel", "metatarsal", "centre_of_mass"))
        if not (np.isfinite(mass).any() and np.isfinite(heel).any() and np.isfinite(toe).any()):
            continue
        ahead = toe - heel
        length = np.linalg.norm(ahead, axis=1, keepdims=True)
        ahead = ahead / length
        aside = np.stack([ahead[:, 1], -ahead[:, 0]], axis=1)
        offset = mass - heel
        path = np.stack([(offset * aside).sum(axis=1), (offset * ahead).sum(axis=1)], axis=1)
        out.append({"path": path, "foot": length, "bottom": np.array([frames.bottom - frames.start])})
    return out


def _mass(axes: "Axes", leg: Leg, paths: list[Points]) -> None:
    colour = SIDE_STYLE[leg.side]["color"]
    foot = float(np.nanmedian(np.concatenate([p["foot"] for p in paths])))
    axes.fill([-38, -30, -42, -22, 12, 40, 46, 30, -30], np.array([0.0, -0.12, 0.75, 1.18, 1.38, 1.3, 0.85, -0.12, -0.16]) * foot,
              color="#e9edf1", lw=0)  # fmt: skip
    axes.plot([0, 0], [0, foot], color=GREY, lw=1.2, marker="s", ms=3.5, mfc="white")
    for p in paths:
        axes.plot(*p["path"].T, color=colour, lw=0.7, alpha=0.7)
        for k, marker in ((0, "o"), (int(p["bottom"][0]), "v")):
            axes.plot(*p["path"][k], marker=marker, ls="", ms=5, color=INK, mfc="white", mew=1.0)
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.12)


def _legend_mass(figure: "FigureBase") -> None:
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], color=INK, ls="", marker="o", ms=5, mfc="white", label="start"),
        Line2D([], [], color=INK, ls="", marker="v", ms=5, mfc="white", label="bottom"),
        Line2D([], [], color=GREY, lw=1.2, marker="s", ms=3.5, mfc="white", label="heel to second metatarsal"),
    ]
    figure.legend(handles=handles, loc="lower center", ncols=3, borderaxespad=0.2)


def _said_mass(leg: Leg, paths: list[Points]) -> str:
    start, bottom = leg.measure("com_offset_start"), leg.measure("com_offset_bottom")
    if not (start.known and bottom.known):
        return f"{leg.side.capitalize()} leg: the centre of mass was not measured."
    return (  # both known: the frames at the bottoms are, too
        f"{leg.side.capitalize()} leg: the centre of mass is {_where(start.value)} of the foot's line at the start and "
        f"{_where(bottom.value)} at the bottom, there {_along(paths)}."
    )


def _where(offset: float) -> str:
    return f"{number(abs(offset), 0)} mm {'medial' if offset >= 0 else 'lateral'}"


def _along(paths: list[Points]) -> str:
    """How far along the foot the bottoms lie, on the average."""
    at_bottom = np.array([[p["path"][k, 1], p["foot"][k, 0]] for p in paths for k in p["bottom"].tolist()])
    ahead, foot = at_bottom[np.isfinite(at_bottom).all(axis=1)].mean(axis=0)
    if ahead < 0:
        return f"{number(-ahead, 0)} mm behind the heel"
    if ahead > foot:
        return f"{number(ahead - foot, 0)} mm before the second metatarsal"
    return f"{number(ahead, 0)} mm in front of the heel"
