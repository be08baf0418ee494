"""The accounts of every repetition: what each part contributes, from the start, from standing, and from below."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.contributions import FACTORS, MODEL_ANGLES, MODEL_MEASURES, Division
from condyle.mechanics.from_below import FACTORS_BELOW, account_from_below, mirrored
from condyle.mechanics.path import medial_frame
from condyle.mechanics.posture import Posture, divided
from condyle.mechanics.projection import shown_share
from condyle.mechanics.rotations import rotation_y
from condyle.trial_data import labels_along

MEASURE_UNITS = {"fppa": "deg", "knee_relative_to_hip": "mm", "thigh_axial_rotation": "deg"}
BELOW = ("shank_tilt_from_below", "thigh_axial_rotation_from_below")
_THREE = {end: tuple(f"{m}{end}" for m in MODEL_MEASURES) for end in ("", "_from_standing", "_at_60_knee_flexion")}
COURSES = (*_THREE[""], *_THREE["_from_standing"], *BELOW)
ACCOUNTS = (*_THREE[""], *_THREE["_from_standing"], *_THREE["_at_60_knee_flexion"], *BELOW)
ACCOUNT_UNITS = tuple("mm" if name.startswith("knee") else "deg" for name in ACCOUNTS)
SOURCES = ("sagittal", *FACTORS, *FACTORS_BELOW, "remainder")
SOURCES_ABOVE, SOURCES_BELOW = ("sagittal", *FACTORS, "remainder"), (*FACTORS_BELOW, "remainder")

_ABOVE_COLUMNS = [SOURCES.index(n) for n in SOURCES_ABOVE]
_BELOW_COLUMNS = [SOURCES.index(n) for n in SOURCES_BELOW]
SIGN = {"left": -1.0, "right": 1.0}
_ANGLE_COLUMNS = [JOINT_ANGLES.index(n) for n in MODEL_ANGLES]
_AXIAL = JOINT_ANGLES.index("thigh_axial_rotation")
_TO_UNIT = np.array([180.0 / np.pi, 1.0, 180.0 / np.pi])  # the model's rad, mm, rad in the units of the tables


class Leg(NamedTuple):
    """One leg through a trial, as a right leg: what the accounts need of it."""

    posture: Posture  # (time), by each frame's own heading
    standing: Posture  # (1,) in the standing trial, by its own heading
    turned_standing: FloatArray  # (bout,) [rad] pelvis rotation if the pelvis stood over the stance foot as in standing
    thigh_vector: FloatArray  # (3, 1) [mm] hip centre to knee centre in the thigh
    shank_vector: FloatArray  # (3, 1) [mm] knee centre to ankle centre in the shank
    shown: FloatArray  # (time,) [1] least share of thigh and shank length that the frontal plane shows
    known: bool  # knee and ankle centres are known: not by a lateral marker alone, which gives no axis to account with


def leg_through(trial: xr.Dataset, side: str) -> Leg:
    """The leg of one side; the left one mirrored. What the marker set cannot give is NaN."""
    s, tail = SIDES.index(side), f"_{side[0]}"
    own = np.deg2rad(trial.variables["heading_deg"].values)
    thigh, shank = leg_vectors(trial, tail)
    hip, knee, ankle = (
        medial_frame(trial.variables["joint_centre"].values[:, JOINTS.index(f"{n}{tail}")], side, own)
        for n in ("hip", "knee", "ankle")
    )
    pose = trial.variables["static_pose"].values
    standing = [
        medial_frame(pose[SEGMENTS.index(f"{n}{tail}")] @ v, side)[None]
        for n, v in (("thigh", thigh), ("shank", shank))
    ]
    starts = np.searchsorted(trial.variables["time"].values, trial.variables["bout_start_s"].values)
    turn = np.deg2rad(trial.variables["heading_by_foot"].values) - own[np.minimum(starts, len(own) - 1)]
    mirror = np.array([[1.0], [1.0], [SIGN[side]]])
    return Leg(
        posture=_posture(trial.variables["angle"].values[:, s], knee - hip, ankle - knee),
        standing=_posture(trial.variables["static_angle"].values[s][None], *standing),
        turned_standing=SIGN[side] * np.arctan2(np.sin(turn), np.cos(turn)),
        thigh_vector=thigh[:, None] * mirror,
        shank_vector=shank[:, None] * mirror,
        shown=np.minimum(shown_share(hip, knee), shown_share(knee, ankle)),
        known=not trial.variables["lateral_only"].values[s].any(),
    )


def account_courses(trial: xr.Dataset, legs: dict[str, Leg], least_shown: float) -> FloatArray:
    """Every account of :data:`COURSES` over time (time, side, course, source), NaN outside repetitions."""
    out = np.full((trial.sizes["time"], 2, len(COURSES), len(SOURCES)), np.nan)
    rows = repetition_rows(trial)
    for side, leg in legs.items():
        s = SIDES.index(side)
        mine = [r for r in rows if r.side == side]
        if not mine or not leg.known:
            continue
        frame = np.concatenate([np.arange(r.start, r.end + 1) for r in mine])
        length = [r.end + 1 - r.start for r in mine]
        start = np.repeat([r.start for r in mine], length)
        turn = np.repeat([leg.turned_standing[r.bout] for r in mine], length)
        above = above_table(divided(*_moments(leg, frame, start), turn, leg.thigh_vector, leg.shank_vector))
        above[:, [0, 3]] = np.where((leg.shown[frame] >= least_shown)[:, None, None], above[:, [0, 3]], np.nan)
        out[frame[:, None, None], s, np.arange(6)[:, None], _ABOVE_COLUMNS] = whole_or_nothing(above)
        below = _from_below(trial, side, leg, frame, start)
        out[frame[:, None, None], s, np.arange(6, 8)[:, None], _BELOW_COLUMNS] = whole_or_nothing(below)
    return out


def whole_or_nothing(account: FloatArray) -> FloatArray:
    """Accounts (..., source), NaN as a whole where any part is not known: what is left would not sum to the change."""
    return np.where(np.isnan(account).any(axis=-1, keepdims=True), np.nan, account)


def account_values(trial: xr.Dataset, courses: FloatArray) -> FloatArray:
    """Accounts at the bottom and at 60 degrees of knee flexion (repetition, account, source)."""
    out = np.full((trial.sizes["repetition"], len(ACCOUNTS), len(SOURCES)), np.nan)
    for k, row in enumerate(repetition_rows(trial)):
        of_side = courses[:, SIDES.index(row.side)]
        if row.bottom_seen:
            out[k, :6], out[k, 9:] = of_side[row.bottom, :6], of_side[row.bottom, 6:]
        if np.isfinite(row.at_60):  # between two frames: linear, so that the parts still sum to the change
            below, share = int(row.at_60), row.at_60 % 1.0
            out[k, 6:9] = of_side[below, :3]
            if share > 0.0:
                out[k, 6:9] += share * (of_side[below + 1, :3] - of_side[below, :3])
    return out


class Row(NamedTuple):
    """One repetition: side, bout (from 0), frames."""

    side: str
    bout: int
    start: int
    bottom: int
    end: int
    at_60: float
    bottom_seen: bool


def repetition_rows(trial: xr.Dataset) -> list[Row]:
    """The repetitions as rows of plain numbers."""
    names = ("side", "bout", "start", "bottom", "end", "at_60", "bottom_seen")
    columns = [trial.variables[f"repetition_{n}"].values.tolist() for n in names]
    return [Row(side, bout - 1, *rest) for side, bout, *rest in zip(*columns, strict=True)]


def leg_vectors(trial: xr.Dataset, tail: str) -> tuple[FloatArray, FloatArray]:
    """Hip to knee in the thigh's frame, knee to ankle in the shank's, mm."""
    where = {name: i for i, name in enumerate(labels_along(trial, "body_point"))}
    table = trial.variables["calibrated_point"].values

    def at(segment: str, joint: str) -> FloatArray:
        place: FloatArray = table[SEGMENTS.index(f"{segment}{tail}"), where[f"{joint}{tail}"]]
        return place

    return at("thigh", "knee") - at("thigh", "hip"), at("shank", "ankle") - at("shank", "knee")


def above_table(divisions: Sequence[Division]) -> FloatArray:
    """(..., 3 measures of each division, source above) in the units of the tables."""
    stacked = [np.concatenate([d.sagittal[:, None], d.parts, d.remainder[:, None]], axis=1) for d in divisions]
    scale = np.expand_dims(_TO_UNIT, tuple(range(1, stacked[0].ndim)))
    return np.moveaxis(np.concatenate([s * scale for s in stacked]), (0, 1), (-2, -1))


def _moments(leg: Leg, now: IntArray, then: IntArray) -> tuple[Posture, Posture, Posture]:
    return leg.posture.at(now), leg.posture.at(then), leg.standing


def _posture(angle: FloatArray, thigh_line: FloatArray, shank_line: FloatArray) -> Posture:
    radians = np.deg2rad(angle)
    return Posture(radians[:, _ANGLE_COLUMNS].T, thigh_line.T, shank_line.T, radians[:, _AXIAL])


def _from_below(trial: xr.Dataset, side: str, leg: Leg, frame: IntArray, start: IntArray) -> FloatArray:
    """(frame, 2, source below): shank tilt and thigh axial rotation since the repetition's start."""
    tail = f"_{side[0]}"
    poses = []
    pose, own = trial.variables["pose"].values, np.deg2rad(trial.variables["heading_deg"].values)
    back = rotation_y(-own) if own.any() else None
    for name in ("foot", "shank", "thigh"):
        axes = pose[:, SEGMENTS.index(f"{name}{tail}")]
        axes = axes if back is None else back @ axes
        poses.append(mirrored(axes) if side == "left" else axes)
    foot, shank, thigh = poses
    account = account_from_below(
        foot[frame],
        shank[frame],
        thigh[frame],
        foot[start],
        shank[start],
        thigh[start],
        leg.shank_vector[:, 0],
    )
    line = leg.posture.shank_line
    measured = np.stack([-np.arctan2(line[2], -line[1]), leg.posture.axial])
    change = measured[:, frame] - measured[:, start]
    parts = account.parts
    remainder = change - (account.modelled - account.base)
    return np.moveaxis(np.rad2deg(np.concatenate([parts, remainder[:, None]], axis=1)), -1, 0)
