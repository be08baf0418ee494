"""What a planar screen reads from a repetition: in the frontal plane, in the pelvis' own, and through a camera."""

import zlib
from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray
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
from condyle.study.body import EVENTS, Repetition
from condyle.study.settings import CameraSetting

VIEWS = ("frontal", "pelvis_plane", "camera")
UNIT_OF = {
    **dict.fromkeys(("fppa", "fppa_asis", "hip_adduction", "pelvis_drop", "trunk_lean"), "deg"),
    **dict.fromkeys(("knee_over_foot", "knee_travel", "patella_travel"), "mm"),
}
_OF_THE_PELVIS = ("fppa", "fppa_asis", "hip_adduction")
HALF_SHOWN = 0.5  # below this share of its length a segment's direction in the picture is warned of (ours)


def planar_courses(
    repetition: Repetition, view: str, camera: CameraSetting, noise: np.random.Generator | None = None
) -> dict[str, FloatArray]:
    """Planar measures (102) of a repetition in one view, in degrees or mm; NaN where a point is missing or hidden."""
    point = repetition.point
    picture = {name: _picture(curve, repetition, view, camera) for name, curve in point.items()}
    if noise is not None and view == "camera":
        picture = {n: p + noise.normal(0.0, camera.pixel_noise_px, p.shape) for n, p in picture.items()}
    side: Side = "right" if repetition.side == "right" else "left"
    medial = -1.0 if side == "right" else 1.0
    thigh, shank = leg_shares(repetition, view, camera)
    from_asis, _ = leg_shares(repetition, view, camera, "asis")
    hip, asis, knee, ankle = (picture[n] for n in ("hip", "asis", "knee", "ankle"))
    drop = np.arctan2(picture["other_asis"][:, 1] - asis[:, 1], np.abs(picture["other_asis"][:, 0] - asis[:, 0]))
    tilt = np.arctan2(medial * (knee - hip)[:, 0], (knee - hip)[:, 1])
    least = load_limits("findings")["shown_least_percent"].value / 100.0
    angles = {
        "fppa": readable(projection_angle(hip, knee, ankle, side), thigh, shank, least),
        "fppa_asis": readable(projection_angle(asis, knee, ankle, side), from_asis, shank, least),
        "hip_adduction": readable(tilt + drop, thigh, np.ones_like(thigh), least),
    }
    out = {name: np.rad2deg(values) for name, values in angles.items()}
    if view == "pelvis_plane":
        return out
    scale = _mm_per_unit(repetition, view, camera)
    trunk = picture["upper_trunk"] - 0.5 * (asis + picture["other_asis"])
    out["pelvis_drop"] = np.rad2deg(drop)
    out["trunk_lean"] = np.rad2deg(np.arctan2(-medial * trunk[:, 0], -trunk[:, 1]))
    out["knee_over_foot"] = medial * (knee - picture["toe"])[:, 0] * scale
    for name, what in (("knee_travel", knee), ("patella_travel", picture["patella"])):
        place = medial * what[:, 0] * scale
        out[name] = place - place[0]
    return out


def leg_shares(
    repetition: Repetition, view: str, camera: CameraSetting, upper: str = "hip"
) -> tuple[FloatArray, FloatArray]:
    """How much of the length of thigh (from ``upper``) and shank the view shows, 0 to 1."""
    points = np.stack([repetition.point[n] for n in (upper, "knee", "ankle")])
    sight = AHEAD if view == "frontal" else repetition.pelvis[..., :, 0]
    if view == "camera":
        floor, aim, yaw = _tripod(repetition, camera)
        middle = 0.5 * (points[:-1] + points[1:]) - floor
        sight = camera_sight(middle, aim, camera.distance_mm, camera.height_mm, yaw)
    thigh, shank = shown_share(points[:-1], points[1:], sight)
    return thigh, shank


