"""Which of the lab's labels is what: words first, then places, each with a confidence and a reason."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from condyle.draft.body_geometry import CLOSE_MM, NEAR_MM, Placed, assign, place_template, segment_near
from condyle.draft.label_words import Words, words_of
from condyle.mechanics.arrays import FloatArray

HIGH, MEDIUM, LOW = "high", "medium", "low"


@dataclass(frozen=True)
class Guess:
    """One label: what it is taken for, how sure, and why."""

    label: str
    name: str
    confidence: str
    why: str


@dataclass
class LabelMap:
    """Labels to landmarks, labels to segments they only track, and labels nothing is known of."""

    landmarks: dict[str, Guess] = field(default_factory=dict)
    clusters: dict[str, list[Guess]] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def map_labels(labels: Sequence[str], standing: Mapping[str, FloatArray]) -> LabelMap:
    """Map labels by their words and by where they stand (label -> (3,) mm, y up)."""
    said = {label: words_of(label) for label in labels}
    named = {label: w.landmark for label, w in said.items() if w.landmark}
    placed = place_template(standing, named)
    out = LabelMap()
    if placed is None:
        out.notes.append("too few points to place a body among them; labels were read by their words only")
    for label, name in named.items():
        _take(out, label, name, standing, placed)
    _decide_open(out, said, standing, placed)
    for label, words in said.items():
        if words.segment and label not in _taken(out):
            out.clusters.setdefault(words.segment, []).append(Guess(label, words.segment, HIGH, "its words"))
    _by_place(out, [x for x in labels if x not in _taken(out)], standing, placed)
    _note_sides(out, standing, placed)
    return out


def _taken(out: LabelMap) -> set[str]:
    return {g.label for g in out.landmarks.values()} | {g.label for group in out.clusters.values() for g in group}


def _take(out: LabelMap, label: str, name: str, standing: Mapping[str, FloatArray], placed: Placed | None) -> None:
    apart = _apart(label, name, standing, placed)
    if name in out.landmarks:
        first = out.landmarks[name]
        if apart is not None and (d := _apart(first.label, name, standing, placed)) is not None and apart < d:
            out.landmarks[name] = Guess(label, name, LOW, f"two labels say {name}; this one is nearer to the place")
            out.unknown.append(first.label)
        else:
            out.unknown.append(label)
        out.notes.append(f"two labels say {name}: {first.label} and {label}")
        return
    if apart is None:
        out.landmarks[name] = Guess(
            label, name, MEDIUM, "its words; never seen standing, so its place could not be checked"
        )
    elif apart < NEAR_MM:
        out.landmarks[name] = Guess(label, name, HIGH, "its words and its place agree")
    else:
        out.landmarks[name] = Guess(
            label, name, LOW, f"its words, but it stands {apart:.0f} mm from where that should be"
        )


def _apart(label: str, name: str, standing: Mapping[str, FloatArray], placed: Placed | None) -> float | None:
    if placed is None or label not in standing or name not in placed.landmarks:
        return None
    return float(np.linalg.norm(standing[label] - placed.landmarks[name])) / placed.scale


def _decide_open(
    out: LabelMap, said: Mapping[str, Words], standing: Mapping[str, FloatArray], placed: Placed | None
) -> None:
    """A knee or ankle that does not say lateral or medial: by its place, else the lateral one, which every set has."""
    for label, words in said.items():
        if not words.open_landmark or not words.side:
            continue
        names = [f"{which}_{words.open_landmark}_{words.side}" for which in ("lateral", "medial")]
        free = [n for n in names if n not in out.landmarks]
        apart = {n: a for n in free if (a := _apart(label, n, standing, placed)) is not None}
        if not free:
            out.unknown.append(label)
        elif apart:
            name = min(apart, key=lambda n: apart[n])
            out.landmarks[name] = Guess(
                label, name, MEDIUM, "its words name the joint, its place the side of the joint"
            )
        else:
            out.landmarks[free[0]] = Guess(
                label, free[0], LOW, "its words name the joint only; taken for the lateral marker"
            )


def _by_place(out: LabelMap, rest: list[str], standing: Mapping[str, FloatArray], placed: Placed | None) -> None:
    """What words do not tell: a landmark where one is near, else a tracking marker of the nearest segment."""
    known = {label: standing[label] for label in rest if label in standing}
    if placed is None:
        out.unknown += rest
        return
    for label, (name, apart) in assign(known, placed, list(out.landmarks)).items():
        out.landmarks[name] = Guess(label, name, LOW, f"its place only, {apart:.0f} mm off (limit {CLOSE_MM:.0f})")
    for label in rest:
        if label in _taken(out):
            continue
        if label in known:
            segment = segment_near(known[label], placed)
            out.clusters.setdefault(segment, []).append(Guess(label, segment, LOW, "its place only"))
        else:
            out.unknown.append(label)


def _note_sides(out: LabelMap, standing: Mapping[str, FloatArray], placed: Placed | None) -> None:
    """Do the words' sides fit the direction the feet point to?"""
    pairs = [
        (g.label, out.landmarks[n[:-1] + "l"].label)
        for n, g in out.landmarks.items()
        if n.endswith("_r") and n[:-1] + "l" in out.landmarks
    ]
    across = [standing[r] - standing[x] for r, x in pairs if r in standing and x in standing]
    toes = [
        standing[out.landmarks[f"{t}_{s}"].label] - standing[out.landmarks[f"calcaneus_{s}"].label]
        for s in "rl"
        for t in ("metatarsal_2", "metatarsal_1", "metatarsal_5")
        if f"{t}_{s}" in out.landmarks
        and f"calcaneus_{s}" in out.landmarks
        and {out.landmarks[f"{t}_{s}"].label, out.landmarks[f"calcaneus_{s}"].label} <= set(standing)
    ]
    if across and toes:
        right, forward = np.mean(across, axis=0), np.mean(toes, axis=0)
        if np.cross(forward, np.array([0.0, 1.0, 0.0])) @ right < 0:
            out.notes.append(
                "left and right in the labels disagree with where the toes point: are the sides exchanged?"
            )
