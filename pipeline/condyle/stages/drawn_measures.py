"""How every draw changes the measures: the deviation of each signed value from the trial as processed.

Ranges, path lengths, counts, percents and times get none. A peak lies between the frames that are drawn: its deviation
is taken between that at the start and that at the bottom, in proportion to knee flexion.
"""

import numpy as np
import xarray as xr

from condyle.measure_dictionary import POINTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.centre_of_mass import centre_of_mass
from condyle.mechanics.path import medial_frame, medial_of_line, path_angle, segment_tilt
from condyle.mechanics.rotations import rotation_y
from condyle.stages.accounts import SIGN, Row
from condyle.stages.body import markers_of, shoulders_of, unknown_angles
from condyle.stages.drawn_accounts import Moments
from condyle.stages.draws import Draws
from condyle.stages.measured_points import NAMES, mass_points, measured_points, sex_of
from condyle.vocabulary import JOINT_ANGLES, JOINTS, SIDES

_FROM_DRAWS = {  # point -> joint it is
    **{n: n for n in ("hip", "knee", "ankle")},
    **{"knee_in_view": "knee", "ankle_centre": "ankle", "pelvis": ""},
}
_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")


def measure_deviations(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: np.ndarray
) -> dict[str, FloatArray]:
    """Measure -> (draw, repetition) deviations, for the repetitions ``rows`` of one side; the nominal draw left out."""
    side = rows[0].side
    out = _of_angles(trial, rows, moments, draws, frames)
    points = _points(trial, side, draws, frames)
    start, bottom, end = ({n: p[:, m] for n, p in points.items()} for m in moments[:3])
    value = _of_legs(start, bottom, float(trial.variables["leg_length"].values[SIDES.index(side)]))
    for point in POINTS:
        low = bottom[point]
        value[f"{point}_travel"] = low[..., 2] - start[point][..., 2]
        value[f"{point}_end_offset"] = end[point][..., 2] - start[point][..., 2]
        for name, upper in (("descent", start[point]), ("ascent", end[point])):
            value[f"{point}_path_angle_{name}"] = path_angle(low[..., 2] - upper[..., 2], upper[..., 1] - low[..., 1])
    bout = np.array([r.bout for r in rows])
    value["pelvis_over_foot_at_start"] = np.rad2deg(SIGN[side] * (draws.at_start - draws.by_foot)[:, bout])
    out |= {name: v[1:] - v[:1] for name, v in value.items()}
    out |= _of_peaks(trial, rows, out)
    return out


def _of_angles(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: np.ndarray
) -> dict[str, FloatArray]:
    s = SIDES.index(rows[0].side)
    own = np.deg2rad(trial.variables["heading_deg"].values)[frames]
    shoulders = shoulders_of(trial.variables["point"].values[frames], markers_of(trial))
    if shoulders is not None:
        shoulders = np.einsum("dfij,fpj->dfpi", rotation_y(draws.turn - own), shoulders)
    angle = all_angles(draws.rotation, draws.joint, shoulders)
    static = all_angles(draws.static_rotation, draws.static_joint)
    unknown = unknown_angles(trial.variables["lateral_only"].values)
    angle[..., unknown], static[..., unknown] = np.nan, np.nan
    angle, static = angle[1:, :, s] - angle[:1, :, s], static[1:, s] - static[:1, s]
    start, bottom, sixty = (angle[:, m] for m in (moments.start, moments.bottom, moments.sixty))
    share_high, share_low = _peak_shares(trial, rows)
    by_suffix = {
        "at_start": start,
        "start_from_static": start - static[:, None],
        "at_bottom": bottom,
        "at_60_knee_flexion": sixty,
        "change": bottom - start,
        "max": start + share_high * (bottom - start),
        "min": start + share_low * (bottom - start),
    }
    return {f"{name}_{suffix}": v[..., k] for suffix, v in by_suffix.items() for k, name in enumerate(JOINT_ANGLES)}


