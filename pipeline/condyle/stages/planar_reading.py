"""What a kneecap-only view would have said of each repetition, and whether the three-dimensional cause agrees."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.path import path_angle
from condyle.mechanics.projection import (
    Side,
    camera_picture,
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
from condyle.vocabulary import JOINTS, SEGMENTS, SIDES

# the part that a view of the kneecap alone usually blames for its reading
BLAMES = {"knee_in": "at_the_hip", "knee_out": "at_the_hip", "straight": "none"}
_SOLE_MM = 25.0  # height of the lowest foot marker over the floor (ours): the camera's height counts from the floor


class PlanarReading(NamedTuple):
    """One repetition: what was read in the frontal view and through the camera, and the planar measures."""

    frontal: str
    camera: str
    kneecap: str  # what was followed: patella, else knee (its centre), else lateral_epicondyle
    measures: dict[str, float]


def planar_readings(
    trial: xr.Dataset, rows: list[Row], measured: list[dict[str, float]], limits: Limits, least_shown: float
) -> list[PlanarReading]:
    """The reading of every repetition; ``measured`` holds its measures by name, ``least_shown`` is a share, 0 to 1."""
    out: dict[int, PlanarReading] = {}
    for side in {r.side for r in rows}:
        mine = [k for k, r in enumerate(rows) if r.side == side]
        seen, with_patella = _seen(trial, [rows[k] for k in mine])
        planar = _planar_measures(seen, side, limits, least_shown)
        knee_only, ankle_only = trial.variables["lateral_only"].values[SIDES.index(side)].tolist()
        if knee_only or ankle_only:  # FPPA of whatever kind stands on centres
            planar |= {name: np.full(len(mine), np.nan) for name in planar if name.startswith("fppa")}
        knee = "lateral_epicondyle" if knee_only else "knee"
        for place, k in enumerate(mine):
            kneecap = "patella" if with_patella[place] else knee
            own = {name: float(values[place]) for name, values in planar.items()}
            out[k] = _reading(measured[k], own, kneecap, limits)
    return [out[k] for k in range(len(rows))]


def _reading(measured: dict[str, float], planar: dict[str, float], kneecap: str, limits: Limits) -> PlanarReading:
    turns = measured[f"{kneecap}_reversals"], measured[f"{kneecap}_path_ratio"]
    flat = measured[f"{kneecap}_travel"], measured[f"{kneecap}_path_angle_descent"], measured["fppa_at_bottom"]
    seen = planar["kneecap_camera_travel"], planar["kneecap_camera_path_angle"], planar["fppa_camera_at_bottom"]
    return PlanarReading(_read(flat, turns, limits), _read(seen, turns, limits), kneecap, planar)


class _Seen(NamedTuple):
    """The leg at the start and at the bottom of each repetition of one side, by the heading of its bout."""

    hip: FloatArray  # (repetition, 2, 3) mm, the height counted from the floor
    knee: FloatArray
    ankle: FloatArray
    kneecap: FloatArray  # the patella, or the knee centre where that is not seen
    asis: FloatArray
    pelvis: FloatArray  # (repetition, 3, 3) axes at the bottom


def _seen(trial: xr.Dataset, rows: list[Row]) -> tuple[_Seen, BoolArray]:
    """The points of the view, and in which repetitions the patella was seen."""
    frames, tail = np.array([[r.start, r.bottom] for r in rows]), f"_{rows[0].side[0]}"
    back = rotation_y(-np.deg2rad(trial.variables["heading_deg"].values[frames]))
    joint = trial.variables["joint_centre"].values[frames]
    own = [joint[:, :, JOINTS.index(f"{n}{tail}")] for n in ("hip", "knee", "ankle")]
    markers = [marker(trial, f"patella{tail}")[frames], landmark(trial, f"asis{tail}")[frames]]
    points = np.einsum("rfij,rfpj->prfi", back, np.stack([*own, *markers], axis=2))
    points[..., 1] -= _floor(trial, frames[:, 0], tail)[:, None]
    hip, knee, ankle, patella, asis = points
    with_patella: BoolArray = np.asarray(np.isfinite(patella).all(axis=(1, 2)))
    kneecap = np.where(with_patella[:, None, None], patella, knee)
    pelvis = back[:, 1] @ trial.variables["pose"].values[frames[:, 1], SEGMENTS.index("pelvis")]
    return _Seen(hip, knee, ankle, kneecap, asis, pelvis), with_patella


def _planar_measures(seen: _Seen, name: str, limits: Limits, least_shown: float) -> dict[str, FloatArray]:
    """Planar measures (repetition,) of one side."""
    side: Side = "left" if name == "left" else "right"
    leg = np.stack([seen.hip, seen.knee, seen.ankle])
    low = leg[:, :, 1]
    shares = shown_share(low[0], low[1]), shown_share(low[1], low[2])
    distance, focal_length = limits["camera_distance_mm"].value, limits["camera_focal_length_mm"].value
    filmed = camera_picture(
        np.concatenate([leg, seen.kneecap[None]]),
        seen.ankle[:, :1],
        distance,
        limits["camera_height_mm"].value,
        np.deg2rad(limits["camera_yaw_deg"].value),
        focal_length,
    )

    def angle(pictures: FloatArray) -> FloatArray:
        upper, middle, lower = pictures
        return np.rad2deg(readable(projection_angle(upper, middle, lower, side), *shares, least_shown))

    path = np.diff(filmed[3], axis=1)[:, 0] * distance / focal_length
    medial, down = -SIGN[name] * path[:, 0], path[:, 1]
    return {
        "fppa_pelvis_plane_at_bottom": angle(own_frontal_picture(low, seen.pelvis)),
        "fppa_asis_at_bottom": angle(frontal_picture(np.stack([seen.asis[:, 1], *low[1:]]))),
        "fppa_camera_at_bottom": angle(filmed[:3, :, 1]),
        "kneecap_camera_travel": medial,
        "kneecap_camera_path_angle": path_angle(medial, down),
        "leg_shown_at_bottom": 100.0 * np.minimum(*shares),
    }


def misread(reading: str, cause: str) -> str:
    """'yes' where the reading blames another part than the cause, 'no' where not, '' where it cannot be said."""
    if cause == "not_separable" or reading not in BLAMES:
        return ""
    if cause == "in_the_leg" and BLAMES[reading] == "at_the_hip":
        return ""  # the leg did it; whether the hip did is not known
    return "no" if BLAMES[reading] == cause else "yes"


def _read(signs: tuple[float, float, float], turns: tuple[float, float], limits: Limits) -> str:
    """knee_in, knee_out, wavering, straight, from travel, path angle and FPPA, and from reversals and path ratio."""
    (travel, angle, fppa), (reversals, ratio) = signs, turns
    if np.isnan(travel):
        return ""
    turning = reversals >= limits["wavering_reversals"].value
    if turning and (abs(angle) < limits["straight_path_deg"].value or ratio >= limits["wavering_path_ratio"].value):
        return "wavering"
    marked = ((travel, "travel_mm"), (angle, "path_angle_deg"), (fppa, "fppa_deg"))
    for word, sign in (("knee_in", 1.0), ("knee_out", -1.0)):
        if sum(sign * value >= limits[name].value for value, name in marked) >= limits["signs_needed"].value:
            return word
    return "straight"


def _floor(trial: xr.Dataset, start: IntArray, tail: str) -> FloatArray:
    """Height of the floor under the stance foot at these frames."""
    names = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
    heights = np.stack([landmark(trial, f"{n}{tail}")[start, 1] for n in names])
    lowest = np.where(np.isnan(heights), np.inf, heights).min(axis=0)
    return np.where(np.isfinite(lowest), lowest - _SOLE_MM, 0.0)
