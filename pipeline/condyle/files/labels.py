"""Which column of a recording carries which of the lab's labels? With prefix and without, doubled, and nearly right."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import numpy as np

from condyle.files.label_text import SEPARATORS, is_unlabelled, prefixes, shown
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray

SAME_MM = 0.1  # two columns of one name closer than this hold the same marker (ours: beyond rounding, below noise)
_ALIKE = 0.75


@dataclass(frozen=True, slots=True)
class LabelMatch:
    """``columns`` holds the first column of each label found, ``all_columns`` every one; ``prefix`` the one that was
    used.
    """

    columns: dict[str, int]
    all_columns: dict[str, tuple[int, ...]]
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    unlabelled: int
    prefix: str
    findings: tuple[Finding, ...]


def match_labels(
    recording_labels: Sequence[str], wanted_labels: Iterable[str], prefix: str = "auto", participant: str | None = None
) -> LabelMatch:
    """Find each wanted label, with the participant's prefix or without.

    ``prefix`` is `auto`, `none`, or the prefix with or without its separator. With `auto` and several participants
    in the file,
    the one whose prefix is ``participant`` is taken; where that leaves several, a `reject` finding says so.
    """
    wanted = tuple(dict.fromkeys(wanted_labels))
    places: dict[str, list[int]] = {}
    for k, label in enumerate(recording_labels):
        places.setdefault(label, []).append(k)
    used, findings = _choose_prefix(places, wanted, prefix, participant)
    known = prefixes(tuple(recording_labels))
    all_columns = {
        label: tuple(found)
        for label in wanted
        if (found := places.get(used + label) or (places.get(label) if used else None))
    }
    taken = {c for columns in all_columns.values() for c in columns}
    missing = tuple(label for label in wanted if label not in all_columns)
    unlabelled = sum(is_unlabelled(label) for label in recording_labels)
    extra = tuple(
        dict.fromkeys(label for k, label in enumerate(recording_labels) if k not in taken and not is_unlabelled(label))
    )
    bare = {e.removeprefix(used): e for e in extra}
    for label in missing:
        near = nearest_label(label, bare)
        if near is not None:
            text = f"not in the file, but {shown(near, known)} is: did you mean that? correct marker set or file"
            findings.append(Finding("label nearly right", label, None, None, "", "review", text))
    if unlabelled:
        text = "points that the recording software left without a name were ignored"
        findings.append(Finding("unlabelled points", "file", float(unlabelled), 0.0, "points", "review", text))
    columns = {label: found[0] for label, found in all_columns.items()}
    return LabelMatch(columns, all_columns, missing, extra, unlabelled, used, tuple(findings))


def nearest_label(label: str, candidates: Iterable[str]) -> str | None:
    """The candidate that was probably meant: the same but for case and blanks, else one or two letters apart."""
    folded = {_folded(c): c for c in candidates}
    if _folded(label) in folded:
        return folded[_folded(label)]
    close = get_close_matches(_folded(label), folded, n=1, cutoff=_ALIKE)
    return folded[close[0]] if close and _same_numbers(label, close[0]) else None


def collapse_duplicates(
    points: FloatArray, match: LabelMatch, labels: Sequence[str]
) -> tuple[FloatArray, list[Finding]]:
    """The points of ``labels`` (frames, labels, 3), NaN where the file has none; columns of one name become one.

    Identical data collapse, gaps that another column fills are joined; where two columns contradict each other by
    more than
    0.1 mm the marker is emptied and rejected, for either could be the wrong one.
    """
    out = np.full((points.shape[0], len(labels), 3), np.nan)
    present = [(k, match.all_columns[label]) for k, label in enumerate(labels) if label in match.all_columns]
    if present:
        out[:, [k for k, _ in present]] = points[:, [columns[0] for _, columns in present]]
    findings: list[Finding] = []
    same: list[str] = []
    for k, columns in present:
        if len(columns) > 1:
            findings += _join(out[:, k], points, columns, labels[k], same)
    if same:
        names = ", ".join(same[:6]) + (" and more" if len(same) > 6 else "")
        text = f"{names}: every column of the name holds the same data; one was used"
        findings.append(Finding("labels twice", "file", float(len(same)), 0.0, "labels", "pass", text))
    return out, findings


def _join(into: FloatArray, points: FloatArray, columns: tuple[int, ...], label: str, same: list[str]) -> list[Finding]:
    """Join further columns of one name into the first, in place."""
    joined = 0
    for column in columns[1:]:
        other = points[:, column]
        apart = np.sqrt(np.square(into - other).sum(axis=-1))
        if (worst := float(np.nanmax(apart, initial=0.0))) > SAME_MM:
            frames = int((apart > SAME_MM).sum())
            into[:] = np.nan
            text = (
                f"{len(columns)} points are called {label} and lie up to {worst:.1f} mm apart in {frames} frames; "
                "which is right cannot be "
                "told: rename one in the recording software"
            )
            return [Finding("labels twice", label, worst, SAME_MM, "mm", "reject", text)]
        filled = np.isnan(into[:, 0]) & ~np.isnan(other[:, 0])
        joined += int(filled.sum())
        into[filled] = other[filled]
    if joined:
        text = f"{len(columns)} points are called {label} and fill each other's gaps; they were joined"
        return [Finding("labels twice", label, float(joined), 0.0, "frames", "review", text)]
    same.append(label)
    return []


def _choose_prefix(
    places: dict[str, list[int]], wanted: tuple[str, ...], prefix: str, participant: str | None
) -> tuple[str, list[Finding]]:
    if prefix == "none":
        return "", []
    candidates = _candidates(places, wanted)
    if prefix != "auto":
        exact = [c for c in candidates if c == prefix or c.rstrip(SEPARATORS) == prefix]
        return (max(exact, key=lambda c: candidates[c]) if exact else prefix), []
    bare = sum(label in places for label in wanted)
    best = max(candidates.values(), default=0)
    if bare >= best:
        return "", []
    rivals = [c for c in candidates if candidates[c] * 2 > best]
    own = [c for c in rivals if participant is not None and c.rstrip(SEPARATORS).casefold() == participant.casefold()]
    if own:
        return own[0], []
    if len(rivals) > 1:
        text = (
            f"{len(rivals)} participants' prefixes carry the wanted labels, so it is not known whose markers to take; "
            "write the prefix into the marker set (prefix:)"
        )
        return max(rivals, key=lambda c: candidates[c]), [
            Finding("participants in one file", "file", float(len(rivals)), 1.0, "participants", "reject", text)
        ]
    return rivals[0], []


def _candidates(places: dict[str, list[int]], wanted: tuple[str, ...]) -> dict[str, int]:
    """How many wanted labels each prefix carries: what stands before a wanted label and ends in a separator."""
    count: dict[str, int] = {}
    names = frozenset(wanted)
    for label in places:
        for cut in (m.end() for m in re.finditer(f"[{re.escape(SEPARATORS)}]", label)):
            if label[cut:] in names:
                count[label[:cut]] = count.get(label[:cut], 0) + 1
    return count


def _folded(label: str) -> str:
    return re.sub(r"[\s_.\-]+", "_", label).casefold()


def _same_numbers(label: str, other: str) -> bool:
    """R_THIGH_1 is no misspelling of R_THIGH_2, nor R_ of L_: a digit or the side word tells markers apart."""
    first, second = _folded(label).split("_"), other.split("_")
    sides = {"r", "l", "right", "left"}
    return re.findall(r"\d+", label) == re.findall(r"\d+", other) and [w for w in first if w in sides] == [
        w for w in second if w in sides
    ]