def _of_legs(start: dict[str, FloatArray], bottom: dict[str, FloatArray], leg_length: float) -> dict[str, FloatArray]:
    """The measures of measures_of_legs that are signed values, from points (draw, repetition, 3)."""
    travel = bottom["knee"][..., 2] - start["knee"][..., 2]
    shift = bottom["hip"][..., 2] - start["hip"][..., 2]
    foot = start["metatarsal"] - start["heel"]
    return {
        "knee_travel_percent_leg": 100.0 * travel / leg_length,
        "hip_centre_shift": shift,
        "knee_relative_to_hip_travel": travel - shift,
        "knee_over_foot_start": medial_of_line(start["knee"], start["heel"], start["metatarsal"]),
        "knee_over_foot_bottom": medial_of_line(bottom["knee"], bottom["heel"], bottom["metatarsal"]),
        "thigh_tilt": segment_tilt(bottom["hip"], bottom["knee"], 2),
        "shank_tilt": -segment_tilt(bottom["knee"], bottom["ankle_centre"], 2),
        "shank_forward_lean": -segment_tilt(bottom["knee_in_view"], bottom["ankle"], 0),
        "foot_axis_to_heading": np.rad2deg(np.arctan2(foot[..., 2], foot[..., 0])),
        "depth": start["hip"][..., 1] - bottom["hip"][..., 1],
        "com_offset_start": medial_of_line(start["centre_of_mass"], start["heel"], start["metatarsal"]),
        "com_offset_bottom": medial_of_line(bottom["centre_of_mass"], bottom["heel"], bottom["metatarsal"]),
    }


def _points(trial: xr.Dataset, side: str, draws: Draws, frames: np.ndarray) -> dict[str, FloatArray]:
    """Points (draw, frame, 3) forward, up, medial: centres from the draws, markers by the draw's heading."""
    tail = f"_{side[0]}"
    own = np.deg2rad(trial.variables["heading_deg"].values)[frames]
    seen = measured_points(trial, side).position[frames]
    turned = np.einsum("dfij,fpj->dfpi", rotation_y(draws.turn - own), seen)
    out = {name: medial_frame(turned[:, :, k], side) for k, name in enumerate(NAMES)}
    points = {n: draws.joint[:, :, k] for k, n in enumerate(JOINTS)}
    for name, place in mass_points(trial).items():
        points[name] = np.einsum("dfij,fj->dfi", rotation_y(draws.turn - own), place[frames])
    out["centre_of_mass"] = medial_frame(centre_of_mass(points, sex_of(trial)).position, side)
    for name, joint in _FROM_DRAWS.items():
        place = draws.joint[:, :, JOINTS.index(f"{joint}{tail}")] if joint else draws.mid_asis
        missing = np.isnan(out[name]).all(axis=(0, -1)).reshape(-1, 1)
        out[name] = np.where(missing, np.nan, medial_frame(place, side))
    return out


def _of_peaks(trial: xr.Dataset, rows: list[Row], deviation: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Deviations of the peaks of paths: in proportion to the knee flexion at which they are reached."""
    points = measured_points(trial, rows[0].side)
    out: dict[str, FloatArray] = {}
    flexion = trial.variables["angle"].values[:, SIDES.index(rows[0].side), _KNEE_FLEXION]
    shares: dict[str, list[tuple[float, float]]] = {point: [] for point in POINTS}
    for row in rows:
        turned = points.turned(slice(row.start, row.end + 1), float(trial.variables["heading_deg"].values[row.start]))
        for point in POINTS:
            medial = turned[point][:, 2]
            lost = np.isnan(medial)
            most, least = int(np.where(lost, -np.inf, medial).argmax()), int(np.where(lost, np.inf, medial).argmin())
            share = _shares(flexion, row, np.array([most, least]) + row.start)
            shares[point].append((float(share[0]), float(share[1])))
    for point in POINTS:
        most_share, least_share = np.array(shares[point]).T
        out[f"{point}_peak_medial"] = most_share * deviation[f"{point}_travel"]
        out[f"{point}_peak_lateral"] = least_share * deviation[f"{point}_travel"]
    return out


def _peak_shares(trial: xr.Dataset, rows: list[Row]) -> tuple[FloatArray, FloatArray]:
    """How far between start and bottom each angle's largest and smallest value lie (repetition, joint_angle)."""
    s = SIDES.index(rows[0].side)
    angle = trial.variables["angle"].values[:, s]
    high, low = [], []
    for row in rows:
        part = angle[row.start : row.end + 1]
        lost = np.isnan(part)
        when = np.where(lost, -np.inf, part).argmax(axis=0), np.where(lost, np.inf, part).argmin(axis=0)
        high.append(_shares(angle[:, _KNEE_FLEXION], row, when[0] + row.start))
        low.append(_shares(angle[:, _KNEE_FLEXION], row, when[1] + row.start))
    return np.stack(high), np.stack(low)


def _shares(flexion: FloatArray, row: Row, frame: np.ndarray) -> FloatArray:
    span = flexion[row.bottom] - flexion[row.start]
    return np.clip((flexion[frame] - flexion[row.start]) / span, 0.0, 1.0) if span > 0 else np.ones(len(frame))
