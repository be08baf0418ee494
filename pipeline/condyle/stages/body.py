"""What several stages ask of a trial: its landmarks, its tracking points, its sizes."""

from collections.abc import Callable

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINT_SEGMENTS, JOINTS, LANDMARKS, SEGMENTS
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rigid_fit import RigidFit, rigid_fit
from condyle.mechanics.standing_body import Sizes
from condyle.trial_data import labels_along

# A segment hung on a joint centre needs the pose of the one above first.
ABOVE_FIRST = ("pelvis", "thigh_l", "thigh_r", "shank_l", "shank_r", "foot_l", "foot_r", "trunk")


def markers_of(trial: xr.Dataset) -> list[str]:
    """Names along ``marker``."""
    return list(labels_along(trial, "marker"))


def column_of(trial: xr.Dataset) -> dict[str, int]:
    """Marker name -> column."""
    return {name: i for i, name in enumerate(markers_of(trial))}


def label_of(trial: xr.Dataset, name: str) -> str:
    """The lab's label of a marker, for sentences; a joint centre is its own name."""
    columns = column_of(trial)
    return str(trial.variables["label"].values[columns[name]]) if name in columns else name


def tracking_names(trial: xr.Dataset) -> dict[str, list[str]]:
    """Segment -> its tracking points, markers and joint centres."""
    names = labels_along(trial, "body_point")
    table = trial.variables["tracking"].values
    return {segment: [names[k] for k in np.flatnonzero(table[i])] for i, segment in enumerate(SEGMENTS)}


def landmarks_of(point: FloatArray, names: list[str]) -> dict[str, FloatArray]:
    """The anatomical landmarks among (..., marker, 3), where at least one sample was seen."""
    known = set(LANDMARKS)
    return {n: point[..., i, :] for i, n in enumerate(names) if n in known and not np.isnan(point[..., i, :]).all()}


def sizes_of(trial: xr.Dataset, asis_depth: float | None = None, psis_depth: float | None = None) -> Sizes:
    """What was measured on the participant, from the trial's identity, and the skin depths given."""

    def pair(name: str) -> tuple[float | None, float | None]:
        return tuple(trial.attrs.get(f"measured_{name}_{t}_mm") for t in "lr")  # type: ignore[return-value]

    one = trial.attrs.get
    return Sizes(
        leg_length=pair("leg_length"),
        knee_width=pair("knee_width"),
        ankle_width=pair("ankle_width"),
        inter_asis=one("measured_inter_asis_mm"),
        marker_diameter=one("measured_marker_diameter_mm"),
        asis_depth=asis_depth,
        psis_depth=psis_depth,
    )


def measured_points(trial: xr.Dataset, names: list[str], point: FloatArray, joint: FloatArray) -> FloatArray:
    """Positions (time, len(names), 3) of markers and, where a name is a joint's, of joint centres already placed."""
    columns = column_of(trial)
    out = np.full((point.shape[0], len(names), 3), np.nan)
    marker = [(k, columns[n]) for k, n in enumerate(names) if n in columns]
    centre = [(k, JOINTS.index(n)) for k, n in enumerate(names) if n not in columns]
    if marker:
        out[:, [k for k, _ in marker]] = point[:, [c for _, c in marker]]
    if centre:
        out[:, [k for k, _ in centre]] = joint[:, [c for _, c in centre]]
    return out


def model_of(trial: xr.Dataset, segment: str, names: list[str]) -> FloatArray:
    """Calibrated positions (len(names), 3) of these points in the segment's anatomical frame; NaN where not calibrated."""
    places = labels_along(trial, "body_point")
    table: FloatArray = trial.variables["calibrated_point"].values[SEGMENTS.index(segment)]
    return table[[places.index(n) for n in names]]


