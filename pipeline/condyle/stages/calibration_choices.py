"""How a standing trial was calibrated, read back from its frames: what moves with a landmark, and what does not."""

from typing import NamedTuple, get_args

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.calibration import body_frames
from condyle.mechanics.standing_body import HipMethod, ShankKind, Sizes
from condyle.stages.body import landmarks_of, markers_of, sizes_of

_SAME_DEG = 0.5  # a thigh turned further than this from its epicondyles has a functional knee axis
_SAME_MM = 15.0  # a regression nearer than this is the one in use; the rest is skin depth


class Choices(NamedTuple):
    """What :func:`condyle.mechanics.landmark_error.drawn_frames` needs to know."""

    landmarks: dict[str, FloatArray]
    sizes: Sizes
    hip_method: HipMethod | None
    hip_shift: FloatArray
    shank_kind: ShankKind
    fixed: dict[str, FloatArray]


def calibration_choices(trial: xr.Dataset) -> Choices:
    """The regression and the kind of shank frame whose result is what the trial carries; functional where none is."""
    landmarks = landmarks_of(trial.variables["static_point"].values, markers_of(trial))
    sizes = sizes_of(trial)
    pose, hip = trial.variables["static_pose"].values, _static_hips(trial)
    methods: tuple[HipMethod, ...] = ("harrington_2007", "bell_1990", "hara_2016")
    found = {m: body_frames(landmarks, sizes, m) for m in methods}
    away = {m: _apart(found[m].joint[:2], hip) for m in methods}
    nearest = min(methods, key=lambda m: away[m])
    method: HipMethod | None = nearest if away[nearest] <= _SAME_MM else None
    fixed: dict[str, FloatArray] = {} if method else {"hip_l": hip[0], "hip_r": hip[1]}
    as_used = {"hip_l": hip[0], "hip_r": hip[1]}
    for tail in ("_l", "_r"):
        thigh = SEGMENTS.index(f"thigh{tail}")
        plain = body_frames(landmarks, sizes, "functional", functional=as_used).rotation[thigh]
        if _turn_deg(plain, pose[thigh]) > _SAME_DEG:
            fixed[f"knee_axis{tail}"] = pose[thigh][:, 2]
    kinds: tuple[ShankKind, ...] = get_args(ShankKind)
    given = as_used | {k: v for k, v in fixed.items() if k.startswith("knee")}
    turns = {k: _shank_turn(body_frames(landmarks, sizes, "functional", k, given).rotation, pose) for k in kinds}
    shift = hip - found[method].joint[:2] if method else np.zeros((2, 3))
    return Choices(landmarks, sizes, method, np.nan_to_num(shift), min(kinds, key=lambda k: turns[k]), fixed)


def _static_hips(trial: xr.Dataset) -> FloatArray:
    """Left and right hip centre (2, 3) in the standing trial."""
    pelvis = SEGMENTS.index("pelvis")
    names = [str(n) for n in trial.variables["body_point"].values]
    local = trial.variables["calibrated_point"].values[pelvis][[names.index(n) for n in JOINTS[:2]]]
    placed: FloatArray = (
        trial.variables["static_origin"].values[pelvis] + local @ trial.variables["static_pose"].values[pelvis].T
    )
    return placed


def _apart(a: FloatArray, b: FloatArray) -> float:
    distance = np.linalg.norm(a - b, axis=-1)
    known = distance[np.isfinite(distance)]
    return float(known.max()) if known.size else float("inf")


def _turn_deg(a: FloatArray, b: FloatArray) -> float:
    trace = np.trace(a.T @ b)
    return float(np.rad2deg(np.arccos(np.clip((trace - 1.0) / 2.0, -1.0, 1.0)))) if np.isfinite(trace) else 0.0


def _shank_turn(rotation: FloatArray, pose: FloatArray) -> float:
    return sum(_turn_deg(rotation[k], pose[k]) for k in (SEGMENTS.index("shank_l"), SEGMENTS.index("shank_r")))
