"""The leg as flat views see it: frontal, in the pelvis' own plane, and through a virtual camera."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.path import path_angle
from condyle.mechanics.projection import (
    AHEAD,
    Side,
    camera_picture,
    camera_sight,
    frontal_picture,
    own_frontal_picture,
    projection_angle,
    readable,
    shown_share,
)
from condyle.mechanics.rotations import rotation_y
from condyle.stages.accounts import SIGN, Row
from condyle.stages.causes import Limits
from condyle.stages.measured_points import landmark, marker

SHOWN_IN = {view: f"leg_shown_{view}_at_bottom" for view in ("pelvis_plane", "asis", "camera")}


class View(NamedTuple):
    """The leg at the start and at the bottom of each repetition of one side, by the heading of its bout."""

    hip: FloatArray  # (repetition, 2, 3) mm, the height counted from the floor
    knee: FloatArray
    ankle: FloatArray
    kneecap: FloatArray  # the patella, or the knee centre where that is not seen
    asis: FloatArray
    pelvis: FloatArray  # (repetition, 3, 3) axes at the bottom


def view_of(trial: xr.Dataset, rows: list[Row], sole_mm: float) -> tuple[View, BoolArray]:
    """The points of the view, and in which repetitions the patella was view."""
    frames, tail = np.array([[r.start, r.bottom] for r in rows]), f"_{rows[0].side[0]}"
    back = rotation_y(-np.deg2rad(trial.variables["heading_deg"].values[frames]))
    joint = trial.variables["joint_centre"].values[frames]
    own = [joint[:, :, JOINTS.index(f"{n}{tail}")] for n in ("hip", "knee", "ankle")]
    markers = [marker(trial, f"patella{tail}")[frames], landmark(trial, f"asis{tail}")[frames]]
    points = np.einsum("rfij,rfpj->prfi", back, np.stack([*own, *markers], axis=2))
    points[..., 1] -= floor_under(trial, frames[:, 0], tail, sole_mm)[:, None]
    hip, knee, ankle, patella, asis = points
    with_patella: BoolArray = np.asarray(np.isfinite(patella).all(axis=(1, 2)))
    kneecap = np.where(with_patella[:, None, None], patella, knee)
    pelvis = back[:, 1] @ trial.variables["pose"].values[frames[:, 1], SEGMENTS.index("pelvis")]
    return View(hip, knee, ankle, kneecap, asis, pelvis), with_patella


def planar_measures(view: View, name: str, limits: Limits, least_shown: float) -> dict[str, FloatArray]:
    """Planar measures (repetition,) of one side; ``least_shown``: share of a segment's length, 0 to 1.

    An angle is given where its own view shows enough of the segments that it is drawn on.
    """
    side: Side = "left" if name == "left" else "right"
    leg = np.stack([view.hip, view.knee, view.ankle])
    low = leg[:, :, 1]
    from_asis = np.stack([view.asis[:, 1], *low[1:]])
    distance, focal_length = limits["camera_distance_mm"].value, limits["camera_focal_length_mm"].value
    height, yaw = limits["camera_height_mm"].value, np.deg2rad(limits["camera_yaw_deg"].value)
    filmed = camera_picture(
        np.concatenate([leg, view.kneecap[None]]), view.ankle[:, :1], distance, height, yaw, focal_length
    )
    sight = camera_sight(0.5 * (low[:-1] + low[1:]), view.ankle[:, 0], distance, height, yaw)
    views = {
        "pelvis_plane": (own_frontal_picture(low, view.pelvis), low, view.pelvis[..., :, 0]),
        "asis": (frontal_picture(from_asis), from_asis, AHEAD),
        "camera": (filmed[:3, :, 1], low, sight),
    }
    path = np.diff(filmed[3], axis=1)[:, 0] * distance / focal_length
    medial, down = -SIGN[name] * path[:, 0], path[:, 1]
    out = {"kneecap_camera_travel": medial, "kneecap_camera_path_angle": path_angle(medial, down)}
    out["leg_shown_at_bottom"] = 100.0 * shown_share(low[:-1], low[1:]).min(axis=0)
    for of_view, (picture, points, along) in views.items():
        shares, (upper, middle, lower) = shown_share(points[:-1], points[1:], along), picture
        angle = readable(projection_angle(upper, middle, lower, side), shares[0], shares[1], least_shown)
        out |= {f"fppa_{of_view}_at_bottom": np.rad2deg(angle), SHOWN_IN[of_view]: 100.0 * shares.min(axis=0)}
    return out


def floor_under(trial: xr.Dataset, start: IntArray, tail: str, sole_mm: float) -> FloatArray:
    """Height of the floor at these frames: ``sole_mm`` below the lowest marker of the stance foot."""
    names = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
    heights = np.stack([landmark(trial, f"{n}{tail}")[start, 1] for n in names])
    lowest = np.where(np.isnan(heights), np.inf, heights).min(axis=0)
    return np.where(np.isfinite(lowest), lowest - sole_mm, 0.0)
