"""The drafted files as text: each line with how sure it is and why."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from condyle.body_names import LANDMARK_SEGMENT, LANDMARKS, SEGMENTS
from condyle.draft.file_content import Recorded
from condyle.draft.mapping import HIGH, LOW, MEDIUM, Guess, LabelMap, Sureness, least_sure
from condyle.errors import ConfigurationErrors
from condyle.files.marker_set import Label, marker_set_from

BLANK = '"?"'
NO_STATIC = "not known: record a standing trial, with every marker of the set on, and name its file here"
NO_MOVEMENT = "no movement trial was found: put the squats' C3D files into this folder and draft again with --overwrite"
_NO_TASK = "not known without a movement trial"
_LABEL: TypeAdapter[str] = TypeAdapter(Label)
_OTHER_THAN_TEXT = frozenset(("y", "n", "yes", "no", "on", "off", "true", "false", "null"))
_HEAD = (
    "# Drafted from the files' labels and geometry: look at every line before the first run, those not 'high' first.\n"
)
_TRACKED_LANDMARKS = {  # a patella slides on the femur: never a tracking marker; medial points are usually taken off
    "pelvis": ("asis", "psis", "sacrum", "iliac_crest"),
    "thigh": ("greater_trochanter", "lateral_epicondyle", "medial_epicondyle"),
    "shank": ("tibial_tuberosity", "lateral_malleolus", "medial_malleolus"),
    "foot": ("calcaneus", "metatarsal"),
    "trunk": ("c7", "t10", "jugular_notch", "xiphoid"),
}


@dataclass(frozen=True)
class Line:
    """A drafted line: its YAML, what it says in words, how sure that is (None: nothing that could be unsure), and why."""

    yaml: str
    says: str = ""
    confidence: Sureness | None = None
    why: str = ""

    @property
    def text(self) -> str:
        """The line as it is written."""
        if self.confidence is None:
            return f"{self.yaml}\n"
        return f"{self.yaml:<38}  # confidence: {self.confidence} ({_comment(self.why)})\n"


def text_of(lines: Sequence[Line]) -> str:
    """A drafted file."""
    return _HEAD + "".join(line.text for line in lines)


def marker_lines(mapping: LabelMap, static_only: Sequence[str], prefix: str) -> list[Line]:
    """The marker set: a line per landmark and segment; what the marker set's own reader refuses is a blank with the reason."""
    lines = [Line(f"# Note: {_comment(note)}.") for note in mapping.notes]
    lines.append(Line("landmarks:"))
    landmarks: dict[str, str] = {}
    for name in LANDMARKS:
        if guess := mapping.landmarks.get(name):
            if why := refused_label(guess.label):
                lines.append(_blank(name, f"{quoted(guess.label)}: {why}"))
                continue
            landmarks[name] = guess.label
            says = f"{guess.label} as {name}"
            lines.append(Line(f"  {name}: {quoted(guess.label)}", says, guess.confidence, guess.why))
    lines.append(Line("tracking:"))
    tracking: dict[str, list[str]] = {}
    for segment in SEGMENTS:
        points, confidence, why = _tracking(segment, mapping, static_only)
        named = ", ".join(map(quoted, points))
        if len(points) < 3:
            if points or segment in ("pelvis",):
                lines.append(_blank(segment, f"three points are needed, found: {named or 'none'}"))
        elif refusal := _refused_tracking(landmarks, {**tracking, segment: points}):
            lines.append(_blank(segment, f"{named}: {refusal}"))
        else:
            tracking[segment] = points
            lines.append(Line(f"  {segment}: [{named}]", f"tracking of {segment}", confidence, why))
    known = {*landmarks.values(), *(p for points in tracking.values() for p in points)}
    if taken_off := [label for label in static_only if label in known]:
        lines.append(Line(f"static_only: [{', '.join(map(quoted, taken_off))}]  # in no movement trial"))
    lines.append(Line(f"prefix: {quoted(prefix) if prefix else 'auto'}"))
    if unknown := list(dict.fromkeys([*mapping.unknown, *(label for label in static_only if label not in known)])):
        lines.append(Line(f"# Not mapped: {', '.join(map(quoted, unknown))}"))
    return lines


def _blank(name: str, why: str) -> Line:
    """What could not be told or cannot be written, marked, for the lab to fill."""
    return Line(f"# {name}: {BLANK}  # {_comment(why)}", f"{name}: left blank: {_comment(why)}")


def refused_label(label: str) -> str:
    """Why a marker set cannot hold a label; empty where it can."""
    try:
        _LABEL.validate_python(label)
    except ValidationError:
        return (
            "a label begins and ends with a letter or sign and stands on one line; rename it in the recording software"
        )
    return ""


def _refused_tracking(landmarks: Mapping[str, str], tracking: Mapping[str, Sequence[str]]) -> str:
    """What the reader of marker sets has against the last of these segments, of which the others are sound."""
    points = list(tracking.values())[-1]
    if whys := [f"{quoted(p)}: {why}" for p in points if (why := refused_label(p))]:
        return "; ".join(whys)
    try:
        marker_set_from({"landmarks": dict(landmarks), "tracking": {s: list(p) for s, p in tracking.items()}})
    except ConfigurationErrors as refusal:
        return "; ".join(sentence.split(": ", 1)[-1] for sentence in refusal.sentences)
    return ""


