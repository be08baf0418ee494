"""The points whose paths are measured on one side: where they are, seen along the heading of their bout."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, LANDMARK_SEGMENT, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.centre_of_mass import MassCentre, Sex, centre_of_mass
from condyle.mechanics.path import medial_frame
from condyle.trial_data import labels_along

NAMES = (
    *("hip", "knee", "knee_in_view", "ankle", "ankle_centre", "pelvis"),
    *("patella", "lateral_epicondyle", "shoulders", "heel", "metatarsal", "centre_of_mass"),
    "centre_of_pressure",
)
_ON_THE_FOOT = "the foot's axis and the offset of the centre of mass"
_FALL_AWAY = (  # what goes when points were never seen: the landmark to place, what is said of it, the measures that need it
    (("patella",), "patella", "patella ({side}) is not", "the path of the patella"),
    (("shoulders",), "acromion", "the acromia are not both", "the path of the shoulders"),
    (
        ("heel", "metatarsal"),
        "foot",
        "heel and metatarsal 2 ({side}) are not",
        f"knee over foot, heel lift, {_ON_THE_FOOT}",
    ),
    (("heel",), "calcaneus", "calcaneus ({side}) is not", f"knee over foot, heel lift, {_ON_THE_FOOT}"),
    (("metatarsal",), "metatarsal_2", "metatarsal 2 ({side}) is not", f"knee over foot, {_ON_THE_FOOT}"),
)


class MeasuredPoints(NamedTuple):
    """Positions (time, point, 3) of :data:`NAMES` in the participant frame, for one side."""

    side: str
    position: FloatArray

    def turned(self, frames: slice, heading_deg: float) -> dict[str, FloatArray]:
        """Positions (frames, 3) by name: forward, up, medial, by a heading of their own."""
        part = medial_frame(self.position[frames], self.side, np.deg2rad(heading_deg))
        return {name: part[:, k] for k, name in enumerate(NAMES)}


def measured_points(trial: xr.Dataset, side: str) -> MeasuredPoints:
    """The points of one side in every frame; NaN where a point is not seen or not in the marker set."""
    tail = f"_{side[0]}"
    joint = trial.variables["joint_centre"].values
    hip, knee, ankle = (joint[:, JOINTS.index(f"{n}{tail}")] for n in ("hip", "knee", "ankle"))
    # by the lateral marker alone no centre is known
    lateral, lateral_ankle = trial.variables["lateral_only"].values[SIDES.index(side)].tolist()
    found = {
        "hip": hip,
        "knee": np.full_like(hip, np.nan) if lateral else knee,
        "knee_in_view": knee,  # even where only the lateral marker is known: good enough seen from the side
        "ankle": ankle,
        "ankle_centre": np.full_like(hip, np.nan) if lateral_ankle else ankle,
        "pelvis": trial.variables["origin"].values[:, SEGMENTS.index("pelvis")],
        "patella": marker(trial, f"patella{tail}"),
        "lateral_epicondyle": marker(trial, f"lateral_epicondyle{tail}") if lateral else np.full_like(hip, np.nan),
        "shoulders": 0.5 * (marker(trial, "acromion_l") + marker(trial, "acromion_r")),
        "heel": landmark(trial, f"calcaneus{tail}"),
        "metatarsal": landmark(trial, f"metatarsal_2{tail}"),
        "centre_of_mass": mass_centre(trial).position,
        "centre_of_pressure": (
            trial.variables["centre_of_pressure"].values if "centre_of_pressure" in trial else np.full_like(hip, np.nan)
        ),
    }
    return MeasuredPoints(side, np.stack([found[n] for n in NAMES], axis=1))


def marker(trial: xr.Dataset, name: str) -> FloatArray:
    """Positions (time, 3) of a marker; NaN where the set has none."""
    names = labels_along(trial, "marker")
    point: FloatArray = trial.variables["point"].values
    return point[:, names.index(name)] if name in names else np.full((point.shape[0], 3), np.nan)


def landmark(trial: xr.Dataset, name: str) -> FloatArray:
    """Positions (time, 3) of a landmark: its marker, or where that was taken off, as the segment carries it."""
    seen = marker(trial, name)
    places = labels_along(trial, "body_point")
    first_seen = not np.isnan(seen[:1]).any()  # which tells at once, for nearly all
    if first_seen or not np.isnan(seen).all() or name not in places:
        return seen
    k = SEGMENTS.index(LANDMARK_SEGMENT[name])
    local = trial.variables["calibrated_point"].values[k, places.index(name)]
    carried: FloatArray = trial.variables["origin"].values[:, k] + trial.variables["pose"].values[:, k] @ local
    return carried


_OF_MASS = ("c7", "jugular_notch", "xiphoid", "acromion_l", "acromion_r")
_OF_FEET = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")


def mass_points(trial: xr.Dataset) -> dict[str, FloatArray]:
    """Positions (time, 3) of what the centre of mass rests on beside the joint centres."""
    names = (*_OF_MASS, *(f"{n}{t}" for n in _OF_FEET for t in ("_l", "_r")))
    return {name: place for name in names if not np.isnan(place := landmark(trial, name)).all()}


def mass_centre(trial: xr.Dataset, frames: slice | IntArray = slice(None)) -> MassCentre:
    """The body's centre of mass in these frames, and what stood in for what; NaN where a leg or the trunk is missing."""
    joint = trial.variables["joint_centre"].values[frames]
    points = {name: joint[:, k] for k, name in enumerate(JOINTS)}
    points |= {name: place[frames] for name, place in mass_points(trial).items()}
    return centre_of_mass(points, sex_of(trial))


def sex_of(trial: xr.Dataset) -> Sex | None:
    """The participant's sex where the session file gives it."""
    sex = trial.attrs.get("participant_sex")
    return sex if sex in ("male", "female") else None


def mass_stand_ins(trial: xr.Dataset) -> list[Finding]:
    """One row on the centre of mass: what stands in for what, or what is missing for there to be one."""
    found = mass_centre(trial)
    if np.isfinite(found.position).all(axis=-1).any():
        advice = f"masses after de Leva 1996 (J Biomech 29:1223); stand-ins (ours): {'; '.join(found.stand_ins)}."
        return [Finding("measures given", "centre of mass", None, None, "", "pass", advice)]
    why = f"not seen: {', '.join(found.lacks)}" if found.lacks else "in no frame is all seen at once that it needs"
    advice = f"no centre of mass in this trial, nor its offset and balance over the foot; {why}. The rest is given."
    return [Finding("measures given", "centre of mass", None, None, "", "review", advice)]


def points_missing(points: MeasuredPoints, side: str) -> list[Finding]:
    """A row for every landmark without which measures fall away."""
    out: list[Finding] = []
    lost = {name for k, name in enumerate(NAMES) if np.isnan(points.position[:, k]).all()}
    for names, subject, said, words in _FALL_AWAY:
        if lost.issuperset(names):
            lost.difference_update(names)  # said once
            advice = f"{said.format(side=side)} seen, or taken out (see the other rows): {words} cannot be given; the rest is."
            out.append(Finding("measures given", f"{subject}_{side[0]}", None, None, "", "review", advice))
    return out
