"""What else was seen in a repetition: pelvis, trunk, path, foot, balance, depth, tempo; each with value, limit, basis.

The words of the repetition and its rows in the quality table are made from the same list, so that none is without the other.
"""

from typing import Literal, NamedTuple

import numpy as np
import xarray as xr

from condyle.files.limits import Limit
from condyle.findings import Finding, Verdict
from condyle.stages.accounts import Row
from condyle.stages.balance import side_words
from condyle.stages.causes import Limits

Measured = dict[str, float]
Words = Literal[  # all that may be said here; who filters the tables by them finds them written out
    "free side of the pelvis dropped",
    "free side of the pelvis hiked",
    "hip centre shifted medially",
    "hip centre shifted laterally",
    "trunk leaned towards the stance side",
    "trunk leaned away from the stance side",
    "trunk line leaned towards the stance side",
    "trunk line leaned away from the stance side",
    "trunk and pelvis turned together",
    "shoulder line and pelvis turned together",
    "knee wavered",
    "knee moved unsteadily",
    "knee came back another way",
    "knee ended elsewhere than it started",
    "centre of mass off the foot",
    "centre of mass off the foot forwards",
    "centre of mass off the foot backwards",
    "centre of mass off the foot medially",
    "centre of mass off the foot laterally",
    "heel lifted",
    "too shallow to judge",
    "thigh or shank foreshortened, FPPA is not given",
    "thigh or shank foreshortened, FPPA is unreliable",
    "slower than the protocol",
    "faster than the protocol",
    "the pelvis dropped over the thigh",
    "the pelvis moved over the thigh",
]
_LEANED: dict[tuple[bool, bool], Words] = {  # (the trunk itself, towards the stance side)
    (True, True): "trunk leaned towards the stance side",
    (True, False): "trunk leaned away from the stance side",
    (False, True): "trunk line leaned towards the stance side",
    (False, False): "trunk line leaned away from the stance side",
}
_OFF_FOOT: dict[str, Words] = {
    "": "centre of mass off the foot",
    "forwards": "centre of mass off the foot forwards",
    "backwards": "centre of mass off the foot backwards",
    "medially": "centre of mass off the foot medially",
    "laterally": "centre of mass off the foot laterally",
}


class Seen(NamedTuple):
    """One thing seen: words for the table, value, the limit's name, and whether the repetition should be looked at.

    ``applied``: the number that was compared, where it is not the limit's own; ``also``: further limits that had a say.
    """

    words: Words
    value: float
    limit: str
    verdict: Verdict = "pass"
    applied: float | None = None
    also: tuple[str, ...] = ()


