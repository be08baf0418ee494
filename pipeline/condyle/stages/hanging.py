"""Segments that hang on a joint centre: what is wrong with the segment above goes into them, draw by draw."""

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_SEGMENTS, JOINTS, SEGMENTS
from condyle.mechanics.arrays import FloatArray, IntArray, transposed
from condyle.mechanics.landmark_error import fit_response, turn_of
from condyle.stages.body import ABOVE_FIRST, measured_points, model_of, tracking_names


def follow_the_segment_above(
    trial: xr.Dataset,
    frames: IntArray,
    centres: FloatArray,
    slip: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Add to the slip of each hanging segment what a wrong joint centre above it does to its fit, from above down.

    ``centres`` (draw, 6, 3) mm: the joint centres where each draw's calibration puts them in the segment that carries
    them, the draw without errors first. ``slip``: rotation vectors (draw, frame, 8, 3) [rad] and shifts (draw, frame, 8, 3)
    [mm] in the segments' frames, changed in place, and the centres (8, 3) they turn about. The calibrated model of the
    hanging segment moves with the same wrong centre, so only what differs from the standing trial pulls at the fit.
    """
    vector, shift, middle = slip
    names_of = tracking_names(trial)
    pose, standing = trial.variables["pose"].values[frames], trial.variables["static_pose"].values
    point, joint = (trial.variables[n].values[frames] for n in ("point", "joint_centre"))
    for segment in ABOVE_FIRST:
        names = names_of[segment]
        model = model_of(trial, segment, names)
        hooks = [n for n in names if n in JOINTS]
        if not hooks or len(names) < 3:
            continue
        k = SEGMENTS.index(segment)
        seen = np.isfinite(measured_points(trial, names, point, joint)).all(axis=-1, keepdims=True)
        points = np.where(seen, model, np.nan)
        moved = np.zeros((len(vector), len(frames), len(names), 3))
        for name in hooks:
            above, j = SEGMENTS.index(JOINT_SEGMENTS[name][0]), JOINTS.index(name)
            arm = centres[:, j] - middle[above]
            slipped = np.einsum("dfij,dj->dfi", turn_of(vector[:, :, above]), arm) + shift[:, :, above]
            now = np.einsum("fij,dfj->dfi", transposed(pose[:, k]) @ pose[:, above], slipped - arm[0])
            taught = (centres[:, j] - centres[0, j]) @ (standing[k].T @ standing[above]).T
            moved[:, :, names.index(name)] = np.nan_to_num(now - taught[:, None])
        turn, way = fit_response(points, moved)
        vector[:, :, k] += np.nan_to_num(turn)
        shift[:, :, k] += np.nan_to_num(way)
