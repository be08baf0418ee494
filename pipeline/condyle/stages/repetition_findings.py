"""What the stage `repetitions` has to say: squats cut off, gaps at the bottom."""

from collections.abc import Sequence

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS, SIDES
from condyle.findings import Finding, stretches
from condyle.mechanics.repetitions import Repetitions


def incomplete(trial: xr.Dataset, found: Repetitions, k: int, sides: Sequence[int]) -> Finding:
    """A squat whose start or end is not there: beyond the recording, or where the knee of these ``sides`` has no angle."""
    time = trial.variables["time"].values
    a, b, c = (float(time[i]) for i in found.frame[k])
    edges = {"start": int(found.frame[k][0]) - 1, "end": int(found.frame[k][2]) + 1}
    lost = [n for n, seen in (("start", found.start_seen[k]), ("end", found.end_seen[k])) if not seen]
    flexion = trial.variables["angle"].values[:, list(sides), JOINT_ANGLES.index("knee_flexion")]
    unseen = [n for n in lost if 0 <= edges[n] < len(time) and np.isnan(flexion[edges[n]]).any()]
    words = " and ".join(
        f"its {' and '.join(names)} {what}"
        for names, what in (
            ([n for n in lost if n not in unseen], "was not recorded"),
            (unseen, "lies where the knee's angle is not known (gaps, or frames without a sound fit)"),
        )
        if names
    )
    advice = f"the squat from {a:.2f} to {c:.2f} s is cut off: {words}; it is not measured."
    return Finding("incomplete repetition", f"squat at {b:.2f} s", b, None, "s", "review", advice, ((a, c),))


def gaps_found(trial: xr.Dataset) -> list[Finding]:
    """A row for every repetition that was not seen at its bottom: for how long, and when."""
    out, rate = [], float(trial.attrs["rate_hz"])
    lost = {
        "knee": np.isnan(trial.variables["angle"].values[:, :, JOINT_ANGLES.index("knee_flexion")]),
        "pelvis": np.isnan(trial.variables["origin"].values[:, SEGMENTS.index("pelvis"), 1])[:, None].repeat(2, axis=1),
    }
    names = ("number", "side", "findings", "start", "bottom_s", "end")
    for number, side, words, start, t, end in zip(
        *(trial.variables[f"repetition_{n}"].values.tolist() for n in names), strict=True
    ):
        for what in (w for w in words.split(";") if w):
            rest = (
                "what is seen is measured, peaks that the gap may hold are empty, and it is kept out of means"
                if what.startswith("knee")
                else ("what needs the pelvis there is empty, and so are peaks and ranges that the gap may hold")
            )
            frames = np.zeros(trial.sizes["time"], dtype=bool)
            frames[start : end + 1] = lost[what.split()[0]][start : end + 1, SIDES.index(side)]
            spent, when = float(frames.sum()) / rate, stretches(frames, rate)
            advice = (
                f"{what} ({t:.2f} s), for so long within the repetition; a value is never taken from a neighbouring frame, "
                f"so none may be missing there (ours): {rest}."
            )
            subject = f"repetition {number}, {side}"
            out.append(Finding(what, subject, spent, 0.0, "s", "review", advice, when))
    return out
