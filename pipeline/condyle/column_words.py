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
