"""Every column of every results table: its unit and what it is, in words. The output dictionary comes from here."""

from typing import NamedTuple


class Column(NamedTuple):
    """One column of a table."""

    unit: str
    words: str


_WHO = {
    "participant": Column("", "the participant's pseudonym, as in the session file"),
    "session": Column("", "name of the session, as in the session file"),
    "trial": Column("", "name of the trial: its file's stem, or `name:` of the session file"),
}
_TASK = {
    "task": Column("", "`single_leg_squat`, `step_down`, `double_leg_squat` or `other`, as declared"),
    "condition": Column("", "the session file's free words on the condition, `key=value` joined by `; `"),
}
_SIDE = Column("", "measured side: `left` or `right`; the stance side of a single-leg task")
_COUNTED = {
    "side": _SIDE,
    "bout": Column("", "run of repetitions on one leg, counted from 1 through the trial"),
    "repetition": Column("", "repetition, counted from 1 through the trial; both legs of a double-leg squat share it"),
}
_LIMITS = {
    "lower": Column("as value", "lower 95 % limit by Monte Carlo; empty where not computed"),
    "upper": Column("as value", "upper 95 % limit by Monte Carlo; empty where not computed"),
}
_VALUE = {
    "value": Column("see `unit`", "the value; empty where its frame was not seen"),
    "unit": Column("", "unit of the value: deg, mm, s, %, or 1 for a pure number"),
    **_LIMITS,
}
_OVERRIDDEN = {
    "overridden": Column(
        "",
        "rejects of this trial or its standing trial that the session file lets through (`accept:`): subject, check, reason; "
        "empty where none was",
    )
}

TABLES: dict[str, tuple[str, dict[str, Column]]] = {
    "measures": (
        "A row per repetition, side and measure. What a trial cannot give at all has no rows.",
        {
            **_WHO,
            **_TASK,
            **_COUNTED,
            "measure": Column("", "name of the measure, see [Measures](#measures)"),
            **_VALUE,
            **_OVERRIDDEN,
        },
    ),
    "contributions": (
        "A row per repetition, side, account and source. Over the sources of an account, the values sum to its change.",
        {
            **_WHO,
            **_COUNTED,
            "measure": Column("", "what is explained and from which baseline, see [Accounts](#accounts-and-sources)"),
            "source": Column("", "which part, see [Accounts](#accounts-and-sources)"),
            **_VALUE,
            "value": Column(
                "see `unit`", "what the source contributes, at the bottom unless the account's name says otherwise"
            ),
            **_OVERRIDDEN,
        },
    ),
    "repetitions": (
        "A row per repetition and side.",
        {
            **_WHO,
            **_COUNTED,
            "start_s": Column("s", "start, from the file's own first frame"),
            "bottom_s": Column("s", "bottom: peak knee flexion of the measured leg"),
            "end_s": Column("s", "end"),
            "depth_mm": Column("mm", "drop of the measured leg's hip centre from start to bottom"),
            "direction": Column(
                "", "where the knee went: `medial`, `lateral`, `wavering` or `none`; empty where not said"
            ),
            "cause": Column("", "which part moved the knee, see [Causes](#causes); where it happened, not why"),
            "explains": Column("", "the account that the cause explains, such as `fppa` or `fppa_from_standing`"),
            "confidence": Column("1", "share of the Monte Carlo draws that name this cause; empty without draws"),
            "from_below": Column("", "which part moved the shank, seen from the floor, see [Causes](#causes)"),
            "findings": Column(
                "",
                "what was found about the repetition, joined by `;`; overridden rejects follow as `accepted by hand: ...`",
            ),
            "valid": Column("", "`true` where it counts in means; an invalid one is measured and kept out of them"),
            "planar_reading": Column("", "what a kneecap-only view would have said"),
            "misread": Column("", "`yes` or `no`: does that reading blame another part; empty where it cannot be said"),
        },
    ),
    "summary": (
        "Over the valid repetitions of a side, task and condition. `lower` and `upper` are means of the repetitions' own "
        "limits: a misplaced marker moves all of them alike, so their number does not narrow the interval.",
        {
            **{k: v for k, v in _WHO.items() if k != "trial"},
            "side": _SIDE,
            **_TASK,
            "measure": Column("", "name of the measure, see [Measures](#measures)"),
            "n": Column("1", "number of valid repetitions that have a value"),
            "mean": Column("as the measure", "mean"),
            "sd": Column("as the measure", "standard deviation between repetitions (n - 1)"),
            "median": Column("as the measure", "median"),
            "lower": Column("as the measure", "mean of the repetitions' lower 95 % limits; empty where not computed"),
            "upper": Column("as the measure", "mean of the repetitions' upper 95 % limits; empty where not computed"),
            "overridden": Column("", "as in `measures.csv`, with the trials that they are about"),
        },
    ),
    "curves": (
        "A row per repetition, side and percent: 0 is the start, 50 the bottom, 100 the end. Beside these columns stand one "
        "for every angle (deg; [Angles](#angles)), `POINT_forward_mm`, `POINT_up_mm`, `POINT_medial_mm` for every path "
        "(from where the point is at the start) and `ACCOUNT_by_SOURCE` for every course of contributions "
        "([Accounts](#accounts-and-sources)); `overridden` is the last. A curve that no trial of the session has is left out.",
        {
            **_WHO,
            **_TASK,
            **_COUNTED,
            "valid": Column("", "as in `repetitions.csv`"),
            "percent": Column("%", "0 start, 50 bottom, 100 end, whole numbers"),
            "time_s": Column("s", "time of this percent, from the file's own first frame"),
            **_OVERRIDDEN,
        },
    ),
    "quality": (
        "A row per finding. A `reject` on the file, the pelvis or a measured leg keeps the trial out of all other tables.",
        {
            **_WHO,
            "subject": Column("", "what was looked at: a marker's label, a segment, a joint, `file`"),
            "check": Column("", "name of the check; `accept:` in the session file refers to it"),
            "value": Column("see `unit`", "what was found; empty where the check has no number"),
            "limit": Column("see `unit`", "what it was compared with; empty where there is none"),
            "unit": Column("", "unit of value and limit"),
            "verdict": Column("", "`pass`, `review` or `reject`"),
            "advice": Column("", "one sentence: what was found, and what to do"),
        },
    ),
}

