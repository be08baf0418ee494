"""How high each foot is and how fast it moves: what tells the foot that stands."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.mechanics.arrays import FloatArray
from condyle.stages.body import landmarks_of, markers_of, model_of
from condyle.trial_data import labels_along


class Feet(NamedTuple):
    """Left and right foot, (time, 2) each: mm/s, mm, mm/s."""

    level_speed: FloatArray  # of one point, seen from above
    height: FloatArray  # of the same point
    forefoot_speed: FloatArray  # NaN where the foot has no pose or no metatarsals

    def standing_speed(self, rate_hz: float) -> FloatArray:
        """Speed (time, 2) of the stiller of both points."""
        if len(self.height) < 2:
            return np.zeros_like(self.height)
        climb = np.gradient(self.height, 1.0 / rate_hz, axis=0)
        return np.asarray(np.fmin(np.hypot(self.level_speed, climb), self.forefoot_speed))


def feet_of(trial: xr.Dataset, point: FloatArray, pose: FloatArray, origin: FloatArray, joint: FloatArray) -> Feet:
    """Both feet from points (time, marker, 3), poses and origins of segments and joint centres, y up."""
    foot = _foot_point(trial, point, origin, joint)
    step = np.gradient(foot, 1.0 / trial.attrs["rate_hz"], axis=0) if len(foot) > 1 else np.zeros_like(foot)
    return Feet(np.hypot(step[..., 0], step[..., 2]), foot[..., 1], _forefoot_speed(trial, pose, origin))


def _foot_point(trial: xr.Dataset, point: FloatArray, origin: FloatArray, joint: FloatArray) -> FloatArray:
    """One point per foot (time, 2, 3): the foot's origin, else the mean of its markers, else the ankle centre."""
    out = np.empty((point.shape[0], 2, 3))
    seen = landmarks_of(point, markers_of(trial))
    for s, tail in enumerate(("_l", "_r")):
        foot = origin[:, SEGMENTS.index(f"foot{tail}")]
        if np.isnan(foot).all() and f"calcaneus{tail}" in seen:
            foot = seen[f"calcaneus{tail}"]
        out[:, s] = joint[:, JOINTS.index(f"ankle{tail}")] if np.isnan(foot).all() else foot
    return out


def _forefoot_speed(trial: xr.Dataset, pose: FloatArray, origin: FloatArray) -> FloatArray:
    """Speed (time, 2) of the middle of the metatarsals as the foot carries them; NaN where it has no pose or none of them."""
    out = np.full((len(pose), 2), np.nan)
    names = labels_along(trial, "body_point")
    for s, tail in enumerate(("_l", "_r")):
        foot = f"foot{tail}"
        known = [n for k in (1, 2, 5) if (n := f"metatarsal_{k}{tail}") in names]
        places = model_of(trial, foot, known)
        places = places[np.isfinite(places).all(axis=-1)]
        if len(places) and len(pose) > 1:
            k = SEGMENTS.index(foot)
            course = origin[:, k] + pose[:, k] @ places.mean(axis=0)
            out[:, s] = np.linalg.norm(np.gradient(course, 1.0 / trial.attrs["rate_hz"], axis=0), axis=-1)
    return out
