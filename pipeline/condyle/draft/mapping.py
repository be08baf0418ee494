"""Which of the lab's labels is what: words first, then places, each with a confidence and a reason."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from condyle.draft.body_geometry import (
    CLOSE_MM,
    NEAR_MM,
    SIDE_MM,
    Placed,
    assign,
    mirrored,
    place_template,
    segment_apart,
    segment_near,
)
from condyle.draft.kneecaps import Moving, kneecap_among
from condyle.draft.label_words import Words, words_of
from condyle.mechanics.arrays import FloatArray

Sureness = Literal["high", "medium", "low"]
HIGH: Sureness = "high"
MEDIUM: Sureness = "medium"
LOW: Sureness = "low"
_SURENESS: tuple[Sureness, ...] = (LOW, MEDIUM, HIGH)
_PLACE = "its place only"


@dataclass(frozen=True)
class Guess:
    """One label: what it is taken for, how sure, and why."""

    label: str
    name: str
    confidence: Sureness
    why: str


@dataclass
class LabelMap:
    """Labels to landmarks, labels to segments they only track, and labels nothing is known of."""

    landmarks: dict[str, Guess] = field(default_factory=dict)
    clusters: dict[str, list[Guess]] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def least_sure(confidences: Iterable[Sureness]) -> Sureness:
    """The lowest of these confidences; `high` where there is none."""
    return min(confidences, key=_SURENESS.index, default=HIGH)


def map_labels(
    labels: Sequence[str], standing: Mapping[str, FloatArray], moving: Sequence[Moving] = (), upright: bool = True
) -> LabelMap:
    """Map labels by their words and by where they stand (label -> (3,) mm, y up).

    ``moving``: the same labels' courses in trials, for what only shows as a knee bends. ``upright``: whether ``standing``
    is a standing trial; else the legs may be anywhere, and a place that does not fit contradicts no words.
    """
    said = {label: words_of(label) for label in labels}
    named = {label: w.landmark for label, w in said.items() if w.landmark}
    placed = place_template(standing, named)
    out = LabelMap()
    if placed is None:
        out.notes.append("too few points to place a body among them; labels were read by their words only")
    for label, name in named.items():
        _take(out, label, name, standing, placed, upright)
    _decide_open(out, said, standing, placed)
    for label, words in said.items():
        if words.segment and label not in _taken(out):
            guess = _of_segment(label, words.segment, standing, placed if upright else None)
            out.clusters.setdefault(words.segment, []).append(guess)
    _by_place(out, [x for x in labels if x not in _taken(out)], standing, placed)
    if placed is not None:
        _kneecaps(out, standing, placed, moving)
    if (placed is not None and placed.exchanged) or _toes_point_backwards(out, standing):
        _doubt_the_sides(out)
    return out


def _taken(out: LabelMap) -> set[str]:
    return {g.label for g in out.landmarks.values()} | {g.label for group in out.clusters.values() for g in group}


def _take(
    out: LabelMap,
    label: str,
    name: str,
    standing: Mapping[str, FloatArray],
    placed: Placed | None,
    upright: bool,
) -> None:
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
    elif upright and (other := _apart(label, mirrored(name), standing, placed)) is not None and other + SIDE_MM < apart:
        out.landmarks[name] = Guess(label, name, LOW, _other_side(name))
    elif apart < NEAR_MM:
        out.landmarks[name] = Guess(label, name, HIGH, "its words and its place agree")
    elif not upright:
        out.landmarks[name] = Guess(label, name, MEDIUM, "its words; there is no standing trial to check its place in")
    else:
        out.landmarks[name] = Guess(
            label, name, LOW, f"its words, but it stands {apart:.0f} mm from where that should be"
        )


def _other_side(name: str) -> str:
    own, other = ("right", "left") if name.endswith("_r") else ("left", "right")
    return f"its words say {own}, its place says {other}"


def _of_segment(label: str, segment: str, standing: Mapping[str, FloatArray], placed: Placed | None) -> Guess:
    """A marker whose words name the segment: sure, unless it stands at the other leg's."""
    if placed is not None and label in standing and segment[-2:] in ("_r", "_l"):
        own, other = (segment_apart(standing[label], placed, name) for name in (segment, mirrored(segment)))
        if other + SIDE_MM < own:
            return Guess(label, segment, LOW, _other_side(segment))
    return Guess(label, segment, HIGH, "its words")


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
        out.landmarks[name] = Guess(label, name, LOW, f"{_PLACE}, {apart:.0f} mm off (limit {CLOSE_MM:.0f})")
    for label in rest:
        if label in _taken(out):
            continue
        if label in known:
            segment = segment_near(known[label], placed)
            out.clusters.setdefault(segment, []).append(Guess(label, segment, LOW, _PLACE))
        else:
            out.unknown.append(label)


def _kneecaps(out: LabelMap, standing: Mapping[str, FloatArray], placed: Placed, moving: Sequence[Moving]) -> None:
    """A marker in front of the knee that only its place puts among a segment's: the patella, which tracks nothing."""
    for side in "rl":
        name, group = f"patella_{side}", f"thigh_{side}"
        by_place = [g.label for s in (group, f"shank_{side}") for g in out.clusters.get(s, []) if g.why == _PLACE]
        thigh = out.clusters.get(group, [])
        if name in out.landmarks:
            continue
        found = kneecap_among(by_place, [g.label for g in thigh], standing, placed, side, moving)
        if found is None:
            continue
        if not found.spared:
            why = f"{_PLACE}, in front of the knee, where a marker slides; the thigh has too few without it"
            out.clusters[group] = [Guess(g.label, g.name, LOW, why) if g.label == found.label else g for g in thigh]
            continue
        why = f"{_PLACE}, in front of the knee, {found.apart:.0f} mm off (limit {CLOSE_MM:.0f})"
        if found.slides is not None:
            why += f"; it moves {found.slides:.0f} mm against the thigh's other markers as the knee bends"
        for segment in (group, f"shank_{side}"):
            out.clusters[segment] = [g for g in out.clusters.get(segment, []) if g.label != found.label]
        out.landmarks[name] = Guess(found.label, name, LOW if found.slides is None else MEDIUM, why)


def _toes_point_backwards(out: LabelMap, standing: Mapping[str, FloatArray]) -> bool:
    """Do the words' sides contradict the direction the feet point to?"""
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
    if not across or not toes:
        return False
    right, forward = np.mean(across, axis=0), np.mean(toes, axis=0)
    return bool(np.cross(forward, np.array([0.0, 1.0, 0.0])) @ right < 0)


def _doubt_the_sides(out: LabelMap) -> None:
    """All sides of the words contradict the body: no line that rests on them is sure."""
    out.notes.append("left and right in the labels disagree with the body's front and back: are the sides exchanged?")

    def doubted(guess: Guess) -> Guess:
        sided = guess.name[-2:] in ("_r", "_l") and guess.confidence != LOW
        return Guess(guess.label, guess.name, LOW, _other_side(guess.name)) if sided else guess

    out.landmarks = {name: doubted(guess) for name, guess in out.landmarks.items()}
    out.clusters = {segment: [doubted(g) for g in group] for segment, group in out.clusters.items()}
