"""Drafting session.yaml and markers.yaml for a folder of C3D files, with a confidence per line.

What a file cannot tell (who the participant is) is left as a marked blank, which ``condyle run`` refuses until it is filled.
"""

import os
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from condyle.draft.file_content import Recorded, judge_file, up_axis
from condyle.draft.label_words import words_of
from condyle.draft.mapping import HIGH, LabelMap, least_sure, map_labels
from condyle.draft.own_static import own_static
from condyle.draft.prefix import prefix_of, written_prefix
from condyle.draft.writing import NO_MOVEMENT, NO_STATIC, Line, marker_lines, session_lines, text_of
from condyle.errors import DataError, UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.files.c3d import C3DReader, Recording
from condyle.files.labels import collapse_duplicates, match_labels
from condyle.files.trial import upright
from condyle.mechanics.arrays import FloatArray

__all__ = ["NO_MOVEMENT", "NO_STATIC", "Draft", "draft"]


@dataclass(frozen=True)
class Draft:
    """What was written, line by line, and what has to be looked at."""

    written: tuple[Path, ...]
    mapping: LabelMap
    files: tuple[Recorded, ...]
    static_of: dict[Path, Path]
    refused: tuple[str, ...]
    vertical: str
    lines: tuple[Line, ...]

    @property
    def unsure(self) -> tuple[Line, ...]:
        """The lines that are to be looked at first."""
        return tuple(line for line in self.lines if line.confidence not in (None, HIGH))

    @property
    def blanks(self) -> tuple[Line, ...]:
        """What could not be written into the marker set, with the reason."""
        return tuple(line for line in self.lines if line.confidence is None and line.says)

    @property
    def has_movement(self) -> bool:
        """Whether anything but standing is in any of the files."""
        return any(f.content != "static" for f in self.files)

    @property
    def has_static(self) -> bool:
        """Whether somebody stands still in any of the files."""
        return any(f.content == "static" for f in self.files)


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
    used = prefix_of(recordings)
    vertical, clear = _vertical(recordings)
    points = [_points_of(r, used, vertical) for r in recordings]
    by_words = _parts((words_of(n).landmark or "", n) for n in dict.fromkeys(n for p in points for n in p))
    files = [judge_file(r.path, p, *by_words, r.rate_hz) for r, p in zip(recordings, points, strict=True)]
    statics = [f for f in files if f.content == "static"]
    best = max(statics or files, key=lambda f: (len(f.standing), f.sure, -f.spread))
    labels = list(dict.fromkeys(n for f in files for n in f.points))
    moving = [f for f in files if f.content != "static"]
    mapping = map_labels(labels, best.standing, [f.points for f in moving], upright=bool(statics))
    files = [f if f.content == "static" else _judged_again(f, mapping) for f in files]
    if statics:
        files.sort(key=lambda f: f.path != best.path)  # the best standing trial first, the others as they were
    moving = [f for f in files if f.content != "static"]
    gone = [n for n in labels if moving and not any(n in f.points and not np.isnan(f.points[n]).all() for f in moving)]
    files, static_of = _with_statics(files, mapping)
    if not clear:
        mapping.notes.append(f"which axis is up is not clear from the markers; {vertical} was taken")
    said, note = written_prefix(used, recordings)
    mapping.notes += [note] if note else []
    lines = marker_lines(mapping, gone, said), session_lines(files, static_of, vertical, refused)
    write_text(targets[1], text_of(lines[0]))
    write_text(targets[0], text_of(lines[1]))
    return Draft(tuple(targets), mapping, tuple(files), static_of, tuple(refused), vertical, (*lines[0], *lines[1]))


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


def _points_of(recording: Recording, prefix: str, vertical: str) -> dict[str, FloatArray]:
    """Label without its prefix -> (frames, 3), y up; markers that are seen at all."""
    labels = [n for n, ok in zip(recording.labels, recording.is_marker, strict=True) if ok]
    bare = list(dict.fromkeys(n.removeprefix(prefix) for n in labels))
    match = match_labels(recording.labels, bare, prefix or "none")
    point, _ = collapse_duplicates(recording.points, match, bare)
    point = upright(point, vertical)
    return {n: point[:, k] for k, n in enumerate(bare) if not np.isnan(point[:, k]).all()}


def _parts(named: Iterable[tuple[str, str]]) -> tuple[dict[str, dict[str, str]], list[str]]:
    """The labels of the feet, by side and landmark, and those of the pelvis; ``named``: landmark and label."""
    feet: dict[str, dict[str, str]] = {"right": {}, "left": {}}
    pelvis = []
    for landmark, label in named:
        if landmark.startswith(("calcaneus", "metatarsal")):
            feet["right" if landmark.endswith("_r") else "left"].setdefault(landmark[:-2], label)
        if landmark.startswith(("asis", "psis", "sacrum", "iliac")):
            pelvis.append(label)
    return feet, pelvis


def _judged_again(file: Recorded, mapping: LabelMap) -> Recorded:
    """What was done in a trial, now that places have told feet and pelvis too; no side is surer than the feet are."""
    feet, pelvis = _parts((name, g.label) for name, g in mapping.landmarks.items())
    used = [g for g in mapping.landmarks.values() if g.label in (*feet["right"].values(), *feet["left"].values())]
    least = least_sure(g.confidence for g in used)
    why = next((f"of the feet, {g.label}: {g.why}" for g in used if g.confidence == least), "")
    again = judge_file(file.path, file.points, feet, pelvis, file.rate_hz, (least, why))
    # it did not stand still before its pelvis was known, and is no standing trial now
    return again if again.content != "static" else file


def _with_statics(files: list[Recorded], mapping: LabelMap) -> tuple[list[Recorded], dict[Path, Path]]:
    """The files, none surer than which of several standing trials is its own; and each movement trial's standing trial."""
    statics = [f for f in files if f.content == "static"]
    moving = [f for f in files if f.content != "static"]
    if len(statics) <= 1:
        return files, {f.path: s.path for f in moving for s in statics}
    own = {f.path: own_static(f, statics, mapping) for f in moving}
    told = [f.no_surer(own[f.path].confidence, own[f.path].why) if f.path in own else f for f in files]
    return told, {path: found.path for path, found in own.items()}