SESSIONS: dict[str, Column] = {
    "folder": Column("", "folder of the session below the archive's root"),
    "participant": _WHO["participant"],
    "session": _WHO["session"],
    "status": Column("", "`done`, `rejected` (no movement trial left) or `failed`"),
    "reason": Column("", "why it was rejected or failed; empty otherwise"),
    "seconds": Column("s", "time that the session took"),
}

_PAIRED: dict[str, Column] = {
    "participant": _WHO["participant"],
    "first": Column("", "name of the participant's first session"),
    "second": Column("", "name of the session compared with it"),
}
REPEATABILITY: dict[str, tuple[str, dict[str, Column]]] = {
    "compared": (
        "A row for each session compared with the participant's first: what was found.",
        {
            **_PAIRED,
            "tester_first": Column("", "who placed the markers in the first"),
            "tester_second": Column("", "who placed them in the second"),
            "landmarks": Column("1", "landmarks that both have"),
            "spread": Column(
                "1", "spread of the landmarks not named, as a multiple of what palpation is held to spread"
            ),
            "moved": Column("", "landmarks beyond palpation, `;`-separated"),
            "turned_segment": Column("", "segment whose axes are turned most"),
            "turned_about": Column("", "axis about which: `anterior`, `superior`, `right`"),
            "turned_deg": Column("deg", "by how much"),
            "shifted_angle": Column("", "joint or segment angle that the other placing alone shifts most"),
            "shifted_side": Column("", "side of that angle"),
            "shifted_deg": Column("deg", "by how much"),
            "standing_changed": Column("1", "standing angles to be looked at"),
            "distances_changed": Column("1", "distances to be looked at"),
            "verdict": Column(
                "", "`review` where a landmark, the axes or all landmarks are to be looked at, else `pass`"
            ),
        },
    ),
    "landmarks": (
        "Each session against the participant's first: where a landmark lies, told by all others; worst first.",
        {
            **_PAIRED,
            "tester_first": Column("", "who placed the markers in the first"),
            "tester_second": Column("", "who placed them in the second"),
            "segment": Column("", "segment of the landmark"),
            "landmark": Column("", "anatomical name"),
            "anterior_mm": Column("mm", "placed this far to the front, along the segment's axis"),
            "superior_mm": Column("mm", "placed this far up"),
            "right_mm": Column("mm", "placed this far to the participant's right"),
            "distance_mm": Column("mm", "length of the three together"),
            "limit_mm": Column("mm", "what palpation explains in this direction, as far as the others tell"),
            "directions": Column("1", "directions, of three, in which the others tell where it is"),
            "or_else": Column(
                "", "landmarks that explain the difference about as well, `;`-separated; empty where it is clear"
            ),
            "verdict": Column("", "`review` beyond the limit, `pass`, or `not told` where the others do not say"),
        },
    ),
    "distances": (
        "Distances between landmarks of a segment, and thigh and shank length, session against session; worst first.",
        {
            **_PAIRED,
            "segment": Column("", "segment"),
            "from": Column("", "landmark or joint centre"),
            "to": Column("", "landmark or joint centre"),
            "first_mm": Column("mm", "distance in the first session"),
            "second_mm": Column("mm", "distance in the second"),
            "change_mm": Column("mm", "second less first"),
            "limit_mm": Column(
                "mm", "what palpation explains, in all distances of the pair but for the share of false alarms"
            ),
            "verdict": Column("", "`review` beyond the limit, else `pass`"),
        },
    ),
    "axes": (
        "How far each segment's axes are turned against the participant's first session by another placing; worst first.",
        {
            **_PAIRED,
            "segment": Column("", "segment"),
            "about": Column(
                "", "the first session's axis: `anterior`, `superior` (the long axis of thigh and shank), `right`"
            ),
            "turned_deg": Column("deg", "part of the rotation vector along that axis, right-handed"),
            "lower_deg": Column("deg", "lower 95 % limit: how well the landmarks tell the bone"),
            "upper_deg": Column("deg", "upper 95 % limit"),
            "palpation_deg": Column("deg", "half of the range in which 95 % of sound pairs lie, by palpation alone"),
            "limit_deg": Column("deg", "turn that matters to angles"),
            "verdict": Column("", "`review` beyond `limit_deg` where the interval does not hold 0, else `pass`"),
        },
    ),
    "centres": (
        "How far each joint centre lies, on the bone that carries it, from where the first session had it; worst first.",
        {
            **_PAIRED,
            "joint": Column("", "joint centre"),
            "anterior_mm": Column("mm", "shifted this far to the front, along the axis of the segment that carries it"),
            "superior_mm": Column("mm", "shifted this far up"),
            "right_mm": Column("mm", "shifted this far to the participant's right"),
            "distance_mm": Column("mm", "length of the three together"),
            "limit_mm": Column("mm", "1.96 times the root mean square of what palpation alone makes"),
            "verdict": Column("", "`review` beyond the limit, else `pass`"),
        },
    ),
    "standing": (
        "Every standing angle in either session; those that changed most first.",
        {
            **_PAIRED,
            "side": Column("", "side"),
            "angle": Column("", "angle, see [angles](#angles)"),
            "first_deg": Column("deg", "angle in the first session"),
            "second_deg": Column("deg", "angle in the second"),
            "change_deg": Column("deg", "second less first"),
            "by_axes_deg": Column(
                "deg", "part of the change that turned axes and moved centres alone make; the rest is posture"
            ),
            "palpation_deg": Column("deg", "half of the range in which 95 % of sound pairs lie, by palpation alone"),
            "limit_deg": Column("deg", "change that matters"),
            "verdict": Column("", "`review` beyond `limit_deg`, else `pass`"),
        },
    ),
    "repeatability": (
        "Standard error of measurement (SEM) and minimal detectable change (MDC95 = 1.96 sqrt(2) SEM) of every measure.",
        {
            "task": Column("", "task, or `static` for standing angles"),
            "side": Column("", "`both`: the legs are pooled, the SEM being that within legs"),
            "measure": Column("", "name of the measure, or `ANGLE_standing`"),
            "unit": Column("", "unit of the measure"),
            "participants": Column("1", "number of participants measured at least twice"),
            "sessions": Column("1", "number of their sessions"),
            "repetitions": Column("1", "repetitions that a session's mean rests on"),
            "sem_mean": Column("as the measure", "SEM of a session's mean"),
            "mdc95_mean": Column("as the measure", "minimal detectable change between two such means"),
            "sem_single": Column("as the measure", "SEM of a single repetition"),
            "mdc95_single": Column("as the measure", "minimal detectable change between two single repetitions"),
            "icc_2_1": Column(
                "1", "ICC(2,1), people as targets; empty with fewer than 10 people or unequal numbers of sessions"
            ),
            "icc_3_1": Column(
                "1", "ICC(3,1), people as targets; empty with fewer than 10 people or unequal numbers of sessions"
            ),
        },
    ),
}

