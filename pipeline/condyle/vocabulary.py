"""Every variable and coordinate that a trial may carry: dimensions, kind of number, unit and sign, once.

A trial is an ``xarray.Dataset``. A stage adds to it with :func:`condyle.trial_data.put`, which refuses what stands not here;
the attributes of the NetCDF files and the dictionary in the docs come from these tables.
"""

from collections.abc import Hashable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """One variable or coordinate: its dimensions, kind of number ('f', 'i', 'b', 'U'), unit, and what it is."""

    dims: tuple[str, ...]
    kind: str
    unit: str
    words: str


COORDINATES: dict[str, Entry] = {
    "time": Entry(("time",), "f", "s", "time from the file's own first frame"),
    "marker": Entry(("marker",), "U", "", "anatomical name where the marker set gives one, else the lab's label"),
    "label": Entry(("marker",), "U", "", "the lab's label of the marker"),
    "axis": Entry(("axis",), "U", "", "x anterior, y superior, z to the participant's right"),
    "segment": Entry(("segment",), "U", "", "segment"),
    "segment_axis": Entry(
        ("segment_axis",), "U", "", "column of a pose: anterior, superior, right axis of the segment"
    ),
    "body_point": Entry(("body_point",), "U", "", "marker or joint centre"),
    "joint": Entry(("joint",), "U", "", "joint centre"),
    "side": Entry(("side",), "U", "", "side of the body"),
    "joint_angle": Entry(("joint_angle",), "U", "", "angle"),
    "part": Entry(("part",), "U", "", "knee or ankle"),
    "bout": Entry(("bout",), "i", "1", "run of repetitions on one leg, counted from 1"),
    "repetition": Entry(("repetition",), "i", "1", "row: one repetition on one measured side, counted from 1"),
    "measure": Entry(("measure",), "U", "", "measure of a repetition"),
    "measure_unit": Entry(("measure",), "U", "", "unit of the measure"),
    "account": Entry(("account",), "U", "", "what is explained, and from which baseline"),
    "account_unit": Entry(("account",), "U", "", "unit of the account"),
    "course": Entry(("course",), "U", "", "account whose course over time is kept"),
    "source": Entry(("source",), "U", "", "part that contributes, sagittal base, or remainder"),
}

