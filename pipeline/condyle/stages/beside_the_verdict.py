"""What else was seen in a repetition: pelvis, trunk, path, foot, balance, depth, tempo; each with value, limit, basis."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.findings import Finding, Verdict
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits

Measured = dict[str, float]


class Seen(NamedTuple):
    """One thing seen: words for the table, value, the limit's name, and whether the repetition should be looked at."""

    words: str
    value: float
    limit: str
    verdict: Verdict = "pass"


def seen_in(measured: Measured, limits: Limits) -> list[Seen]:
    """Everything beyond its limit in one repetition; a measure that is missing is not looked at."""
    found = [
        *_pelvis(measured, limits),
        *_trunk(measured, limits),
        *_path(measured, limits),
        *_foot_and_balance(measured, limits),
        *_depth(measured, limits),
        *_tempo(measured, limits),
    ]
    return [s for s in found if np.isfinite(s.value)]


def direction_of(measured: Measured, limits: Limits) -> str:
    """Where the knee went: medial, lateral, wavering or none; empty where it could not be followed."""
    point = "knee" if np.isfinite(measured["knee_travel"]) else "lateral_epicondyle"
    travel = measured[f"{point}_travel"]
    if np.isnan(travel):
        return ""
    if wavers(measured, point, limits):
        return "wavering"
    limit = limits["direction_mm"].value
    return "medial" if travel >= limit else "lateral" if travel <= -limit else "none"


def wavers(measured: Measured, point: str, limits: Limits) -> bool:
    """Several turns on a path that leads nowhere much."""
    straight = abs(measured[f"{point}_path_angle_descent"]) < limits["straight_path_deg"].value
    long = measured[f"{point}_path_ratio"] >= limits["wavering_path_ratio"].value
    return bool(measured[f"{point}_reversals"] >= limits["wavering_reversals"].value and (straight or long))


def of_a_bout(trial: xr.Dataset, rows: list[Row], flexion: list[float], limits: Limits) -> list[Finding]:
    """Number of repetitions against the protocol, and bottoms too unlike in depth to be compared."""
    out = []
    wanted, apart = limits["protocol_repetitions"], limits["depth_apart_deg"]
    for bout in sorted({r.bout for r in rows}):
        for side in sorted({r.side for r in rows if r.bout == bout}):
            deep = [f for f, r in zip(flexion, rows, strict=True) if (r.bout, r.side) == (bout, side)]
            subject = f"bout {bout + 1}, {side}"
            if trial.attrs.get("task") == "single_leg_squat" and len(deep) != wanted.value:
                advice = f"{len(deep)} repetitions were found, {wanted.value:g} are usual ({wanted.source})."
                out.append(
                    Finding("number of repetitions", subject, float(len(deep)), wanted.value, "1", "review", advice)
                )
            known = np.array([f for f in deep if np.isfinite(f)])
            if known.size > 1 and np.ptp(known) > apart.value:
                advice = (
                    "knee flexion at the bottoms differs by this much, and depth drives FPPA: compare these repetitions at "
                    f"60 degrees of knee flexion, never bottom with bottom ({apart.source})."
                )
                out.append(
                    Finding("depths differ", subject, float(np.ptp(known)), apart.value, "deg", "review", advice)
                )
    return out


def as_finding(seen: Seen, subject: str, limits: Limits) -> Finding:
    """The row of the quality table."""
    limit = limits[seen.limit]
    advice = f"{seen.words}: {limit.words} ({limit.source})."
    return Finding("movement", subject, seen.value, limit.value, limit.unit, seen.verdict, advice)


