"""Which of several standing trials is a trial's own? The one whose markers lie as far apart on every segment as in the trial."""

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from condyle.draft.file_content import Recorded, mean_course
from condyle.draft.mapping import HIGH, LOW, MEDIUM, LabelMap, Sureness
from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.rigidity import pair_distances, pairs_of

ALIKE_MM = 1.0  # ours: two standing trials that fit within this of each other cannot be told apart
FOREIGN_MM = 7.0  # ours, on the sample and open data: own 0.2 to 5.6 mm, another body or another day 7.1 to 42 mm
_UPRIGHT = 0.75  # ours: in the quarter of the frames with the highest markers a squatting person stands


class OwnStatic(NamedTuple):
    """The standing trial taken for a trial, how surely, and why."""

    path: Path
    confidence: Sureness
    why: str


def own_static(trial: Recorded, statics: Sequence[Recorded], mapping: LabelMap) -> OwnStatic:
    """The standing trial that fits a trial best, how surely, and why; of those that fit alike, the first.

    A plate keeps its shape on whoever wears it; where it sits on the segment, and the landmarks' distances, tell bodies apart.
    """
    shared = set.intersection(*(set(static.standing) for static in statics))  # measured by the same markers
    off = {static.path: misfit(trial, static, mapping, shared) for static in statics}
    known = {path: value for path, value in off.items() if np.isfinite(value)}
    if not known:
        why = "no segment shows two markers both here and in the standing trials: the first of them is taken"
        return OwnStatic(statics[0].path, LOW, why)
    nearest = min(known.values())
    alike = [path for path, value in known.items() if value <= nearest + ALIKE_MM]
    said = ", ".join(f"{path.name} {value:.1f} mm" for path, value in known.items())
    if nearest > FOREIGN_MM:
        best = min(known, key=lambda path: known[path])
        return OwnStatic(best, LOW, f"no standing trial fits: distances on its segments are off by {said}")
    if len(alike) > 1:
        return OwnStatic(alike[0], MEDIUM, f"standing trials that fit alike, {said} off: the first of them is taken")
    return OwnStatic(alike[0], HIGH, f"its own standing trial by distances on its segments: {said} off")


def misfit(trial: Recorded, static: Recorded, mapping: LabelMap, among: Collection[str]) -> float:
    """Root mean square over segments of how far distances between their markers are off, mm; NaN where none shows in both.

    ``among`` : the labels that may be used.
    """
    segments = _labels_of_segments(mapping)
    upright = _upright(trial, segments)
    off = []
    for labels in segments.values():
        common = [n for n in labels if n in among and n in static.standing and n in trial.points]
        pairs = pairs_of(np.arange(len(common)))
        if not len(pairs):
            continue
        stood = pair_distances(np.array([static.standing[n] for n in common]), pairs)
        apart = pair_distances(np.stack([trial.points[n] for n in common], axis=1)[upright], pairs)
        seen = ~np.isnan(apart).all(axis=0)
        if seen.any():
            change = np.nanmedian(apart[:, seen], axis=0) - stood[seen]
            off.append(float(np.mean(np.square(change))))
    return float(np.sqrt(np.mean(off))) if off else float("nan")


def _upright(trial: Recorded, segments: Mapping[str, list[str]]) -> BoolArray:
    """Frames in which the pelvis, or what else is seen, is highest: skin lies there as it does standing."""
    pelvis = [trial.points[n] for n in segments.get("pelvis", []) if n in trial.points]
    height = mean_course(pelvis or list(trial.points.values()))[:, 1]
    high = np.nanpercentile(height, 100 * _UPRIGHT) if not np.isnan(height).all() else -np.inf
    return np.asarray(height >= high)


def _labels_of_segments(mapping: LabelMap) -> dict[str, list[str]]:
    """Segment -> labels of its landmarks and of its tracking markers; the patella slides, and tells nothing."""
    found: dict[str, list[str]] = {}
    for name, guess in mapping.landmarks.items():
        if not name.startswith("patella"):
            found.setdefault(LANDMARK_SEGMENT[name], []).append(guess.label)
    for segment, group in mapping.clusters.items():
        found.setdefault(segment, []).extend(g.label for g in group)
    return found