VARIABLES: dict[str, Entry] = {
    # what was recorded
    "point": Entry(("time", "marker", "axis"), "f", "mm", "marker position; NaN where missing"),
    "seen_as_read": Entry(("time", "marker"), "b", "1", "the recording as read shows the marker"),
    "fit_as_read": Entry(
        ("time", "segment"), "f", "mm", "fit_rms of the recording as read, before repair, filling and filter"
    ),
    "filled": Entry(
        ("time", "marker"), "i", "1", "0 seen, 1 from the rigid cluster, 2 cubic spline, 3 from the pelvis ladder"
    ),
    "pelvis_rung": Entry(
        ("time",), "i", "1", "0 seen, 1 from three other pelvis markers, 2 with the hip centres, 3 no pelvis"
    ),
    "centre_of_pressure": Entry(
        ("time", "axis"), "f", "mm", "centre of pressure on the force plates; NaN where none carries weight"
    ),
    # what the static trial taught
    "tracking": Entry(("segment", "body_point"), "b", "1", "which points move with the segment and give its pose"),
    "segment_kind": Entry(("segment",), "U", "", "plate or skin: how the tracking points are held together"),
    "static_only": Entry(("marker",), "b", "1", "taken off after the static trial"),
    "static_point": Entry(
        ("marker", "axis"), "f", "mm", "mean marker position in the still half second of the static trial"
    ),
    "calibrated_point": Entry(("segment", "body_point", "axis"), "f", "mm", "point in the segment's anatomical frame"),
    "static_pose": Entry(("segment", "axis", "segment_axis"), "f", "1", "segment axes in the static trial, as columns"),
    "static_origin": Entry(("segment", "axis"), "f", "mm", "segment origin in the static trial"),
    "static_angle": Entry(("side", "joint_angle"), "f", "deg", "angle in the static trial"),
    "static_fit": Entry(("segment",), "f", "mm", "sqrt(sum |r|^2 / N) of the tracking points within the static trial"),
    "leg_length": Entry(("side",), "f", "mm", "measured leg length, else static hip - knee - ankle centres"),
    "lateral_only": Entry(
        ("side", "part"), "b", "1", "no medial point and no width: the lateral marker stands for the knee, the ankle"
    ),
    # poses
    "pose": Entry(
        ("time", "segment", "axis", "segment_axis"), "f", "1", "segment axes as columns, in the participant frame"
    ),
    "origin": Entry(("time", "segment", "axis"), "f", "mm", "segment origin in the participant frame"),
    "hung": Entry(("segment",), "b", "1", "the pose rests on a joint centre carried by the segment above"),
    "fit_rms": Entry(("time", "segment"), "f", "mm", "sqrt(sum |r|^2 / N) of the rigid fit"),
    "joint_centre": Entry(
        ("time", "joint", "axis"), "f", "mm", "hip centre carried by the pelvis, knee by the thigh, ankle by the shank"
    ),
    "heading_deg": Entry(
        ("time",), "f", "deg", "heading of the frame's own bout relative to the trial's participant frame"
    ),
    "bout_side": Entry(("bout",), "U", "", "stance side of the bout: left, right or both"),
    "bout_faced": Entry(
        ("bout",),
        "b",
        "1",
        "the participant faces straight ahead as it is in use, near enough for the bout to be measured",
    ),
    "bout_start_s": Entry(("bout",), "f", "s", "start of the bout"),
    "bout_end_s": Entry(("bout",), "f", "s", "end of the bout"),
    "stance_start_s": Entry(
        ("bout",), "f", "s", "start of the stillest half second before the bout's first repetition"
    ),
    "stance_end_s": Entry(("bout",), "f", "s", "end of that half second"),
    "heading_at_start": Entry(
        ("bout",), "f", "deg", "heading by pelvis_at_start, relative to the trial's participant frame"
    ),
    "heading_by_foot": Entry(("bout",), "f", "deg", "heading by static_pelvis_by_foot, likewise"),
    "pelvis_over_foot": Entry(
        ("bout",), "f", "deg", "pelvis turned on the stance foot at the bout's start, less static"
    ),
    # angles
    "angle": Entry(("time", "side", "joint_angle"), "f", "deg", "angle; positive alike on both sides"),
    # repetitions: a row each, on each measured side
    "repetition_number": Entry(
        ("repetition",), "i", "1", "repetition, counted from 1 through the trial; the two sides of one squat share it"
    ),
    "repetition_side": Entry(("repetition",), "U", "", "measured side: left or right"),
    "repetition_bout": Entry(("repetition",), "i", "1", "bout the repetition belongs to"),
    "repetition_start": Entry(("repetition",), "i", "1", "first frame of the repetition, counted from 0"),
    "repetition_bottom": Entry(("repetition",), "i", "1", "frame of peak knee flexion of the measured leg"),
    "repetition_end": Entry(("repetition",), "i", "1", "last frame of the repetition"),
    "repetition_start_s": Entry(("repetition",), "f", "s", "time of the start"),
    "repetition_bottom_s": Entry(("repetition",), "f", "s", "time of the bottom"),
    "repetition_end_s": Entry(("repetition",), "f", "s", "time of the end"),
    "repetition_at_60": Entry(
        ("repetition",),
        "f",
        "1",
        "frame, with its fraction, at which the knee passes 60 degrees of flexion on the way down",
    ),
    "repetition_bottom_seen": Entry(("repetition",), "b", "1", "knee flexion was seen at and beside the bottom"),
    "repetition_valid": Entry(
        ("repetition",), "b", "1", "counts in means; an invalid one is measured and kept out of them"
    ),
    "repetition_findings": Entry(("repetition",), "U", "", "what was found about the repetition, joined by ;"),
    "measure_value": Entry(
        ("repetition", "measure"), "f", "", "value in the measure's unit; NaN where it cannot be had"
    ),
    "measure_lower": Entry(("repetition", "measure"), "f", "", "lower 95 % limit of the value; NaN where not computed"),
    "measure_upper": Entry(("repetition", "measure"), "f", "", "upper 95 % limit of the value; NaN where not computed"),
    # which part moved the knee
    "contribution": Entry(
        ("repetition", "account", "source"),
        "f",
        "",
        "part of a change, in the account's unit; over sources they sum to it",
    ),
    "contribution_lower": Entry(
        ("repetition", "account", "source"), "f", "", "lower 95 % limit; NaN where not computed"
    ),
    "contribution_upper": Entry(
        ("repetition", "account", "source"), "f", "", "upper 95 % limit; NaN where not computed"
    ),
    "contribution_course": Entry(
        ("time", "side", "course", "source"), "f", "", "contribution over time within repetitions; NaN between them"
    ),
    "repetition_direction": Entry(("repetition",), "U", "", "where the knee went: medial, lateral, wavering or none"),
    "repetition_cause": Entry(("repetition",), "U", "", "which part moved the knee, or not_separable"),
    "repetition_explains": Entry(
        ("repetition",), "U", "", "the account (measure and baseline) that the cause explains"
    ),
    "repetition_confidence": Entry(
        ("repetition",), "f", "1", "share of the Monte Carlo draws that name the cause; NaN where not computed"
    ),
    "repetition_from_below": Entry(("repetition",), "U", "", "which part moved the knee, seen from the floor"),
    "repetition_planar_reading": Entry(("repetition",), "U", "", "what a kneecap-only view would have said"),
    "repetition_misread": Entry(
        ("repetition",), "U", "", "yes or no: does that reading blame another part; empty where it cannot be said"
    ),
}

CALIBRATION = (
    *("tracking", "segment_kind", "static_only", "static_point", "calibrated_point", "static_pose", "static_origin"),
    *("static_angle", "static_fit", "leg_length", "lateral_only"),
)
FUNCTIONAL = "functional_"  # functional_<joint>(functional_time_<joint>, marker, axis): a calibration trial's markers


def entry_of(name: Hashable) -> Entry | None:
    """The entry of a variable or coordinate; None where the vocabulary has none."""
    text = str(name)
    if text.startswith(FUNCTIONAL):
        what = text.removeprefix(FUNCTIONAL)
        return Entry(
            (f"{FUNCTIONAL}time_{what}", "marker", "axis"), "f", "mm", f"markers of the calibration trial for {what}"
        )
    return VARIABLES.get(text) or COORDINATES.get(text)
