"""The knee's axis turned on request: the thigh frame about its long axis, wherever the trial holds it."""

from typing import Any

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINT_SEGMENTS, JOINTS, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import transposed
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.crosstalk import crosstalk_angle
from condyle.mechanics.rotations import rotation_y
from condyle.trial_data import put

_OF_THE_THIGH = np.array([n.startswith(("hip_", "knee_", "thigh_")) for n in JOINT_ANGLES])


def knee_axes_turned(trial: xr.Dataset) -> tuple[xr.Dataset, list[Finding]]:
    """The trial with each thigh turned so that knee adduction varies least with flexion, and by how much.

    Pose, standing pose and the points in the thigh's own frame turn together, so that every later stage sees one thigh.
    """
    pose, static = trial.variables["pose"].values.copy(), trial.variables["static_pose"].values.copy()
    local = trial.variables["calibrated_point"].values.copy()
    findings: list[Finding] = []
    for side in SIDES:
        thigh, shank = (SEGMENTS.index(f"{n}_{side[0]}") for n in ("thigh", "shank"))
        angle = float(crosstalk_angle(transposed(pose[:, thigh]) @ pose[:, shank]))
        if not np.isfinite(angle):
            continue
        turn = rotation_y(np.asarray(angle))
        pose[:, thigh], static[thigh], local[thigh] = pose[:, thigh] @ turn, static[thigh] @ turn, local[thigh] @ turn
        advice = "the thigh was turned by this much about its long axis; hip and knee rotation changed by as much."
        value = float(np.rad2deg(angle))
        findings.append(Finding("knee axis corrected", f"thigh_{side[0]}", value, None, "deg", "review", advice))
    if not findings:
        advice = "no knee bends far enough in this trial to tell its axis; nothing was corrected."
        return trial, [Finding("knee axis corrected", "file", None, None, "deg", "review", advice)]
    values: dict[str, Any] = {"pose": pose, "static_pose": static, "calibrated_point": local}
    return put(trial, **values, static_angle=_static_angle(trial, static, local)), findings


def _static_angle(trial: xr.Dataset, pose: np.ndarray, local: np.ndarray) -> np.ndarray:
    """Angles of the standing trial with the turned thighs; what has no thigh in it stays."""
    names = [str(n) for n in trial.variables["body_point"].values]
    origin = trial.variables["static_origin"].values
    joint = np.stack([_carried(pose, origin, local, n, names.index(n)) for n in JOINTS])
    fresh = all_angles(pose, joint, None)
    old = trial.variables["static_angle"].values
    return np.where(_OF_THE_THIGH & ~np.isnan(old), fresh, old)


def _carried(pose: np.ndarray, origin: np.ndarray, local: np.ndarray, joint: str, column: int) -> np.ndarray:
    upper = SEGMENTS.index(JOINT_SEGMENTS[joint][0])
    return np.asarray(origin[upper] + pose[upper] @ local[upper, column])
