"""Which bouts of a trial are measured, on which sides: what was declared against what the feet did."""

import numpy as np
import xarray as xr

from condyle.body_names import SIDES
from condyle.findings import Finding

_WORDS = {"left": "on the left", "right": "on the right", "both": "on both legs"}


def bouts_to_measure(trial: xr.Dataset) -> tuple[list[tuple[int, tuple[int, ...], slice]], list[Finding]]:
    """Bout number, sides (0 left, 1 right) and frames of every bout that is measured; findings where they are not.

    A trial in which no bout is what was declared is rejected; where some are, the others are left out and said. Bouts that
    face away from the lab axis in use are left out too, as the stage pose has said.
    """
    found = [str(s) for s in trial.variables["bout_side"].values]
    declared, task = str(trial.attrs.get("side", "auto")), str(trial.attrs.get("task", "single_leg_squat"))
    rate = float(trial.attrs["rate_hz"])
    starts, stops = (
        np.rint(trial.variables[f"bout_{n}_s"].values * rate).astype(int).tolist() for n in ("start", "end")
    )
    faced = trial.variables["bout_faced"].values
    alike = [k for k, side in enumerate(found) if _as_declared(side, declared, task)]
    unlike = [side for k, side in enumerate(found) if k not in alike]
    kept = [(k + 1, _sides(found[k], declared), slice(starts[k], stops[k] + 1)) for k in alike if faced[k]]
    if not unlike:
        return kept, []
    sides = [_WORDS[s] for s in ("left", "right", "both") if s in unlike]
    words = f"squats {' and '.join(sides)}, declared {_declared(declared, task)}"
    if not alike:
        advice = f"{words}; the foot that stays still tells the leg: correct side or task in the session file."
        return [], [Finding("stance side", "file", None, None, "", "reject", advice)]
    advice = f"{len(unlike)} of {len(found)} bouts: {words}; not measured. Set side: auto to measure them too."
    return kept, [Finding("stance side", "file", float(len(unlike)), 0.0, "1", "review", advice)]


def _as_declared(side: str, declared: str, task: str) -> bool:
    if task == "double_leg_squat":
        return side == "both"
    if declared in ("auto", "both"):
        return side != "both"  # both: each leg in its turn
    return side == declared


def _sides(side: str, declared: str) -> tuple[int, ...]:
    if side != "both":
        return (SIDES.index(side),)
    return (SIDES.index(declared),) if declared in SIDES else (0, 1)


def _declared(declared: str, task: str) -> str:
    if task == "double_leg_squat" or declared not in SIDES:
        return task.replace("_", " ")
    return declared