def _pelvis(m: Measured, limits: Limits) -> list[Seen]:
    up, change = m["pelvis_obliquity_at_bottom"], m["pelvis_obliquity_change"]
    limit, least = limits["free_side_deg"].value, limits["free_side_change_deg"].value
    out = []
    if up >= limit and change >= least:
        out.append(Seen("free side of the pelvis dropped", up, "free_side_deg"))
    if up <= -limit and change <= -least:
        out.append(Seen("free side of the pelvis hiked", up, "free_side_deg"))
    shift = m["hip_centre_shift"]
    if abs(shift) >= limits["hip_shift_mm"].value:
        words = "medially" if shift > 0 else "laterally"
        out.append(Seen(f"hip centre shifted {words}", shift, "hip_shift_mm"))
    return out


def _trunk(m: Measured, limits: Limits) -> list[Seen]:
    """The trunk itself where it was seen, else the lines that stand in for it, under their own names."""
    whole = np.isfinite(m["trunk_lean_change"])
    name, lean = ("trunk", "trunk_lean_change") if whole else ("trunk line", "trunk_line_lean_change")
    out = []
    if abs(m[lean]) >= limits["trunk_lean_deg"].value:
        words = "towards" if m[lean] > 0 else "away from"
        out.append(Seen(f"{name} leaned {words} the stance side", m[lean], "trunk_lean_deg"))
    name, turn = ("trunk", "trunk_rotation_change") if whole else ("shoulder line", "shoulder_line_rotation_change")
    both = m[turn], m["pelvis_rotation_change"]
    if min(abs(b) for b in both) >= limits["trunk_turn_deg"].value and np.prod(both) > 0:
        out.append(Seen(f"{name} and pelvis turned together", m[turn], "trunk_turn_deg"))
    return out


def _path(m: Measured, limits: Limits) -> list[Seen]:
    point = "knee" if np.isfinite(m["knee_travel"]) else "lateral_epicondyle"
    out = []
    if wavers(m, point, limits):
        out.append(Seen("knee wavered", m[f"{point}_reversals"], "wavering_reversals"))
    if m[f"{point}_sparc"] <= limits["wavering_sparc"].value:
        out.append(Seen("knee moved unsteadily", m[f"{point}_sparc"], "wavering_sparc"))
    ways = m[f"{point}_path_angle_descent"] - m[f"{point}_path_angle_ascent"]
    if abs(ways) >= limits["return_path_deg"].value:
        out.append(Seen("knee came back another way", ways, "return_path_deg"))
    end = m[f"{point}_end_offset"]
    if abs(end) >= limits["end_offset_mm"].value:
        out.append(Seen("knee ended elsewhere than it started", end, "end_offset_mm"))
    return out


def _foot_and_balance(m: Measured, limits: Limits) -> list[Seen]:
    out = []
    if m["com_outside_foot_bottom"] >= limits["off_foot_mm"].value:
        words = "medially" if m["com_offset_bottom"] > 0 else "laterally"
        out.append(Seen(f"centre of mass off the foot {words}", m["com_outside_foot_bottom"], "off_foot_mm"))
    if m["heel_lift"] >= limits["heel_lift_mm"].value:
        out.append(Seen("heel lifted", m["heel_lift"], "heel_lift_mm"))
    return out


def _depth(m: Measured, limits: Limits) -> list[Seen]:
    out = []
    if m["knee_flexion_at_bottom"] < limits["shallow_deg"].value:
        out.append(Seen("too shallow to judge", m["knee_flexion_at_bottom"], "shallow_deg", "review"))
    shown = m["leg_shown_at_bottom"]
    for name, words in (("shown_least_percent", "is not given"), ("shown_review_percent", "is unreliable")):
        if shown < limits[name].value:
            return [*out, Seen(f"thigh or shank foreshortened, FPPA {words}", shown, name, "review")]
    return out


def _tempo(m: Measured, limits: Limits) -> list[Seen]:
    spent, usual = m["descent_time"] + m["ascent_time"], limits["protocol_squat_s"].value
    if abs(spent - usual) <= usual * limits["protocol_apart_percent"].value / 100.0:
        return []
    words = "slower" if spent > usual else "faster"
    return [Seen(f"{words} than the protocol", spent, "protocol_squat_s", "review")]
