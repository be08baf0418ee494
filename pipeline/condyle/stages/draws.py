"""Monte Carlo draws of a trial: the poses and joint centres that other landmarks and soft tissue would have given.

The first draw has no error: it is the trial as processed, and every deviation is counted from it.
"""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, LANDMARK_SEGMENT, SEGMENTS, SIDES
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.heading import heading_of, wrapped
from condyle.mechanics.landmark_error import (
    fit_response,
    kind_of,
    left_over,
    misplaced,
    normals,
    residual_turn,
    turn_of,
)
from condyle.mechanics.rotations import rotation_y
from condyle.stages.body import markers_of, model_of, tracking_names
from condyle.stages.causes import Limits
from condyle.stages.drawn_calibration import CARRIED_BY, DrawnCalibration, drawn_calibration, with_nominal
from condyle.stages.hanging import follow_the_segment_above

_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")
_PELVIS = SEGMENTS.index("pelvis")
_ASIS = ("asis_l", "asis_r")
_REBUILT = (1, 3)  # from the rigid cluster, from the pelvis ladder


class Draws(NamedTuple):
    """Everything with the draw first; frames are those asked for, seen by the heading of their bout in that draw."""

    rotation: FloatArray  # (draw, frame, 8, 3, 3)
    joint: FloatArray  # (draw, frame, 6, 3) mm
    mid_asis: FloatArray  # (draw, frame, 3) mm
    turn: FloatArray  # (draw, frame) [rad] by which every point was turned beyond the trial's own heading
    static_rotation: FloatArray  # (draw, 8, 3, 3) by the heading of the draw's own pelvis
    static_joint: FloatArray  # (draw, 6, 3) mm
    at_start: FloatArray  # (draw, bout) [rad] change of the heading by the pelvis at the start
    by_foot: FloatArray  # (draw, bout) [rad] change of the heading by the foot
    chosen: FloatArray  # (draw, bout) [rad] change of the heading in use, its own error left out
    wrong: FloatArray  # (draw, bout) [rad] error of straight ahead itself
    mislaid: dict[str, FloatArray]  # landmark with a marker -> (draw, 3) [mm] in the axes of its segment
    static_level: FloatArray  # (draw, 3, 3) what turns the standing trial to the heading of the draw's own pelvis


def draws_through(trial: xr.Dataset, frames: IntArray, sds: Limits, scale: float, seed: int, draws: int) -> Draws:
    """The trial at these frames, once as it is and once for each draw."""
    taught = drawn_calibration(trial, sds, scale, seed, draws)
    bout = _bout_of(trial, frames)
    own = np.deg2rad(trial.variables["heading_deg"].values)
    back = rotation_y(-own[frames])
    pose = back[:, None] @ trial.variables["pose"].values[frames]
    origin = np.einsum("fij,fsj->fsi", back, trial.variables["origin"].values[frames])
    vector, shift, centre, explained = _soft_tissue(trial, frames, sds, scale, seed, draws)
    vector += _residual(trial, frames, explained, seed, draws) * scale + _repair(trial, frames, seed, draws)
    follow_the_segment_above(trial, frames, taught.joint, (vector, shift, centre))
    slipped = turn_of(vector)
    at_start, by_foot = _heading_changes(trial, taught)
    chosen = _chosen_change(trial, at_start, by_foot)
    noise = [normals(seed, f"heading {trial.attrs['trial']} {b}", (draws,)) for b in range(trial.sizes["bout"])]
    wrong = np.deg2rad(sds["heading_deg"].value * scale) * np.stack(noise, axis=1) if noise else np.empty((draws, 0))
    wrong = with_nominal(wrong)
    turn = -(chosen + wrong)[:, bout]
    about = rotation_y(turn)
    # the carrying segment's origin, its slipped axes, then the centre where the draw's calibration puts it
    k = CARRIED_BY
    local = centre[k] + np.einsum("dfkij,dkj->dfki", slipped[:, :, k], taught.joint - centre[k]) + shift[:, :, k]
    joint = origin[:, k] + np.einsum("fkij,dfkj->dfki", pose[:, k], local)
    asis = centre[_PELVIS] + np.einsum("dfij,dj->dfi", slipped[:, :, _PELVIS], taught.mid_asis - centre[_PELVIS])
    asis = origin[:, _PELVIS] + np.einsum("fij,dfj->dfi", pose[:, _PELVIS], asis + shift[:, :, _PELVIS])
    level = rotation_y(-heading_of(taught.rotation[:, _PELVIS]))
    return Draws(
        rotation=about[:, :, None] @ (pose @ slipped @ taught.turn[:, None]),
        joint=np.einsum("dfij,dfkj->dfki", about, joint),
        mid_asis=np.einsum("dfij,dfj->dfi", about, asis),
        turn=turn,
        static_rotation=level[:, None] @ taught.rotation,
        static_joint=np.einsum("dij,dkj->dki", level, taught.static_joint),
        at_start=at_start,
        by_foot=by_foot,
        chosen=chosen,
        wrong=wrong,
        mislaid=_mislaid(trial, sds, scale, seed, draws),
        static_level=level,
    )


