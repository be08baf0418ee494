"""Everything said of a repetition beside its cause: planar reading, movement, validity, and the measures they rest on."""

from dataclasses import dataclass, field

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.adduction_split import adduction_split
from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.extremes import extremes
from condyle.mechanics.from_below import mirrored
from condyle.mechanics.twist import twist_keeping_adduction
from condyle.stages.accounts import Row
from condyle.stages.balance import Standing, over_the_foot
from condyle.stages.beside_the_verdict import as_finding, direction_of, of_a_bout, seen_in
from condyle.stages.causes import Limits
from condyle.stages.measured_points import landmark, mass_centre
from condyle.stages.planar_reading import planar_readings
from condyle.stages.validity import faults_of, looked_at, not_looked_for
from condyle.trial_data import labels_along

CORNERS = ("calcaneus", "metatarsal_5", "metatarsal_2", "metatarsal_1")  # round the foot
_KNEE_FLEXION, _KNEE_ADDUCTION = JOINT_ANGLES.index("knee_flexion"), JOINT_ANGLES.index("knee_adduction")


@dataclass
class Observations:
    """Per repetition: direction, readings, words, validity; and the measures added."""

    value: FloatArray
    direction: list[str] = field(default_factory=list)
    reading: list[str] = field(default_factory=list)
    words: list[list[str]] = field(default_factory=list)
    valid: list[bool] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def observe(trial: xr.Dataset, rows: list[Row], together: FloatArray, limits: Limits, planar: Limits) -> Observations:
    """Look at every repetition of the trial.

    ``together`` (repetition,): contributions of hip internal rotation and knee adduction to FPPA, summed.
    """
    names = list(labels_along(trial, "measure"))
    out = Observations(trial.variables["measure_value"].values.copy())
    looked = looked_at(trial, rows, limits)
    faults = faults_of(looked, limits)
    balance, split = _balance(trial, rows), _adduction_split(trial, rows)
    numbers, flexions = trial.variables["repetition_number"].values.tolist(), []
    said_camera, kneecaps = 0, set()
    of_rows = [dict(zip(names, values, strict=True)) for values in out.value.tolist()]
    least_shown = limits["shown_least_percent"].value / 100.0
    readings = planar_readings(trial, rows, of_rows, planar, least_shown)
    for k, (row, measured, reading) in enumerate(zip(rows, of_rows, readings, strict=True)):
        added = (
            reading.measures
            | {"com_outside_foot_bottom": balance[k].outside}
            | {"hip_adduction_by_pelvis": split[0, k], "hip_adduction_by_thigh": split[1, k]}
            | _twist(trial, row, measured, float(together[k]), limits)
        )
        measured |= added | {"com_ahead_of_foot": balance[k].ahead, "com_medial_of_foot": balance[k].medial}
        out.value[k, [names.index(n) for n in added]] = list(added.values())
        flexions.append(measured["knee_flexion_at_bottom"])
        subject = f"repetition {numbers[k]}, {row.side}"
        seen = seen_in(measured, limits)
        out.findings += [as_finding(s, subject, limits) for s in seen]
        for fault in faults[k]:
            limit = limits[fault.limit]
            advice = f"{fault.words}{fault.beside}: {limit.words} ({limit.source}); measured, and kept out of means."
            out.findings.append(
                Finding("repetition valid", subject, fault.value, limit.value, limit.unit, "review", advice)
            )
        out.words.append([s.words for s in seen] + [f"invalid: {f.words}" for f in faults[k]])
        out.valid.append(row.bottom_seen and not faults[k])
        out.direction.append(direction_of(measured, limits))
        out.reading.append(reading.frontal)
        said_camera += reading.told_apart
        kneecaps.add(reading.kneecap)
    out.findings += [
        *not_looked_for(trial, rows, looked),
        *of_a_bout(trial, rows, flexions, limits),
        *_about_the_view(kneecaps, said_camera),
    ]
    out.findings += _twist_findings(out.value, names, rows, numbers, limits)
    return out


def _about_the_view(kneecaps: set[str], other_by_camera: int) -> list[Finding]:
    out = []
    for stand_in, words in (("knee", "knee centre"), ("lateral_epicondyle", "lateral knee marker")):
        if stand_in in kneecaps:
            advice = f"no patella marker was seen: the kneecap-only view follows the {words} instead."
            out.append(Finding("planar reading", "patella", None, None, "", "review", advice))
    if other_by_camera:
        advice = (
            "repetitions that the virtual camera reads otherwise than the frontal plane does; perspective is not small."
        )
        out.append(Finding("planar reading", "camera", float(other_by_camera), 0.0, "1", "pass", advice))
    return out


