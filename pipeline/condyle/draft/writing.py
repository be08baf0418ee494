"""The drafted files as text: each line with how sure it is and why."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from condyle.draft.file_content import Recorded
from condyle.draft.mapping import HIGH, Guess, LabelMap
from condyle.vocabulary import LANDMARK_SEGMENT, LANDMARKS, SEGMENTS

BLANK = '"?"'
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


def markers_text(mapping: LabelMap, static_only: Sequence[str], prefix: str) -> str:
    """The marker set as YAML with a comment per line."""
    lines = [_HEAD]
    lines += [f"# Note: {note}.\n" for note in mapping.notes]
    lines.append("landmarks:\n")
    for name in LANDMARKS:
        if name in mapping.landmarks:
            lines.append(_line(f"  {name}: {_quoted(mapping.landmarks[name].label)}", mapping.landmarks[name]))
    lines.append("tracking:\n")
    for segment in SEGMENTS:
        points, why = _tracking(segment, mapping, static_only)
        if len(points) >= 3:
            lines.append(f"  {segment}: [{', '.join(map(_quoted, points))}]  # confidence: {why}\n")
        elif points or segment in ("pelvis",):
            found = ", ".join(points) or "none"
            lines.append(f"# {segment}: {BLANK}  # three points are needed, found: {found}\n")
    if static_only:
        lines.append(f"static_only: [{', '.join(map(_quoted, static_only))}]  # in no movement trial\n")
    lines.append(f"prefix: {_quoted(prefix) if prefix else 'auto'}\n")
    if mapping.unknown:
        lines.append(f"# Not mapped: {', '.join(map(_quoted, mapping.unknown))}\n")
    return "".join(lines)


def _line(text: str, guess: Guess) -> str:
    return f"{text:<40}# confidence: {guess.confidence} ({guess.why})\n"


def _tracking(segment: str, mapping: LabelMap, static_only: Sequence[str]) -> tuple[list[str], str]:
    """The cluster where there is one; else landmarks that stay on, helped by the joint centre above."""
    group = mapping.clusters.get(segment, [])
    cluster = [g.label for g in group if g.label not in static_only]
    kind = segment.split("_")[0]
    sure = HIGH if all(g.confidence == HIGH for g in group) else "low"
    if len(cluster) >= 3:
        return cluster, f"{sure} (its cluster)"
    stays = [
        g.label
        for name, g in mapping.landmarks.items()
        if LANDMARK_SEGMENT[name] == segment
        and name.startswith(_TRACKED_LANDMARKS[kind])
        and g.label not in static_only
    ]
    points = [*stays, *cluster]
    tail = segment[-2:]
    above = {"thigh": f"hip{tail}", "shank": f"knee{tail}", "foot": f"ankle{tail}"}.get(kind)
    if above and points and (len(points) < 3 or kind == "shank"):
        points = [above, *points]
    return points, "medium (landmarks that stay on)" if stays else "low"


def session_text(
    files: Sequence[Recorded], static_of: Mapping[Path, Path], best: Path, vertical: str, refused: Sequence[str]
) -> str:
    """The session as YAML with a comment per trial."""
    statics = [best, *(f.path for f in files if f.content == "static" and f.path != best)]
    trials = [f for f in files if f.path not in statics]
    lines = [
        _HEAD,
        *(f"# Left out: {_comment(sentence)}\n" for sentence in refused),
        f"participant: {{id: {BLANK}}}  # cannot be known from the files: a pseudonym such as P01, never a name\n",
        f"session: {BLANK}  # cannot be known: the session's name, such as its date\n",
        "marker_set: markers.yaml\n",
        f"pipeline: {'single_leg_squat' if any(f.content != 'other' for f in trials) else 'walking'}\n",
    ]
    if vertical != "+Z":
        lines.append(
            f"# The vertical is {vertical}: copy the shipped pipeline and set lab: {{vertical: {vertical}}} in it.\n"
        )
    if len(statics) == 1:
        lines.append(f"static: {_quoted(best.name)}\n")
    else:
        lines.append(f"static: [{', '.join(_quoted(p.name) for p in statics)}]\n")
    lines.append("trials:\n" if trials else "trials: []  # no movement trial was found\n")
    for file in trials:
        own = static_of.get(file.path, best)
        more = f", static: {_quoted(own.name)}" if own != statics[0] else ""
        entry = f"  - {{file: {_quoted(file.path.name)}, task: {file.content}, side: {file.side}{more}}}"
        lines.append(
            f"{entry}  # confidence: {file.confidence} (by stillness of the feet and the drop of the pelvis)\n"
        )
    return "".join(lines)


def _quoted(text: str) -> str:
    """Plain where YAML takes it for what it is, else in double quotes."""
    plain = text.replace("_", "").replace("-", "").replace(".", "")
    return text if plain.isalnum() and text.isascii() and text[0].isalpha() else json.dumps(text)


def _comment(text: str) -> str:
    return " ".join(text.split())
