"""Why does a marker set not give a measure, and which landmark would add it? Found by adding, not by rule.

Everything that a set lacks is put on the synthetic person, then taken off again piece by piece: what a measure does not
survive without is what it needs.
"""

from collections.abc import Callable, Collection, Sequence
from typing import NamedTuple

from condyle.body_names import SIDES
from condyle.files.marker_set import FEWEST_TRACKING_POINTS, MarkerSet
from condyle.marker_plan.worn import Outcome
from condyle.measure_dictionary import MEASURES

Given = dict[str, set[str]]


class Piece(NamedTuple):
    """Something that a set lacks: in words, the landmarks it brings, the segment it tracks, and what rests on it."""

    name: str
    landmarks: tuple[str, ...]
    segment: str
    why: str


class NotGiven(NamedTuple):
    """Measures that fall away for one reason: the pieces that would give them; where markers do not, ``why`` in words."""

    measures: tuple[str, ...]
    add: tuple[Piece, ...]
    why: str = ""


_MIDDLE = (  # of the body: landmarks, what rests on them
    (("asis_r", "asis_l"), "the pelvis' frame and the hip centres rest on both ASIS"),
    (("psis_r", "psis_l"), "the pelvis' frame needs its back: both PSIS, or the sacrum"),
)
_OF_A_LEG = (
    ("lateral_epicondyle", "the thigh has no frame without it"),
    ("lateral_malleolus", "the shank has no frame without it"),
    (
        "medial_epicondyle",
        "the lateral marker alone tells neither the knee's centre nor its axis; a measured knee width with the patella will "
        "do, too",
    ),
    (
        "medial_malleolus",
        "the lateral marker alone tells neither the ankle's centre nor its axis; a measured ankle width with the tibial "
        "tuberosity will do, too",
    ),
    ("calcaneus", "the foot's frame and its line begin at the heel"),
    ("metatarsal_2", "the foot's line ends there"),
    ("metatarsal_5", "it is the outer corner of the sole"),
    ("metatarsal_1", "it is the inner corner of the sole"),
    ("patella", "it is the path of this marker that is measured"),
)
_OF_THE_TRUNK = (
    (
        "c7",
        "it is the trunk's upper end for the centre of mass, and for the trunk's frame beside both acromia, or beside t10, "
        "jugular_notch and xiphoid",
    ),
    ("acromion_r", "the shoulders are measured between both, and with c7 they give the trunk's frame"),
    ("acromion_l", "the shoulders are measured between both, and with c7 they give the trunk's frame"),
    ("jugular_notch", "the trunk's frame needs it, beside c7, t10 and xiphoid"),
    ("t10", "the trunk's frame needs it, beside c7, jugular_notch and xiphoid"),
    ("xiphoid", "the trunk's frame needs it, beside c7, t10 and jugular_notch"),
)
_NO_MATTER_OF_MARKERS = {  # the beginning of measures: why markers do not decide
    "cop_offset_": "it comes from force plates in the file",
    "fppa_lateral_markers_": "it stands in for fppa where a set has no medial marker at knee or ankle, and only there",
    "lateral_epicondyle_": "it stands in for the knee centre where a set has no medial epicondyle, and only there",
    "fppa_from_hip_rotation_and_knee_adduction": "it is given in repetitions whose twist check is beyond its limit, and only "
    "there",
}
_OTHERWISE = "the synthetic squat does not show it, whatever markers are added"


def not_given(
    markers: MarkerSet, whole: Outcome, outcome_with: Callable[[MarkerSet], Outcome]
) -> dict[str, tuple[NotGiven, ...]]:
    """Stance side -> groups of measures that the set does not give, with what each group lacks; the largest group first."""
    pieces = lacking(markers)
    seen: dict[frozenset[Piece], Given] = {frozenset(): whole.given}

    def given_with(some: Collection[Piece]) -> Given:
        key = frozenset(some)
        if key not in seen:
            seen[key] = outcome_with(enlarged(markers, [p for p in pieces if p in key])).given
        return seen[key]

    out = {}
    for side in SIDES:
        absent = [m for m in MEASURES if m not in whole.given[side]]
        possible = [m for m in absent if m in given_with(pieces)[side]]
        told: dict[tuple[Piece, ...], list[str]] = {}
        for measure in possible:
            told.setdefault(_needed(measure, side, pieces, given_with), []).append(measure)
        ordered = sorted(told.items(), key=lambda item: (len(item[0]), -len(item[1])))
        found = [NotGiven(tuple(measures), needed) for needed, measures in ordered]
        out[side] = (*found, *_not_by_markers([m for m in absent if m not in possible], whole, side))
    return out