def _mislaid(trial: xr.Dataset, sds: Limits, scale: float, seed: int, draws: int) -> dict[str, FloatArray]:
    """The same misplacement as in the calibration, for markers whose own place is measured."""
    return {
        name: with_nominal(
            misplaced(name, np.zeros(3), np.eye(3), sds[f"{kind_of(name)}_mm"].value * scale, seed, draws)
        )
        for name in markers_of(trial)
        if name in LANDMARK_SEGMENT
    }


def _soft_tissue(
    trial: xr.Dataset, frames: IntArray, sds: Limits, scale: float, seed: int, draws: int
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Rotation vectors and shifts (draw, frame, 8, 3) of markers on segments, and the centre (8, 3) they turn about.

    Common to all repetitions, in proportion to the knee flexion beyond standing; the pelvis follows the stance leg. The
    last is the residual (frame,) that sliding ASIS markers leave in the pelvis' fit by themselves.
    """
    vector = np.zeros((draws + 1, len(frames), len(SEGMENTS), 3))
    shift, centre = np.zeros_like(vector), np.zeros((len(SEGMENTS), 3))
    flexion = (
        trial.variables["angle"].values[frames][:, :, _KNEE_FLEXION]
        - trial.variables["static_angle"].values[:, _KNEE_FLEXION]
    )
    # a knee straighter than in standing has slid back beyond where it was calibrated: a negative share
    share = np.nan_to_num(flexion) / sds["soft_tissue_at_deg"].value
    tracking = tracking_names(trial)
    for segment, names in tracking.items():
        points = model_of(trial, segment, names)
        if names and np.isfinite(points).any():
            centre[SEGMENTS.index(segment)] = np.nanmean(points, axis=0)
    twist, tilt = sds["thigh_twist_deg"].value, sds["thigh_tilt_deg"].value
    sizes = {
        "thigh": (np.deg2rad([tilt, twist, tilt]), sds["thigh_shift_mm"].value),
        "shank": (np.full(3, np.deg2rad(sds["shank_turn_deg"].value)), sds["shank_shift_mm"].value),
    }
    for s, side in enumerate(SIDES):
        for segment, (turn, mm) in sizes.items():
            name = f"{segment}_{side[0]}"
            k, grown = SEGMENTS.index(name), share[:, s][None, :, None]
            vector[1:, :, k] = grown * (scale * turn * normals(seed, f"turn {name}", (draws, 3)))[:, None]
            shift[1:, :, k] = grown * (scale * mm * normals(seed, f"shift {name}", (draws, 3)))[:, None]
    mm = scale * sds["asis_shift_mm"].value
    vector[1:, :, _PELVIS], shift[1:, :, _PELVIS], explained = _pelvis_follows(trial, frames, share, mm, seed, draws)
    return vector, shift, centre, explained


def _pelvis_follows(
    trial: xr.Dataset, frames: IntArray, share: FloatArray, mm: float, seed: int, draws: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """How the pelvis' fit follows ASIS markers that slide on the bone, and the residual (frame,) that this leaves.

    A marker that was rebuilt does not slide.
    """
    names = [n for n in tracking_names(trial)["pelvis"] if n not in JOINTS]
    columns = [trial.variables["marker"].values.tolist().index(n) for n in names]
    if len(names) < 3:
        return np.zeros((draws, len(frames), 3)), np.zeros((draws, len(frames), 3)), np.zeros(len(frames))
    points = np.broadcast_to(model_of(trial, "pelvis", names), (len(frames), len(names), 3)).copy()
    rebuilt = (
        np.isin(trial.variables["filled"].values[frames][:, columns], _REBUILT)
        if "filled" in trial
        else np.zeros(points.shape[:2], bool)
    )
    lost = rebuilt | np.isnan(trial.variables["point"].values[frames][:, columns, 0])
    points[lost] = np.nan
    stance = share[np.arange(len(frames)), _stance_side(trial, frames)]
    moved = np.zeros((draws, len(frames), len(names), 3))
    for k, name in enumerate(names):
        if name in _ASIS:
            moved[:, :, k] = stance[None, :, None] * (mm * normals(seed, f"slide {name}", (draws, 3)))[:, None]
    turn, shift = fit_response(points, moved)
    turn, shift = np.nan_to_num(turn), np.nan_to_num(shift)
    rest = left_over(points, moved, turn, shift)
    return turn, shift, np.sqrt((rest**2).mean(axis=0))


def _residual(trial: xr.Dataset, frames: IntArray, explained: FloatArray, seed: int, draws: int) -> FloatArray:
    """Rotation vectors (draw, frame, 8, 3) as uncertain as each frame's residual says.

    What sliding ASIS markers already explain of the pelvis' residual is not counted twice.
    """
    out = np.zeros((draws + 1, len(frames), len(SEGMENTS), 3))
    rms = trial.variables["fit_rms"].values[frames].copy()
    rms[:, _PELVIS] = np.sqrt(np.clip(rms[:, _PELVIS] ** 2 - explained**2, 0.0, None))
    noise = normals(seed, f"residual {trial.attrs['trial']}", (draws, len(frames), len(SEGMENTS), 3))
    for segment, names in tracking_names(trial).items():
        k = SEGMENTS.index(segment)
        if len(names) >= 3:
            out[1:, :, k] = residual_turn(model_of(trial, segment, names), rms[:, k], noise[:, :, k])
    return out


def _repair(trial: xr.Dataset, frames: IntArray, seed: int, draws: int) -> FloatArray:
    """Rotation vectors of the pelvis where it was rebuilt, as wrong as the repair's own test came out."""
    out = np.zeros((draws + 1, len(frames), len(SEGMENTS), 3))
    if "pelvis_rung" not in trial:
        return out
    rung = trial.variables["pelvis_rung"].values[frames]
    noise = normals(seed, f"repair {trial.attrs['trial']}", (draws, len(frames), 3))
    for step in (1, 2):
        error = float(trial.attrs.get(f"pelvis_repair_error_deg_{step}", 0.0))
        out[1:, :, _PELVIS] += np.where((rung == step)[:, None], noise * np.deg2rad(error) / np.sqrt(3.0), 0.0)
    return out


def _heading_changes(trial: xr.Dataset, taught: DrawnCalibration) -> tuple[FloatArray, FloatArray]:
    """How each way of telling straight ahead changes with the draw's calibration (draw, bout)."""
    count, pose = trial.sizes["bout"], trial.variables["pose"].values
    at_start, by_foot = np.zeros((len(taught.turn), count)), np.zeros((len(taught.turn), count))
    time, names = trial.variables["time"].values, [str(s) for s in trial.variables["bout_side"].values]
    for b in range(count):
        first, last = np.searchsorted(time, [trial.variables[f"stance_{n}_s"].values[b] for n in ("start", "end")])
        frame = int(first + last) // 2
        at_start[:, b] = _yaw_change(pose[frame, _PELVIS], taught.turn[:, _PELVIS])
        feet = [SEGMENTS.index(f"foot_{t}") for t in ("lr" if names[b] == "both" else names[b][0])]
        for foot in feet:
            moved = _yaw_change(pose[frame, foot], taught.turn[:, foot])
            pelvis, standing = heading_of(taught.rotation[:, _PELVIS]), heading_of(taught.rotation[:, foot])
            apart = wrapped(pelvis - standing)
            by_foot[:, b] += (moved + wrapped(apart - apart[0])) / len(feet)
    return np.nan_to_num(at_start), by_foot


def _yaw_change(pose: FloatArray, turn: FloatArray) -> FloatArray:
    heading = heading_of(pose @ turn)
    return wrapped(heading - heading[0])


def _chosen_change(trial: xr.Dataset, at_start: FloatArray, by_foot: FloatArray) -> FloatArray:
    way = str(trial.attrs.get("anterior", "pelvis_at_start"))
    if way == "static_pelvis_by_foot":
        return np.where(np.isnan(by_foot), at_start, by_foot)
    return at_start if way == "pelvis_at_start" else np.zeros_like(at_start)


def _bout_of(trial: xr.Dataset, frames: IntArray) -> IntArray:
    starts = np.searchsorted(trial.variables["time"].values, trial.variables["bout_start_s"].values)
    return np.maximum(np.searchsorted(starts, frames, side="right") - 1, 0)


def _stance_side(trial: xr.Dataset, frames: IntArray) -> IntArray:
    """0 left, 1 right for each frame; with both feet on the floor the right one."""
    side = np.array([0 if s == "left" else 1 for s in trial.variables["bout_side"].values.tolist()])
    return side[_bout_of(trial, frames)]
