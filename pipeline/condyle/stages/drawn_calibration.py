"""Calibration under errors: what misplaced landmarks and wrong hip centres would have made of the standing trial."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.landmark_error import drawn_frames, kind_of, misplaced, normals
from condyle.stages.calibration_choices import calibration_choices
from condyle.stages.causes import Limits

CARRIED_BY = [SEGMENTS.index(JOINT_SEGMENTS[j][0]) for j in JOINTS]
_PELVIS = SEGMENTS.index("pelvis")


class DrawnCalibration(NamedTuple):
    """What a standing trial with misplaced landmarks would have taught; the first draw is the one without errors."""

    turn: FloatArray  # (draw, 8, 3, 3) drawn axes in the nominal segment
    joint: FloatArray  # (draw, 6, 3) joint centres in the nominal segment that carries them
    mid_asis: FloatArray  # (draw, 3) in the nominal pelvis
    rotation: FloatArray  # (draw, 8, 3, 3) in the standing trial
    static_joint: FloatArray  # (draw, 6, 3)


def with_nominal(errors: FloatArray) -> FloatArray:
    """Errors (draw, ...) with a first draw that has none."""
    return np.concatenate([np.zeros((1, *errors.shape[1:])), errors])


def drawn_calibration(trial: xr.Dataset, sds: Limits, scale: float, seed: int, draws: int) -> DrawnCalibration:
    """The standing trial once as it is and once for each draw of misplaced landmarks and hip centres."""
    choices = calibration_choices(trial)
    axes = trial.variables["static_pose"].values
    landmarks = {}
    for name, place in choices.landmarks.items():
        own = axes[SEGMENTS.index(LANDMARK_SEGMENT[name])]
        own = own if np.isfinite(own).all() else np.eye(3)
        wrong = misplaced(name, place, own, sds[f"{kind_of(name)}_mm"].value * scale, seed, draws)
        landmarks[name] = np.concatenate([place[None], wrong])
    hip = sds["hip_centre_mm"].value * scale * normals(seed, "hip centre", (draws, 2, 3))
    body = drawn_frames(
        landmarks,
        with_nominal(hip),
        *(choices.hip_shift, choices.sizes, choices.hip_method, choices.shank_kind, choices.fixed),
    )
    nominal, start = body.rotation[0], body.origin[0]
    moved = np.einsum("kji,dkj->dki", nominal[CARRIED_BY], body.joint - body.joint[0])
    names = [str(n) for n in trial.variables["body_point"].values]
    table = trial.variables["calibrated_point"].values
    joint = np.stack([table[s, names.index(j)] for s, j in zip(CARRIED_BY, JOINTS, strict=True)])
    middle = np.einsum("ji,dj->di", nominal[_PELVIS], body.origin[:, _PELVIS] - start[_PELVIS])
    return DrawnCalibration(transposed(nominal) @ body.rotation, joint + moved, middle, body.rotation, body.joint)