def _picture(curve: FloatArray, repetition: Repetition, view: str, camera: CameraSetting) -> FloatArray:
    if view == "frontal":
        return frontal_picture(curve)
    if view == "pelvis_plane":
        return own_frontal_picture(curve, repetition.pelvis)
    floor, aim, yaw = _tripod(repetition, camera)
    return camera_picture(curve - floor, aim, camera.distance_mm, camera.height_mm, yaw, camera.focal_length_px)


def _tripod(repetition: Repetition, camera: CameraSetting) -> tuple[FloatArray, FloatArray, float]:
    """Where the floor is (102, 3), what the tripod is aimed at (102, 3), mm, and its yaw in rad.

    It is put up once: opposite to the stance ankle at the start, on the floor.
    """
    height = repetition.stand[:, 1]
    floor = np.where((height >= 0.0) & (height <= _HIGHEST_ANKLE), 0.0, height - _ANKLE)
    yaw = float(np.deg2rad(camera.yaw_deg))
    aim = repetition.stand + rotation_y(yaw) @ np.array([0.0, 0.0, camera.sideways_mm])
    return floor[:, None] * np.array([0.0, 1.0, 0.0]), aim, yaw


_ANKLE = 80.0  # mm, height of the ankle centre above the floor where the lab's zero is not the floor (ours)
_HIGHEST_ANKLE = 500.0  # mm, above a step; beyond, the lab's zero cannot be the floor (ours)


def _mm_per_unit(repetition: Repetition, view: str, camera: CameraSetting) -> FloatArray:
    """What one unit of the picture is at the stance ankle: where a lab would lay its scale."""
    ankle = repetition.point["ankle"]
    if view == "frontal":
        return np.ones(ankle.shape[0])
    both = [_picture(p, repetition, view, camera) for p in (ankle, ankle + np.array([0.0, 100.0, 0.0]))]
    return np.asarray(100.0 / np.abs(both[1] - both[0])[:, 1])


def planar_rows(repetition: Repetition, camera: CameraSetting, seed: int) -> list[dict[str, Any]]:
    """The planar measures of one repetition as rows of a long table."""
    noise = np.random.default_rng([seed, _number(repetition.key)])
    filmed = seen_by_camera(repetition, camera, noise)
    out = []
    for view in VIEWS:
        courses = planar_courses(repetition, view, camera, noise)
        rows = filmed if view == "camera" else repetition.rows
        for name in _OF_THE_PELVIS if view == "pelvis_plane" else UNIT_OF:
            values = {event: float(courses[name][rows[event]]) for event in EVENTS}
            values["change"] = values["at_bottom"] - values["at_start"]
            for event, value in values.items():
                measure = f"{name}_{view}_{event}"
                out.append({**repetition.key, "measure": measure, "value": value, "unit": UNIT_OF[name], "bout": ""})
    return out


def seen_by_camera(repetition: Repetition, camera: CameraSetting, noise: np.random.Generator) -> dict[str, int]:
    """Which row of the courses the camera's nearest frame shows for each event; its clock started whenever it did."""
    rows = repetition.rows
    if camera.frame_rate_hz is None:
        return rows
    step = 1.0 / camera.frame_rate_hz
    phase = noise.uniform(0.0, step)
    seconds = repetition.seconds[:101]
    out = {}
    for event, row in rows.items():
        time = repetition.seconds[row]
        if not np.isfinite(time):
            out[event] = row
            continue
        nearest = phase + step * np.round((time - phase) / step)
        out[event] = int(np.abs(seconds - nearest).argmin())
    return out


def _number(key: dict[str, str]) -> int:
    """A number of the repetition's own, so that its noise does not depend on what else is in the study."""
    return zlib.crc32("\x1f".join(key[k] for k in sorted(key)).encode())


def planar_table(repetitions: Iterable[Repetition], camera: CameraSetting, seed: int) -> pd.DataFrame:
    """Planar measures of many repetitions, long."""
    rows = [row for repetition in repetitions for row in planar_rows(repetition, camera, seed)]
    columns = [
        "participant",
        "session",
        "trial",
        "side",
        "repetition",
        "task",
        "condition",
        "bout",
        "measure",
        "value",
        "unit",
    ]
    return pd.DataFrame(rows, columns=columns)