def _needed(
    measure: str, side: str, pieces: Sequence[Piece], given_with: Callable[[Collection[Piece]], Given]
) -> tuple[Piece, ...]:
    """The pieces that the measure does not survive without, and of those that would do for one another the first."""

    def suffices(some: Collection[Piece]) -> bool:
        return measure in given_with(some)[side]

    some = [p for p in pieces if not suffices([q for q in pieces if q != p])]
    while not suffices(some):
        rest = [p for p in pieces if p not in some]
        low, high = 0, len(rest)  # rest[:low] does not suffice, rest[:high] does
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if suffices([*some, *rest[:middle]]) else (middle, high)
        some.append(rest[high - 1])  # the shortest beginning that suffices cannot spare its last piece
    return tuple(p for p in pieces if p in some)


def _not_by_markers(measures: Sequence[str], whole: Outcome, side: str) -> list[NotGiven]:
    groups: dict[str, list[str]] = {}
    for measure in measures:
        said = (why for beginning, why in _NO_MATTER_OF_MARKERS.items() if measure.startswith(beginning))
        groups.setdefault(next(said, _ended_by(whole, side) or _OTHERWISE), []).append(measure)
    return [NotGiven(tuple(found), (), why) for why, found in groups.items()]


def _ended_by(whole: Outcome, side: str) -> str:
    """What the stages rejected, where they did."""
    rejects = [f for f in whole.standing if f.verdict == "reject"] + whole.ended.get(side, [])
    return "; ".join(dict.fromkeys(f"{f.subject}: {f.advice.rstrip('.')}" for f in rejects))


def lacking(markers: MarkerSet) -> list[Piece]:
    """Everything that could be added to a set: landmarks it has not, or has only while standing, and tracking points."""
    out = []
    for names, why in _MIDDLE:
        free = [n for n in names if n not in markers.landmarks]
        if free and not (names[0].startswith("psis") and "sacrum" in markers.landmarks):
            out.append(Piece(" and ".join(free), tuple(free), "", why))
    out.append(_tracking(markers, "pelvis"))
    for tail in ("_r", "_l"):
        out += [piece for name, why in _OF_A_LEG if (piece := _landmark(markers, f"{name}{tail}", why)) is not None]
        out += [_tracking(markers, f"{name}{tail}") for name in ("thigh", "shank", "foot")]
    out += [piece for name, why in _OF_THE_TRUNK if (piece := _landmark(markers, name, why)) is not None]
    return [*out, _tracking(markers, "trunk")]


def _landmark(markers: MarkerSet, name: str, why: str) -> Piece | None:
    if name not in markers.landmarks:
        return Piece(name, (name,), "", why)
    if name in markers.static_points:
        return Piece(f"{name} (left on after the standing trial)", (name,), "", why)
    return None


def _tracking(markers: MarkerSet, segment: str) -> Piece:
    there = len(markers.tracking_points(segment))
    if there:
        name = f"one more tracking point of {segment}"
        return Piece(name, (), segment, "those it has lie on one line or do not stay on")
    name = f"{FEWEST_TRACKING_POINTS} tracking points of {segment}"
    return Piece(name, (), segment, "without them nobody knows how it moves; landmarks may be among them")


def enlarged(markers: MarkerSet, pieces: Sequence[Piece]) -> MarkerSet:
    """The set with these pieces; a label of its own for each marker that is added."""
    landmarks, static_only = dict(markers.landmarks), list(markers.static_only)
    tracking = {segment: t.model_dump() for segment, t in markers.tracking.items()}
    for piece in pieces:
        for name in piece.landmarks:
            static_only = [label for label in static_only if label != landmarks.get(name)]
            landmarks.setdefault(name, f"added {name}")
        if piece.segment:
            own = tracking.setdefault(piece.segment, {"points": ()})
            count = 1 if own["points"] else FEWEST_TRACKING_POINTS
            own["points"] = (*own["points"], *(f"added {piece.segment} {k}" for k in range(count)))
    return MarkerSet(landmarks=landmarks, tracking=tracking, static_only=tuple(static_only), prefix=markers.prefix)