SOURCES: dict[str, str] = {
    "sagittal": "the squat itself: pelvis tilt, hip and knee flexion, with the other angles held at the baseline",
    "pelvis_rotation": "the pelvis turning about the vertical",
    "pelvis_obliquity": "the pelvis dropping or hiking on the free side",
    "hip_adduction": "the thigh adducting in the pelvis",
    "hip_internal_rotation": "the thigh rotating internally in the pelvis",
    "knee_adduction": "the shank adducting on the thigh (varus; valgus is negative)",
    "knee_internal_rotation": "the shank rotating internally on the thigh",
    "foot_on_floor": "from below: the foot rolling, pivoting or lifting on the floor",
    "ankle": "from below: the shank on the foot; with a one-piece foot this is pronation",
    "knee": "from below: the thigh on the shank",
    "remainder": "measured less modelled: soft tissue and joint translation, which the angles do not explain",
}
CAUSES: dict[str, str] = {
    "none": "the change's whole interval lies within the limit of `little_deg` (or `little_mm`)",
    "at_the_hip": "the leg is named, and within it the hip leads",
    "with_the_pelvis": "the pelvis (rotation and obliquity) is named",
    "in_the_leg": "the leg (hip and knee) is named, and hip and knee are not told apart",
    "mixed": "pelvis and leg both contribute a large share",
    "not_separable": "the parts cannot be told apart with these markers and this uncertainty: a result, not a failure",
}
CAUSES_BELOW: dict[str, str] = {
    "little": "little motion to explain",
    "foot_on_floor": "the foot moved on the floor",
    "ankle": "the shank moved on the foot",
    "knee": "the thigh moved on the shank",
    "mixed": "more than one of them",
    "not_separable": "cannot be told apart",
    "not_measured": "the marker set does not show it",
}
MANIFEST: dict[str, str] = {
    "participant, session": "pseudonym and name of the session",
    "condyle": "version, and SHA-256 over the program's sources",
    "versions, platform": "versions of Python and of the libraries that numbers depend on",
    "inputs": "each file read: trial, file (empty where the trial has a `name:`), SHA-256",
    "settings_sha256": "one SHA-256 over session file, marker set and pipeline; results of other settings are not overwritten",
    "settings": (
        "session file, marker set and pipeline as they were used, every default written out; the file of a trial that has a "
        "`name:` is given as `sha256:...`, and folders whose names are no pseudonyms are left out"
    ),
    "session_folder": "the session's folder, relative to the results; empty where a folder's name is no pseudonym",
    "pipeline_file": "the lab's own pipeline, relative to the results; empty for a shipped one and in a person's folder",
    "corrections, accepted": "every correction by hand and every finding let through, each with its reason",
    "warnings": "every finding that is not `pass`; `times_s` has from and to of each moment that it is about",
    "trials": "each trial: `processed` or `rejected`",
    "outputs": "the files written",
    "seconds": "time that each stage took",
}
