"""Every column of the tables that comparing sessions writes: its unit and what it is, in words."""

from condyle.column_words import Column

_PAIRED: dict[str, Column] = {
    "participant": Column("", "the participant's pseudonym, as in the session file"),
    "first": Column("", "name of the participant's first session"),
    "second": Column("", "name of the session compared with it"),
}
_OVERRIDDEN = {
    "overridden": Column(
        "",
        "rejects of the two standing trials that session files let through (`accept:`): trial, subject, check, reason; empty "
        "where none was",
    )
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
            **_OVERRIDDEN,
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
            **_OVERRIDDEN,
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
            **_OVERRIDDEN,
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
            **_OVERRIDDEN,
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
            **_OVERRIDDEN,
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
            **_OVERRIDDEN,
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
            "overridden": Column("", "the same of all trials that the errors rest on; empty where none was"),
        },
    ),
}
