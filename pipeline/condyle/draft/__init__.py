"""Drafting session.yaml and markers.yaml for a folder of C3D files, with a confidence per line.

What a file cannot tell (who the participant is) is left as a marked blank, which ``condyle run`` refuses until it is filled.
"""

import os
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from condyle.draft.file_content import Recorded, judge_file, up_axis
from condyle.draft.label_words import words_of
from condyle.draft.mapping import LabelMap, map_labels
from condyle.draft.writing import markers_text, session_text
from condyle.errors import DataError, UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.files.c3d import C3DReader, Recording
from condyle.files.labels import collapse_duplicates, match_labels
from condyle.files.trial import upright
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit

__all__ = ["Draft", "draft"]


@dataclass(frozen=True)
class Draft:
    """What was written, and what has to be looked at."""

    written: tuple[Path, ...]
    mapping: LabelMap
    files: tuple[Recorded, ...]
    static_of: dict[Path, Path]
    refused: tuple[str, ...]
    vertical: str


def draft(folder: str | os.PathLike[str], *, overwrite: bool = False) -> Draft:
    """Read every C3D file of a folder and write session.yaml and markers.yaml beside them.

    Raises UsageError where there is no C3D file or a draft would replace a file, DataError where none can be read.
    """
    place = Path(folder)
    if not place.is_dir():
        raise UsageError(f"{place} is no folder; give the folder that holds the C3D files.")
    paths = sorted(p for p in place.iterdir() if p.suffix.lower() == ".c3d" and p.is_file())
    if not paths:
        raise UsageError(f"{place} holds no C3D file; give the folder that holds them.")
    targets = [place / "session.yaml", place / "markers.yaml"]
    if not overwrite and (there := [t.name for t in targets if t.exists()]):
        raise UsageError(f"{place} already holds {' and '.join(there)}; a draft replaces them only with --overwrite.")
    writable_or_raise(place)
    recordings, refused = _read(paths)
    if not recordings:
        raise DataError(f"no file in {place} can be read: {refused[0]}")
    prefix = Counter(p for r in recordings for p in r.prefixes).most_common(1)
    used = prefix[0][0] if prefix else ""
    vertical, clear = _vertical(recordings)
    files = [_judged(r, used, vertical) for r in recordings]
    statics = [f for f in files if f.content == "static"]
    best = max(statics or files, key=lambda f: (len(f.standing), -f.spread))
    labels = list(dict.fromkeys(n for f in files for n in f.points))
    mapping = map_labels(labels, best.standing)
    moving = [f for f in files if f.content != "static"]
    gone = [n for n in labels if moving and not any(n in f.points and not np.isnan(f.points[n]).all() for f in moving)]
    static_of = {f.path: _own_static(f, statics, mapping) for f in moving} if statics else {}
    if not clear:
        mapping.notes.append(f"which axis is up is not clear from the markers; {vertical} was taken")
    write_text(targets[1], markers_text(mapping, gone, used))
    write_text(targets[0], session_text(files, static_of, best.path, vertical, refused))
    return Draft(tuple(targets), mapping, tuple(files), static_of, tuple(refused), vertical)


def _read(paths: list[Path]) -> tuple[list[Recording], list[str]]:
    out, refused = [], []
    with C3DReader() as reader:
        for path in paths:
            try:
                out.append(reader.read(path))
            except DataError as error:
                refused.append(str(error))
    return out, refused


def _vertical(recordings: list[Recording]) -> tuple[str, bool]:
    votes = [up_axis(r.points[:, r.is_marker]) for r in recordings if r.is_marker.any() and r.n_frames]
    axis = Counter(a for a, _ in votes).most_common(1)[0][0]
    return axis, all(clear for a, clear in votes if a == axis)


def _judged(recording: Recording, prefix: str, vertical: str) -> Recorded:
    labels = [n for n, ok in zip(recording.labels, recording.is_marker, strict=True) if ok]
    bare = list(dict.fromkeys(n.removeprefix(prefix) for n in labels))
    match = match_labels(recording.labels, bare, prefix or "none")
    point, _ = collapse_duplicates(recording.points, match, bare)
    point = upright(point, vertical)
    points: dict[str, FloatArray] = {n: point[:, k] for k, n in enumerate(bare) if not np.isnan(point[:, k]).all()}
    feet: dict[str, list[str]] = {"right": [], "left": []}
    pelvis = []
    for name in points:
        landmark = words_of(name).landmark or ""
        if landmark.startswith(("calcaneus", "metatarsal")):
            feet["right" if landmark.endswith("_r") else "left"].append(name)
        if landmark.startswith(("asis", "psis", "sacrum", "iliac")):
            pelvis.append(name)
    return judge_file(recording.path, points, feet, pelvis, recording.rate_hz)


def _own_static(trial: Recorded, statics: list[Recorded], mapping: LabelMap) -> Path:
    """The standing trial whose clusters keep their shape in this trial: another person's do not."""
    groups = [[g.label for g in group] for group in mapping.clusters.values() if len(group) >= 3]
    groups = groups or [
        [g.label for n, g in mapping.landmarks.items() if n.startswith(("asis", "psis", "sacrum", "iliac"))]
    ]
    misfit = {}
    for static in statics:
        fits = []
        for labels in groups:
            common = [n for n in labels if n in static.standing and n in trial.points]
            if len(common) >= 3:
                model = np.array([static.standing[n] for n in common])
                rms = rigid_fit(model, np.stack([trial.points[n] for n in common], axis=1)).rms
                if not np.isnan(rms).all():
                    fits.append(float(np.nanmedian(rms)))
        misfit[static.path] = float(np.mean(fits)) if fits else np.inf
    return min(misfit, key=lambda p: misfit[p])
