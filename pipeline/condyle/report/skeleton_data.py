"""What the moving skeleton needs of the trials, thinned to what the eye needs and packed into text."""

import base64
import json
from typing import Any

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS, SIDES
from condyle.mechanics.path import medial_frame
from condyle.report.results_read import Results

MOST_FRAMES = 2400  # of all trials together: some 0.8 MB of page
MOST_PER_SECOND = 25.0
MISSING = -32768
_MARKERS = (
    *(
        f"{n}_{s}"
        for n in ("asis", "psis", "acromion", "calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
        for s in "lr"
    ),
    *("sacrum", "c7", "jugular_notch"),
)
_MIDDLES = {
    "mid_hip": ("hip_l", "hip_r"),
    "mid_shoulder": ("acromion_l", "acromion_r"),
    "mid_psis": ("psis_l", "psis_r"),
}
LINES = (  # (from, to, side): bones and outlines, drawn where both ends are seen
    *((a, b, "") for a, b in (("asis_l", "asis_r"), ("psis_l", "psis_r"), ("asis_l", "psis_l"), ("asis_r", "psis_r"))),
    *((a, b, "") for a, b in (("hip_l", "hip_r"), ("mid_hip", "mid_shoulder"), ("acromion_l", "acromion_r"))),
    *((a, b, "") for a, b in (("c7", "mid_shoulder"), ("c7", "jugular_notch"))),
    *(
        (f"{a}_{s}", f"{b}_{s}", side)
        for side, s in (("left", "l"), ("right", "r"))
        for a, b in (
            *(("hip", "knee"), ("knee", "ankle"), ("ankle", "calcaneus"), ("calcaneus", "metatarsal_2")),
            *(("ankle", "metatarsal_2"), ("metatarsal_1", "metatarsal_5")),
        )
    ),
)


def skeleton_of(results: Results) -> dict[str, Any] | None:
    """Every trial's points, segment axes, two curves and repetitions; None where no trial has poses and angles."""
    names = [n for n in results.trial_names() if {"joint_centre", "angle"} <= set(results.trial(n).variables)]
    trials = [results.trial(n) for n in names]
    seconds = sum(float(np.ptp(t.variables["time"].values)) for t in trials)
    if not trials or seconds <= 0:
        return None
    rate = float(np.clip(MOST_FRAMES / seconds, 1.0, MOST_PER_SECOND))
    return {"trials": [_trial(name, trial, rate) for name, trial in zip(names, trials, strict=True)]}


def as_json(data: dict[str, Any]) -> str:
    """JSON that may stand inside a page: nothing in it can end the element it stands in."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _trial(name: str, trial: xr.Dataset, per_second: float) -> dict[str, Any]:
    time = trial.variables["time"].values
    wanted = np.arange(time[0], time[-1] + 1e-9, 1.0 / per_second)
    frames = np.clip(
        np.searchsorted(time, wanted - 0.5 * (time[1] - time[0] if time.size > 1 else 0.0)), 0, time.size - 1
    )
    names, points = _points(trial, frames)
    heading = (
        np.deg2rad(trial.variables["heading_deg"].values[frames]) if "heading_deg" in trial else np.zeros(frames.size)
    )
    place = {n: k for k, n in enumerate(names)}
    sides = _sides(trial)
    return {
        "name": name,
        "sides": sides,
        "start": round(float(time[frames[0]]), 4),
        "step": round(1.0 / per_second, 6),
        "count": int(frames.size),
        "points": names,
        "lines": [[place[a], place[b], side] for a, b, side in LINES if a in place and b in place],
        "data": _packed(_ahead(points, heading[:, None]), 1.0),
        "segments": [s for s in SEGMENTS],
        "origins": _packed(_ahead(trial.variables["origin"].values[frames], heading[:, None]), 1.0),
        "axes": _packed_small(
            _ahead(np.moveaxis(trial.variables["pose"].values[frames], -1, -2), heading[:, None, None])
        ),
        "curves": {
            side: {a: _packed(_angle(trial, side, a)[frames], 0.1) for a in ("knee_flexion", "fppa")} for side in sides
        },
        "repetitions": _repetitions(trial),
    }


def _points(trial: xr.Dataset, frames: np.ndarray[Any, Any]) -> tuple[list[str], np.ndarray[Any, Any]]:
    found = {j: trial.variables["joint_centre"].values[frames, k] for k, j in enumerate(JOINTS)}
    markers = [str(m) for m in trial.variables["marker"].values]
    found |= {m: trial.variables["point"].values[frames, markers.index(m)] for m in _MARKERS if m in markers}
    for name, (a, b) in _MIDDLES.items():
        if a in found and b in found:
            found[name] = 0.5 * (found[a] + found[b])
    if "c7" in found and "mid_shoulder" not in found:
        found["mid_shoulder"] = found["c7"]
    seen = {n: p for n, p in found.items() if np.isfinite(p).any()}
    return list(seen), np.stack(list(seen.values()), axis=1) if seen else np.zeros((frames.size, 0, 3))


def _ahead(vectors: np.ndarray[Any, Any], heading: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """Forward, up, right, along each frame's own heading: people who turn between bouts still face the viewer."""
    turned = np.array(medial_frame(vectors, "right", heading))
    turned[..., 2] *= -1.0  # medial of a right leg is to the left
    return turned


def _angle(trial: xr.Dataset, side: str, angle: str) -> np.ndarray[Any, Any]:
    angles = [str(a) for a in trial.variables["joint_angle"].values]
    return np.asarray(trial.variables["angle"].values[:, SIDES.index(side), angles.index(angle)])


def _sides(trial: xr.Dataset) -> list[str]:
    if "repetition_side" in trial and trial.sizes.get("repetition", 0):
        return sorted({str(s) for s in trial.variables["repetition_side"].values}, reverse=True)
    said = str(trial.attrs.get("side", ""))
    return [said] if said in SIDES else ["right", "left"]


def _repetitions(trial: xr.Dataset) -> list[list[Any]]:
    if "repetition_number" not in trial:
        return []
    start, bottom, end = (trial.variables[f"repetition_{n}_s"].values for n in ("start", "bottom", "end"))
    number, side = (trial.variables[f"repetition_{n}"].values for n in ("number", "side"))
    rows = zip(number, side, start, bottom, end, strict=True)
    return [[int(n), str(s), round(float(a), 3), round(float(b), 3), round(float(c), 3)] for n, s, a, b, c in rows]


def _packed(values: np.ndarray[Any, Any], unit: float) -> str:
    scaled = np.round(values / unit)
    seen = np.isfinite(scaled) & (np.abs(scaled) < 32767)
    return base64.b64encode(np.where(seen, np.nan_to_num(scaled), MISSING).astype("<i2").tobytes()).decode()


def _packed_small(values: np.ndarray[Any, Any]) -> str:
    """Unit vectors to 1/127; -128 is missing."""
    seen = np.isfinite(values)
    return base64.b64encode(
        np.where(seen, np.round(127.0 * np.nan_to_num(values)), -128).astype("i1").tobytes()
    ).decode()
