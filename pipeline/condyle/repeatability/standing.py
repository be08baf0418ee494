"""What the standing trial of one session says about where the markers were, and two of them made ready to compare."""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.bone_alignment import TwoSessions
from condyle.mechanics.landmark_error import NORMAL_AXIS, kind_of
from condyle.stages.calibration_choices import Choices, calibration_choices

ROUNDING_MM = 1.0  # ours: no camera and nobody standing is better than this


@dataclass(frozen=True)
class Standing:
    """Landmarks (3,) [mm] by name, segment axes (8, 3, 3), joint centres (6, 3) [mm] and angles (2, A) [deg], standing."""

    landmarks: dict[str, FloatArray]
    rotation: FloatArray
    joint: FloatArray
    angle: FloatArray
    choices: Choices


def standing_of(static: xr.Dataset) -> Standing:
    """From a calibrated standing trial."""
    choices = calibration_choices(static)
    landmarks = {n: p for n, p in choices.landmarks.items() if np.isfinite(p).all()}
    rotation = static.variables["static_pose"].values
    names = [str(n) for n in static.variables["body_point"].values]
    table, origin = static.variables["calibrated_point"].values, static.variables["static_origin"].values
    joint = np.full((len(JOINTS), 3), np.nan)
    for k, name in enumerate(JOINTS):
        carrier = SEGMENTS.index(JOINT_SEGMENTS[name][0])
        joint[k] = origin[carrier] + rotation[carrier] @ table[carrier, names.index(name)]
    return Standing(landmarks, rotation, joint, static.variables["static_angle"].values, choices)


def common_landmarks(first: Standing, second: Standing) -> list[str]:
    """Landmarks that both sessions have, on bones whose axes the first one knows."""
    known = [s for s, axes in zip(SEGMENTS, first.rotation, strict=True) if np.isfinite(axes).all()]
    return [n for n in first.landmarks if n in second.landmarks and LANDMARK_SEGMENT[n] in known]


def palpation_variance(name: str) -> FloatArray:
    """Variance (3,) [mm^2] of one placing of a landmark along its segment's axes, in the plane of the skin."""
    variance = np.full(3, _values("uncertainty")[f"{kind_of(name)}_mm"] ** 2)
    variance[NORMAL_AXIS[kind_of(name)]] = 0.0
    return variance


def other_variance(name: str) -> FloatArray:
    """Variance (3,) [mm^2] along the segment's axes from all else than palpation, on one day."""
    limits = _values("sessions_compared")
    variance = np.zeros(3)
    variance[NORMAL_AXIS[kind_of(name)]] = limits["across_skin_mm"] ** 2
    if kind_of(name) == "acromion":
        variance += limits["shoulder_blade_mm"] ** 2
    elif LANDMARK_SEGMENT[name] == "trunk":
        variance += limits["trunk_bending_mm"] ** 2
    return variance


def two_sessions(first: Standing, second: Standing, names: list[str], other_tester: bool) -> TwoSessions:
    """The landmarks ``names`` of two sessions with the spread of palpation and the joints between their bones."""
    limits = _values("sessions_compared")
    factor = _values("uncertainty")["examiner_factor"] if other_tester else 1.0
    bone = np.array([SEGMENTS.index(LANDMARK_SEGMENT[n]) for n in names])
    axes = first.rotation[bone]
    joints = [j for j, place in zip(JOINTS, second.joint, strict=True) if np.isfinite(place).all()]
    pairs = np.array([[SEGMENTS.index(s) for s in JOINT_SEGMENTS[j]] for j in joints]).reshape(-1, 2)
    hold = {
        "hip": [limits["hip_turn_deg"]] * 3,
        "knee": [limits["knee_turn_deg"], limits["knee_turn_deg"], limits["knee_flexion_deg"]],
        "ankle": [limits["ankle_turn_deg"]] * 3,
    }
    above = first.rotation[pairs[:, 0]]
    return TwoSessions(
        first=np.array([first.landmarks[n] for n in names]),
        second=np.array([second.landmarks[n] for n in names]),
        bones=len(SEGMENTS),
        bone=bone,
        palpation=_along(axes, 2.0 * factor**2 * np.array([palpation_variance(n) for n in names])),
        rest=_along(axes, 2.0 * np.array([other_variance(n) for n in names]) + ROUNDING_MM**2),
        joint=pairs,
        joint_place=np.array([second.joint[JOINTS.index(j)] for j in joints]).reshape(-1, 3),
        joint_sd=np.full(len(joints), limits["joint_mm"]),
        turn_axes=np.where(np.isfinite(above).all(axis=(1, 2))[:, None, None], above, np.eye(3)),
        turn_sd=np.deg2rad([hold[j[:-2]] for j in joints]).reshape(-1, 3),
    )


def _values(name: str) -> dict[str, float]:
    return {key: limit.value for key, limit in load_limits(name).items()}


def _along(axes: FloatArray, variance: FloatArray) -> FloatArray:
    """Covariances (P, 3, 3) of variances (P, 3) along axes (P, 3, 3)."""
    return np.asarray((axes * variance[:, None, :]) @ np.swapaxes(axes, -1, -2))
