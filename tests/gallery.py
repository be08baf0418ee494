"""The gallery of the sample movements: ``python -m tests.gallery`` draws docs/pictures/gallery/NAME.svg and docs/gallery.md.

Each movement is simulated without errors on the markers, written as C3D, and processed by the shipped stages; the pictures show
what came out: the leg from the front at start and bottom, and the contributions to the change of FPPA.
"""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from condyle.body_names import AXES, JOINT_ANGLES, JOINTS, SEGMENTS
from condyle.sample import MOVEMENTS, Movement, Options, build_person, matched_pair, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.session import compute, plan

DOCS = Path(__file__).parents[1] / "docs"
PICTURES = DOCS / "pictures" / "gallery"
PIPELINE = (
    "stages: [read, check, fill, filter, calibrate, pose, angles, repetitions, measures, contributions]\n"  # no report
)
SHORT = {"sagittal": "the squat itself", "pelvis_rotation": "pelvis rotation", "pelvis_obliquity": "pelvis obliquity"}
DARK, LIGHT = "#1b4965", "#9fb4c0"
STYLE = {"svg.hashsalt": "condyle", "svg.fonttype": "none", "font.family": "sans-serif", "font.size": 8}


def movements() -> dict[str, Movement]:
    """Every movement of the sample by name, and the two of the matched pair."""
    return {**MOVEMENTS, **{m.name: m for m in matched_pair()}}


def processed(movement: Movement, folder: Path) -> xr.Dataset:
    """One squat of the right leg, after all stages."""
    options = Options.ideal(timing=Timing(repetitions=1, tempo_spread=0.0))
    session = simulate_session(build_person("MR01"), {movement.name: [("right", movement)]}, options)
    (folder / "pipeline.yaml").parent.mkdir(parents=True, exist_ok=True)
    (folder / "pipeline.yaml").write_text(PIPELINE)
    write_session(folder, session, marker_set="clusters_full_body", pipeline="pipeline.yaml")
    result = compute(plan(folder))
    assert not result.rejected, result.complaints()
    return result.trials[movement.name].trial


def row_of(trial: xr.Dataset) -> int:
    """The right leg's row (a squat on both legs has two)."""
    return [str(s) for s in trial["repetition_side"].values].index("right")


def contributions_of(trial: xr.Dataset) -> dict[str, float]:
    """Source and value of the account of FPPA, from above."""
    row, account = row_of(trial), [str(a) for a in trial["account"].values].index("fppa")
    values = trial["contribution"].values[row, account]
    return {str(s): float(v) for s, v in zip(trial["source"].values, values, strict=True) if np.isfinite(v)}


def words_of(trial: xr.Dataset) -> tuple[str, str, str]:
    """Cause, account that it explains, and the account from below, as they stand in repetitions.csv."""
    row = row_of(trial)
    return tuple(str(trial[f"repetition_{n}"].values[row]) for n in ("cause", "explains", "from_below"))  # type: ignore[return-value]


def frontal(points: np.ndarray[Any, Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Seen from the front: the participant's right is on the picture's left."""
    return -points[..., AXES.index("z")], points[..., AXES.index("y")]


def draw_leg(axes: Axes, trial: xr.Dataset) -> None:
    """Both hips, the right leg and the trunk's line at the start (light) and at the bottom (dark); the knee's path."""
    row = row_of(trial)
    start, bottom = (int(trial[f"repetition_{n}"].values[row]) for n in ("start", "bottom"))
    centre = trial["joint_centre"].values
    chain = [JOINTS.index(n) for n in ("hip_l", "hip_r", "knee_r", "ankle_r")]
    neck = trial["origin"].values[:, SEGMENTS.index("trunk")]
    for frame, colour, width in ((start, LIGHT, 2.0), (bottom, DARK, 2.6)):
        leg = centre[frame, chain]
        axes.plot(*frontal(leg), "-o", color=colour, linewidth=width, markersize=3.5)
        axes.plot(*frontal(np.stack([leg[:2].mean(axis=0), neck[frame]])), color=colour, linewidth=width)
    axes.plot(*frontal(centre[start : bottom + 1, JOINTS.index("knee_r")]), ":", color="#c25e00", linewidth=1.6)
    axes.set_aspect("equal")
    axes.margins(0.12)
    axes.axis("off")


def draw_parts(axes: Axes, parts: dict[str, float]) -> None:
    """A bar per source."""
    names = [SHORT.get(n, n.replace("_", " ").replace("internal ", "")) for n in parts]
    values = [round(v, 1) + 0.0 for v in parts.values()]
    bars = axes.barh(range(len(parts)), values, 0.6, color=DARK)
    axes.bar_label(bars, [f"{v:.1f}" for v in values], padding=2, fontsize=7)
    axes.set_yticks(range(len(parts)), names)
    axes.invert_yaxis()
    axes.axvline(0, color="#444444", linewidth=0.8)
    axes.set_xlim(-30, 48)
    axes.set_xlabel("degrees of FPPA, start to bottom")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def picture(trial: xr.Dataset) -> Figure:
    """The leg from the front, and what made its FPPA."""
    figure = Figure(figsize=(5.6, 2.5), layout="constrained")
    leg, parts = figure.subplots(1, 2, width_ratios=(1.0, 1.6))
    draw_leg(leg, trial)
    draw_parts(parts, contributions_of(trial))
    return figure


def entry(movement: Movement, trial: xr.Dataset) -> str:
    """The movement's part of the page."""
    cause, explains, below = words_of(trial)
    angle = trial["angle"].values[:, 1, JOINT_ANGLES.index("fppa")]
    start, bottom = (int(trial[f"repetition_{n}"].values[row_of(trial)]) for n in ("start", "bottom"))
    change = angle[bottom] - angle[start]
    words = movement.words
    return (
        f"## {movement.name}\n\n{words[0].upper()}{words[1:]}.\n\n"
        f"![{movement.name}: FPPA changes by {change:.1f} degrees; cause {cause}](pictures/gallery/{movement.name}.svg)\n\n"
        f"FPPA changes by {change:.1f} degrees; cause `{cause}`, which explains `{explains}`; from below `{below}`.\n"
    )


def page(entries: Sequence[str]) -> str:
    """docs/gallery.md: what stands before the first generated entry is kept."""
    text = (DOCS / "gallery.md").read_text(encoding="utf-8")
    return text.partition("## ")[0] + "\n".join(entries)


def main() -> None:
    """Simulate, process, draw, write."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    entries = []
    with tempfile.TemporaryDirectory() as place, mpl.rc_context(STYLE):
        for name, movement in movements().items():
            trial = processed(movement, Path(place) / name)
            picture(trial).savefig(PICTURES / f"{name}.svg", metadata={"Date": None})
            entries.append(entry(movement, trial))
            print(name, *words_of(trial))
    (DOCS / "gallery.md").write_text(page(entries), encoding="utf-8")


if __name__ == "__main__":
    main()