def _balance(trial: xr.Dataset, rows: list[Row]) -> list[Standing]:
    """How the centre of mass stands to the stance foot's markers at each bottom."""
    mass = mass_centre(trial, np.array([r.bottom for r in rows], dtype=int)).position
    corners = {
        side: np.stack([landmark(trial, f"{n}_{side[0]}") for n in CORNERS], axis=1)[:, :, [0, 2]]
        for side in {r.side for r in rows}
    }
    return [over_the_foot(mass[k, [0, 2]], corners[r.side][r.bottom], r.side) for k, r in enumerate(rows)]


def _adduction_split(trial: xr.Dataset, rows: list[Row]) -> FloatArray:
    """(2, repetition) The change of hip adduction by the pelvis and by the thigh, degrees."""
    if not rows:
        return np.empty((2, 0))
    pose, frames = trial.variables["pose"].values, np.array([[r.start, r.bottom] for r in rows])
    thigh = pose[frames, np.array([[SEGMENTS.index(f"thigh_{r.side[0]}")] for r in rows])]
    pelvis, left = pose[frames, SEGMENTS.index("pelvis")], np.array([r.side == "left" for r in rows])
    pelvis[left], thigh[left] = mirrored(pelvis[left]), mirrored(thigh[left])
    both = np.rad2deg(adduction_split(pelvis[:, 1], thigh[:, 1], pelvis[:, 0], thigh[:, 0]))
    return np.where([r.bottom_seen for r in rows], both, np.nan)


def _twist(
    trial: xr.Dataset, row: Row, measured: dict[str, float], together: float, limits: Limits
) -> dict[str, float]:
    """The twist check; ``together``: contributions of hip internal rotation and knee adduction to FPPA, summed."""
    tail, angle = f"_{row.side[0]}", trial.variables["angle"].values[:, SIDES.index(row.side)]
    frames = slice(row.start, row.end + 1)
    little = angle[frames, _KNEE_FLEXION] <= limits["twist_from_flexion_deg"].value
    known = np.isfinite(measured["knee_adduction_change"]) and not little.all()  # not by a lateral marker alone
    pose = trial.variables["pose"].values[frames]
    thigh, shank = (pose[:, SEGMENTS.index(f"{n}{tail}")] for n in ("thigh", "shank"))
    between = transposed(thigh) @ shank
    between = mirrored(between) if row.side == "left" else between
    twist = np.rad2deg(twist_keeping_adduction(between, np.deg2rad(angle[row.start, _KNEE_ADDUCTION])))
    # from the start, where the turn that keeps adduction is none by definition
    peak = extremes(np.where(little, 0.0, twist)[:, None], row.bottom - row.start)
    span = float(np.maximum(peak.high, 0.0)[0] - np.minimum(peak.low, 0.0)[0]) if known else float("nan")
    return {
        "thigh_twist_range": span,
        # the two angles themselves change by as much the same way; their contributions to FPPA cancel
        "fppa_from_hip_rotation_and_knee_adduction": together if span > limits["twist_deg"].value else float("nan"),
    }


def _twist_findings(
    value: FloatArray, names: list[str], rows: list[Row], numbers: list[int], limits: Limits
) -> list[Finding]:
    """Always passed: beyond its limit soft tissue of usual size brings it, so that it informs and calls for nothing."""
    limit, out = limits["twist_deg"], []
    for k, row in enumerate(rows):
        span = float(value[k, names.index("thigh_twist_range")])
        if np.isnan(span):
            continue
        beyond = span > limit.value
        advice = (
            "the contributions of hip rotation and knee adduction are also given as a sum, which a twist of the thigh's markers "
            "leaves as it is; a misplaced epicondyle or a knee that truly adducts shows the same, so this decides nothing."
            if beyond
            else "range of the turn of the thigh that would keep knee adduction as at the start."
        )
        subject = f"repetition {numbers[k]}, {row.side}"
        out.append(Finding("thigh twist", subject, span, limit.value, limit.unit, "pass", advice))
    return out