def _tracking(segment: str, mapping: LabelMap, static_only: Sequence[str]) -> tuple[list[str], Sureness, str]:
    """The cluster where there is one; else landmarks that stay on, helped by the joint centre above. How sure, and why."""
    cluster = [g for g in mapping.clusters.get(segment, []) if g.label not in static_only]
    kind = segment.split("_")[0]
    if len(cluster) >= 3:
        return [g.label for g in cluster], *_as_sure_as(cluster, HIGH, "its cluster")
    stays = [
        g
        for name, g in mapping.landmarks.items()
        if LANDMARK_SEGMENT[name] == segment
        and name.startswith(_TRACKED_LANDMARKS[kind])
        and g.label not in static_only
    ]
    used = [*stays, *cluster]
    points = [g.label for g in used]
    tail = segment[-2:]
    above = {"thigh": f"hip{tail}", "shank": f"knee{tail}", "foot": f"ankle{tail}"}.get(kind)
    if above and points and (len(points) < 3 or kind == "shank"):
        points = [above, *points]
    return points, *_as_sure_as(used, MEDIUM if stays else LOW, "landmarks that stay on" if stays else "few markers")


def _as_sure_as(guesses: Sequence[Guess], at_most: Sureness, why: str) -> tuple[Sureness, str]:
    """No segment is surer than the least sure of its markers, which is then named; a landmark has its reason in its line."""
    least = least_sure([at_most, *(g.confidence for g in guesses)])
    doubtful = [g for g in guesses if g.confidence == least and least != at_most]
    landmarks = [quoted(g.label) for g in doubtful if g.name in LANDMARKS]
    words = [why, *([f"no surer than {', '.join(landmarks)}"] if landmarks else [])]
    others = [g for g in doubtful if g.name not in LANDMARKS]
    for reason in dict.fromkeys(g.why for g in others):
        whose = [quoted(g.label) for g in others if g.why == reason]
        words.append(reason if len(whose) == len(guesses) else f"{', '.join(whose)}: {reason}")
    return least, "; ".join(words)


def session_lines(
    files: Sequence[Recorded], static_of: Mapping[Path, Path], vertical: str, refused: Sequence[str]
) -> list[Line]:
    """The session: a line for its standing trials and one per movement trial."""
    statics = [f for f in files if f.content == "static"]
    trials = [f for f in files if f.content != "static"]
    squats = any(f.content != "other" for f in trials)
    lines = [
        *(Line(f"# Left out: {_comment(sentence)}") for sentence in refused),
        Line(f"participant: {{id: {BLANK}}}  # cannot be known from the files: a pseudonym such as P01, never a name"),
        Line(f"session: {BLANK}  # cannot be known: the session's name, such as its date"),
        Line("marker_set: markers.yaml"),
        Line(
            f"pipeline: {'single_leg_squat' if squats else 'walking'}" if trials else f"pipeline: {BLANK}  # {_NO_TASK}"
        ),
    ]
    if vertical != "+Z":
        words = f"copy the shipped pipeline and set lab: {{vertical: {vertical}}} in it."
        lines.append(Line(f"# The vertical is {vertical}: {words}"))
    lines.append(_static_line(statics, set(static_of.values()) if trials else {f.path for f in statics}))
    lines.append(Line("trials:" if trials else f"trials: []  # {NO_MOVEMENT}"))
    for file in trials:
        own = static_of.get(file.path, statics[0].path if statics else None)
        more = f", static: {quoted(own.name)}" if own is not None and own != statics[0].path else ""
        entry = f"  - {{file: {quoted(file.path.name)}, task: {file.content}, side: {file.side}{more}}}"
        lines.append(Line(entry, f"{file.path.name} as {file.content}, side {file.side}", file.confidence, file.why))
    return lines


def _static_line(statics: Sequence[Recorded], own: Collection[Path]) -> Line:
    """The standing trials, the best first; a blank where nobody stands still. ``own``: those that are some trial's own."""
    if not statics:
        return Line(f"static: {BLANK}  # {NO_STATIC}")
    names = ", ".join(quoted(f.path.name) for f in statics)
    least = min(statics, key=lambda f: f.sure)
    says = f"{', '.join(f.path.name for f in statics)} as standing trial{'s' if len(statics) > 1 else ''}"
    why = least.why if len(statics) == 1 or least.confidence == HIGH else f"{least.path.name}: {least.why}"
    confidence = least.confidence
    if idle := [f.path.name for f in statics if f.path not in own]:
        confidence, why = least_sure([confidence, MEDIUM]), f"{why}; no movement trial's own: {', '.join(idle)}"
    return Line(f"static: {names if len(statics) == 1 else f'[{names}]'}", says, confidence, why)


def quoted(text: str) -> str:
    """Plain where every reader of YAML takes it for the text it is, else in double quotes."""
    bare = text.replace("_", "").replace("-", "").replace(".", "")
    if bare.isalnum() and text.isascii() and text[0].isalpha() and text.casefold() not in _OTHER_THAN_TEXT:
        return text
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(character: str) -> str:
    if character in '"\\':
        return f"\\{character}"
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _comment(text: str) -> str:
    """A sentence on one line; what cannot be printed cannot stand in YAML either, not even in a remark."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))
