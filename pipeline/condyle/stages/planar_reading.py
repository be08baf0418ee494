"""What a kneecap-only view would have said of each repetition, and whether the three-dimensional cause agrees."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.mechanics.arrays import FloatArray
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
from condyle.vocabulary import JOINTS, SEGMENTS

# the part that a view of the kneecap alone usually blames for its reading
BLAMES = {"knee_in": "at_the_hip", "knee_out": "at_the_hip", "straight": "none"}
_SOLE_MM = 25.0  # height of the lowest foot marker over the floor (ours): the camera's height counts from the floor


class PlanarReading(NamedTuple):
    """One repetition: what was read in the frontal view and through the camera, and the planar measures."""

    frontal: str
    camera: str
    kneecap: str  # what was followed: patella, or knee where there is no patella marker
    measures: dict[str, float]


def planar_reading(
    trial: xr.Dataset, row: Row, measured: dict[str, float], limits: Limits, least_shown: float
) -> PlanarReading:
    """The reading of one repetition; ``measured`` holds its measures by name, ``least_shown`` 0 to 1."""
    frames = np.array([row.start, row.bottom])
    tail, back = f"_{row.side[0]}", rotation_y(-np.deg2rad(trial.variables["heading_deg"].values[frames]))

    def at(course: FloatArray) -> FloatArray:
        return np.asarray(np.einsum("fij,fj->fi", back, course[frames]))

    hip, knee, ankle = (
        at(trial.variables["joint_centre"].values[:, JOINTS.index(f"{n}{tail}")]) for n in ("hip", "knee", "ankle")
    )
    patella = at(marker(trial, f"patella{tail}"))
    kneecap = "knee" if np.isnan(patella).any() else "patella"
    followed = knee if kneecap == "knee" else patella
    asis = at(landmark(trial, f"asis{tail}"))
    pelvis = back[1] @ trial.variables["pose"].values[row.bottom, SEGMENTS.index("pelvis")]
    shares = shown_share(hip, knee)[1], shown_share(knee, ankle)[1]
    floor = _floor(trial, row, tail)
    distance = limits["camera_distance_mm"].value

    def filmed(point: FloatArray) -> FloatArray:
        return camera_picture(
            point - np.array([0.0, floor, 0.0]),
            ankle[0],
            distance,
            limits["camera_height_mm"].value,
            np.deg2rad(limits["camera_yaw_deg"].value),
            limits["camera_focal_length_mm"].value,
        )

    side: Side = "left" if row.side == "left" else "right"

    def angle(pictures: list[FloatArray]) -> float:
        upper, middle, lower = pictures
        return float(np.rad2deg(readable(projection_angle(upper, middle, lower, side), *shares, least_shown)))

    path = np.diff(filmed(followed), axis=0)[0] * distance / limits["camera_focal_length_mm"].value
    medial, down = -SIGN[row.side] * path[0], path[1]
    low = [hip[1], knee[1], ankle[1]]
    planar = {
        "fppa_pelvis_plane_at_bottom": angle([own_frontal_picture(p, pelvis) for p in low]),
        "fppa_asis_at_bottom": angle([frontal_picture(p) for p in (asis[1], *low[1:])]),
        "fppa_camera_at_bottom": angle([filmed(p) for p in low]),
        "kneecap_camera_travel": float(medial),
        "kneecap_camera_path_angle": float(path_angle(medial, down)),
        "leg_shown_at_bottom": 100.0 * float(min(shares)),
    }
    turns = measured[f"{kneecap}_reversals"], measured[f"{kneecap}_path_ratio"]
    flat = measured[f"{kneecap}_travel"], measured[f"{kneecap}_path_angle_descent"], measured["fppa_at_bottom"]
    seen = planar["kneecap_camera_travel"], planar["kneecap_camera_path_angle"], planar["fppa_camera_at_bottom"]
    frontal, camera = _read(flat, turns, limits), _read(seen, turns, limits)
    return PlanarReading(frontal, camera, kneecap, planar)


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


def _floor(trial: xr.Dataset, row: Row, tail: str) -> float:
    """Height of the floor under the stance foot at the start."""
    names = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
    heights = [landmark(trial, f"{n}{tail}")[row.start, 1] for n in names]
    lowest = float(np.nanmin(heights)) if np.isfinite(heights).any() else float("nan")
    return lowest - _SOLE_MM if np.isfinite(lowest) else 0.0