def seen_in(measured: Measured, limits: Limits) -> list[Seen]:
    """Everything beyond its limit in one repetition; a measure that is missing is not looked at."""
    found = [
        *_pelvis(measured, limits),
        *_trunk(measured, limits),
        *_path(measured, limits),
        *_foot_and_balance(measured, limits),
        *_depth(measured, limits),
        *_tempo(measured, limits),
        *_over_the_thigh(measured, limits),
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
            out += unlike_bottoms(subject, deep, apart)
    return out


def unlike_bottoms(subject: str, flexion: list[float], apart: Limit) -> list[Finding]:
    """A row where the bottoms of one bout, by their knee flexion [deg], are too unlike in depth to be compared."""
    known = np.array([f for f in flexion if np.isfinite(f)])
    if known.size < 2 or np.ptp(known) <= apart.value:
        return []
    advice = (
        "knee flexion at the bottoms differs by this much, and depth drives FPPA: compare these repetitions at "
        f"60 degrees of knee flexion, never bottom with bottom ({apart.source})."
    )
    return [Finding("depths differ", subject, float(np.ptp(known)), apart.value, "deg", "review", advice)]


def as_finding(seen: Seen, subject: str, limits: Limits) -> Finding:
    """The row of the quality table."""
    limit = limits[seen.limit]
    applied = limit.value if seen.applied is None else seen.applied
    number = "" if abs(applied) == abs(limit.value) else f", {limit.value:g} {limit.unit}"
    more = "".join(f"; {o.words}, {o.value:g} {o.unit} ({o.source})" for o in (limits[name] for name in seen.also))
    advice = f"{seen.words}: {limit.words}{number} ({limit.source}){more}."
    return Finding("movement", subject, seen.value, applied, limit.unit, seen.verdict, advice)


def _two_sided(
    words: Words, value: float, name: str, limits: Limits, verdict: Verdict = "pass", also: tuple[str, ...] = ()
) -> Seen:
    """Something that lies beyond a limit either way: the limit applied has the value's sign."""
    return Seen(words, value, name, verdict, float(np.copysign(limits[name].value, value)), also)


def _pelvis(m: Measured, limits: Limits) -> list[Seen]:
    up, change = m["pelvis_obliquity_at_bottom"], m["pelvis_obliquity_change"]
    limit, least = limits["free_side_deg"].value, limits["free_side_change_deg"].value
    out: list[Seen] = []
    also = ("free_side_change_deg",)
    if up >= limit and change >= least:
        out.append(_two_sided("free side of the pelvis dropped", up, "free_side_deg", limits, also=also))
    if up <= -limit and change <= -least:
        out.append(_two_sided("free side of the pelvis hiked", up, "free_side_deg", limits, also=also))
    shift = m["hip_centre_shift"]
    if abs(shift) >= limits["hip_shift_mm"].value:
        words: Words = "hip centre shifted medially" if shift > 0 else "hip centre shifted laterally"
        out.append(_two_sided(words, shift, "hip_shift_mm", limits))
    return out


def _trunk(m: Measured, limits: Limits) -> list[Seen]:
    """The trunk itself where it was seen, else the lines that stand in for it, under their own names."""
    whole = bool(np.isfinite(m["trunk_lean_change"]))
    lean = m["trunk_lean_change" if whole else "trunk_line_lean_change"]
    out = []
    if abs(lean) >= limits["trunk_lean_deg"].value:
        out.append(_two_sided(_LEANED[whole, lean > 0], lean, "trunk_lean_deg", limits))
    turn = m["trunk_rotation_change" if whole else "shoulder_line_rotation_change"]
    both = turn, m["pelvis_rotation_change"]
    if min(abs(b) for b in both) >= limits["trunk_turn_deg"].value and np.prod(both) > 0:
        words: Words = "trunk and pelvis turned together" if whole else "shoulder line and pelvis turned together"
        out.append(_two_sided(words, turn, "trunk_turn_deg", limits))
    return out


def _path(m: Measured, limits: Limits) -> list[Seen]:
    point = "knee" if np.isfinite(m["knee_travel"]) else "lateral_epicondyle"
    out = []
    if wavers(m, point, limits):
        also = ("straight_path_deg", "wavering_path_ratio")
        out.append(Seen("knee wavered", m[f"{point}_reversals"], "wavering_reversals", also=also))
    if m[f"{point}_sparc"] <= limits["wavering_sparc"].value:
        out.append(Seen("knee moved unsteadily", m[f"{point}_sparc"], "wavering_sparc"))
    ways = m[f"{point}_path_angle_descent"] - m[f"{point}_path_angle_ascent"]
    if abs(ways) >= limits["return_path_deg"].value:
        out.append(_two_sided("knee came back another way", ways, "return_path_deg", limits))
    end = m[f"{point}_end_offset"]
    if abs(end) >= limits["end_offset_mm"].value:
        out.append(_two_sided("knee ended elsewhere than it started", end, "end_offset_mm", limits))
    return out


def _foot_and_balance(m: Measured, limits: Limits) -> list[Seen]:
    out = []
    if m["com_outside_foot_bottom"] >= limits["off_foot_mm"].value:
        side = side_words(m["com_ahead_of_foot"], m["com_medial_of_foot"])
        out.append(Seen(_OFF_FOOT[side], m["com_outside_foot_bottom"], "off_foot_mm"))
    if m["heel_lift"] >= limits["heel_lift_mm"].value:
        out.append(Seen("heel lifted", m["heel_lift"], "heel_lift_mm"))
    return out


def _depth(m: Measured, limits: Limits) -> list[Seen]:
    out = []
    if m["knee_flexion_at_bottom"] < limits["shallow_deg"].value:
        out.append(Seen("too shallow to judge", m["knee_flexion_at_bottom"], "shallow_deg", "review"))
    shown = m["leg_shown_at_bottom"]
    if shown < limits["shown_least_percent"].value:
        words: Words = "thigh or shank foreshortened, FPPA is not given"
        out.append(Seen(words, shown, "shown_least_percent", "review"))
    elif shown < limits["shown_review_percent"].value:
        words = "thigh or shank foreshortened, FPPA is unreliable"
        out.append(Seen(words, shown, "shown_review_percent", "review"))
    return out


def _tempo(m: Measured, limits: Limits) -> list[Seen]:
    """Against the protocol's time and what it may be missed by: the limit applied is the one with the other."""
    spent, usual = m["descent_time"] + m["ascent_time"], limits["protocol_squat_s"].value
    apart = usual * limits["protocol_apart_percent"].value / 100.0
    if abs(spent - usual) <= apart:
        return []
    late = spent > usual
    words: Words = "slower than the protocol" if late else "faster than the protocol"
    edge = usual + apart if late else usual - apart
    return [Seen(words, spent, "protocol_squat_s", "review", edge, ("protocol_apart_percent",))]


def _over_the_thigh(m: Measured, limits: Limits) -> list[Seen]:
    """Obliquity hardly shows in FPPA: an adducted hip may be a pelvis that dropped."""
    change, part = m["hip_adduction_change"], m["hip_adduction_by_pelvis"]
    if not change >= limits["little_deg"].value or not part >= limits["pelvis_share_percent"].value / 100.0 * change:
        return []
    dropped = m["pelvis_obliquity_change"] >= limits["free_side_change_deg"].value
    words: Words = "the pelvis dropped over the thigh" if dropped else "the pelvis moved over the thigh"
    also = ("free_side_change_deg",) if dropped else ()
    return [Seen(words, 100.0 * part / change, "pelvis_share_percent", also=also)]
