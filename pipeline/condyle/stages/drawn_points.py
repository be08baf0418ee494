"""Where every draw puts the points that are measured: centres as it calibrates them, markers as it mislays them."""

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.arrays import FloatArray, IntArray, transposed
from condyle.mechanics.centre_of_mass import centre_of_mass
from condyle.mechanics.path import medial_frame
from condyle.mechanics.rotations import rotation_y
from condyle.stages.body import SHOULDERS, markers_of, shoulders_of
from condyle.stages.draws import Draws
from condyle.stages.measured_points import NAMES, landmark, mass_points, measured_points, sex_of

_CENTRES = {"hip": "hip", "knee": "knee", "knee_in_view": "knee", "ankle": "ankle", "ankle_centre": "ankle"}
_MARKERS = {"patella": "patella", "lateral_epicondyle": "lateral_epicondyle", "heel": "calcaneus"}
_MARKERS |= {"metatarsal": "metatarsal_2"}


def drawn_points(trial: xr.Dataset, side: str, draws: Draws, frames: IntArray) -> dict[str, FloatArray]:
    """Points (draw, frame, 3) forward, up, medial; NaN where the trial has none."""
    tail, about = f"_{side[0]}", _about(trial, draws, frames)
    seen = measured_points(trial, side).position[frames]
    turned = np.einsum("dfij,fpj->dfpi", about, seen)
    out = {name: turned[:, :, k] for k, name in enumerate(NAMES)}
    for name, stem in _MARKERS.items():
        out[name] = out[name] + _mislaid(draws, f"{stem}{tail}")
    out["shoulders"] = out["shoulders"] + 0.5 * (_mislaid(draws, "acromion_l") + _mislaid(draws, "acromion_r"))
    points = {n: draws.joint[:, :, k] for k, n in enumerate(JOINTS)}
    for name, place in mass_points(trial).items():
        points[name] = np.einsum("dfij,fj->dfi", about, place[frames]) + _mislaid(draws, name)
    out["centre_of_mass"] = centre_of_mass(points, sex_of(trial)).position
    for name in (*_CENTRES, "pelvis"):
        place = draws.joint[:, :, JOINTS.index(f"{_CENTRES[name]}{tail}")] if name in _CENTRES else draws.mid_asis
        missing = np.isnan(out[name]).all(axis=(0, -1)).reshape(-1, 1)
        out[name] = np.where(missing, np.nan, place)
    return {name: medial_frame(place, side) for name, place in out.items()}


def drawn_landmark(trial: xr.Dataset, name: str, draws: Draws, frames: IntArray) -> FloatArray:
    """A landmark (draw, frame, 3) in the participant frame of each draw."""
    seen = np.einsum("dfij,fj->dfi", _about(trial, draws, frames), landmark(trial, name)[frames])
    return np.asarray(seen + _mislaid(draws, name))


def drawn_asis(trial: xr.Dataset, tail: str, draws: Draws, frames: IntArray) -> FloatArray:
    """The ASIS (draw, frame, 3): fixed in the pelvis, and so slid with it as its soft tissue slides in each draw."""
    here = np.einsum("fij,fj->fi", _about(trial, draws, frames)[0], landmark(trial, f"asis{tail}")[frames])
    pelvis = draws.rotation[:, :, SEGMENTS.index("pelvis")]
    local = np.einsum("fji,fj->fi", pelvis[0], here - draws.mid_asis[0])
    beside = _mislaid(draws, f"asis{tail}") - 0.5 * (_mislaid(draws, "asis_l") + _mislaid(draws, "asis_r"))
    return np.asarray(draws.mid_asis + np.einsum("dfij,fj->dfi", pelvis, local) + beside)


def drawn_shoulders(trial: xr.Dataset, draws: Draws, frames: IntArray) -> FloatArray | None:
    """Left acromion, right acromion, C7 (draw, frame, 3, 3); None without both acromia."""
    shoulders = shoulders_of(trial.variables["point"].values[frames], markers_of(trial))
    if shoulders is None:
        return None
    seen = np.einsum("dfij,fpj->dfpi", _about(trial, draws, frames), shoulders)
    return np.asarray(seen + np.stack([_mislaid(draws, n) + np.zeros_like(seen[:, :, 0]) for n in SHOULDERS], axis=2))


def drawn_static_shoulders(trial: xr.Dataset, draws: Draws) -> FloatArray | None:
    """The same in the standing trial (draw, 3, 3), by the heading of each draw's own pelvis."""
    shoulders = shoulders_of(trial.variables["static_point"].values, markers_of(trial))
    if shoulders is None:
        return None
    axes = _or_upright(draws.static_rotation[:, SEGMENTS.index("trunk")])
    wrong = np.stack([draws.mislaid.get(n, np.zeros((*axes.shape[:1], 3))) for n in SHOULDERS], axis=1)
    return np.asarray(np.einsum("dij,pj->dpi", draws.static_level, shoulders) + wrong @ transposed(axes))


def _about(trial: xr.Dataset, draws: Draws, frames: IntArray) -> FloatArray:
    """What turns a point of the trial into each draw's participant frame (draw, frame, 3, 3)."""
    return rotation_y(draws.turn - np.deg2rad(trial.variables["heading_deg"].values)[frames])


def _mislaid(draws: Draws, name: str) -> FloatArray:
    """How far a landmark's marker lies from where it should (draw, frame, 3), carried by its segment; 0 without it."""
    if name not in draws.mislaid:
        return np.zeros(3)
    axes = _or_upright(draws.rotation[:, :, SEGMENTS.index(LANDMARK_SEGMENT[name])])
    return np.asarray(np.einsum("dfij,dj->dfi", axes, draws.mislaid[name]))


def _or_upright(axes: FloatArray) -> FloatArray:
    """A segment without a pose is taken as upright: only for the size of an error."""
    return np.where(np.isfinite(axes).all(axis=(-1, -2), keepdims=True), axes, np.eye(3))