def place_segments(
    trial: xr.Dataset,
    point: FloatArray,
    segments: tuple[str, ...] = ABOVE_FIRST,
    sound: Callable[[str, RigidFit], RigidFit] | None = None,
) -> tuple[dict[str, RigidFit], FloatArray, BoolArray]:
    """Rigid fits of the segments from above down, the joint centres they carry, and which segments hang on another.

    Returns segment -> fit (participant_from_segment), joint centres (time, 6, 3) each by the segment above it (the hip by
    the pelvis, the knee by the thigh, the ankle by the shank), and (8,) True where a joint centre was a tracking point.
    ``sound`` may empty a segment's fit in some frames before anything else rests on it.
    """
    tracking = tracking_names(trial)
    joint = np.full((point.shape[0], len(JOINTS), 3), np.nan)
    fits: dict[str, RigidFit] = {}
    hung = np.zeros(len(SEGMENTS), dtype=bool)
    models: dict[str, tuple[list[str], FloatArray]] = {}
    alike: dict[int, list[str]] = {}  # segments of their own markers, by the number of these: fitted in one go
    for segment in segments:
        model = model_of(trial, segment, tracking[segment])
        names = [n for n, row in zip(tracking[segment], model, strict=True) if not np.isnan(row).any()]
        hung[SEGMENTS.index(segment)] = any(n in JOINTS for n in names)
        if len(names) >= 3:
            models[segment] = names, model[~np.isnan(model).any(axis=-1)]
            if not hung[SEGMENTS.index(segment)]:
                alike.setdefault(len(names), []).append(segment)
    for several in alike.values():
        measured = [measured_points(trial, models[s][0], point, joint) for s in several]
        together = rigid_fit(np.stack([models[s][1] for s in several]), np.stack(measured, axis=1))
        for k, segment in enumerate(several):
            rotation, translation, rms, n_points = together
            fits[segment] = RigidFit(rotation[:, k], translation[:, k], rms[:, k], n_points[:, k])
    for segment in (s for s in segments if s in models):
        if segment not in fits:
            names, model = models[segment]
            fits[segment] = rigid_fit(model, measured_points(trial, names, point, joint))
        if sound is not None:
            fits[segment] = sound(segment, fits[segment])
        for k, name in enumerate(JOINTS):
            if JOINT_SEGMENTS[name][0] == segment:
                local = model_of(trial, segment, [name])[0]
                joint[:, k] = fits[segment].translation + fits[segment].rotation @ local
    return fits, joint, hung


SHOULDERS = ("acromion_l", "acromion_r", "c7")


def shoulders_of(point: FloatArray, names: list[str]) -> FloatArray | None:
    """Left acromion, right acromion and C7 (..., 3, 3) of (..., marker, 3); None without both acromia."""
    if "acromion_l" not in names or "acromion_r" not in names:
        return None
    absent = np.full_like(point[..., 0, :], np.nan)
    return np.stack([point[..., names.index(n), :] if n in names else absent for n in SHOULDERS], axis=-2)


# Without a medial point and without a width these are not known: the lateral marker alone gives no axis.
NEEDS_KNEE = (
    *("hip_adduction", "hip_internal_rotation", "knee_adduction", "knee_internal_rotation"),
    *("thigh_axial_rotation", "fppa"),
)
NEEDS_ANKLE = ("knee_adduction", "knee_internal_rotation", "ankle_inversion", "ankle_internal_rotation", "fppa")


def unknown_angles(lateral_only: BoolArray) -> BoolArray:
    """(side, joint_angle) True for the angles that fall away, from (side, knee | ankle) ``lateral_only``."""
    knee, ankle = np.isin(JOINT_ANGLES, NEEDS_KNEE), np.isin(JOINT_ANGLES, NEEDS_ANKLE)
    needless = ~lateral_only.any(axis=1, keepdims=True) & np.isin(JOINT_ANGLES, "fppa_lateral_markers")
    return np.asarray((lateral_only[:, :1] & knee) | (lateral_only[:, 1:] & ankle) | needless)


def used_frames(trial: xr.Dataset) -> BoolArray | None:
    """(time,) True within ``use_s`` of the session file; None where it gives none."""
    if "use_s" not in trial.attrs:
        return None
    first, last = trial.attrs["use_s"]
    time = trial.variables["time"].values
    return np.asarray((time >= first) & (time <= last))


def given_frames(trial: xr.Dataset) -> IntArray | None:
    """(N, 3) start, bottom and end frames of ``repetitions_s`` of the session file; None where it gives none."""
    if "repetitions_s" not in trial.attrs:
        return None
    seconds = np.asarray(trial.attrs["repetitions_s"], dtype=float).reshape(-1, 3)
    frames: IntArray = np.rint(seconds * trial.attrs["rate_hz"]).astype(np.int64)
    return np.clip(frames, 0, trial.sizes["time"] - 1)
