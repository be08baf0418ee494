"""Which column of a recording carries which of the lab's labels? With prefix and without, doubled, and nearly right."""

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from condyle.files.label_text import SEPARATORS, is_unlabelled, prefixes, shown
from condyle.files.near_labels import nearly_right, some
from condyle.files.reading_limits import Limits, reading_limits
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray


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
    in the file, the one whose prefix is ``participant`` is taken; where that leaves several, a `reject` finding says so.
    Labels without a prefix are one participant's too, where most of them stand with a prefix beside it.
    """
    wanted = tuple(dict.fromkeys(wanted_labels))
    places: dict[str, list[int]] = {}
    for k, label in enumerate(recording_labels):
        places.setdefault(label, []).append(k)
    carriers = _carriers(places, wanted)
    used, findings = _choose_prefix(carriers, prefix, participant)
    known = prefixes(tuple(recording_labels))
    # without the prefix it is the same participant's label, or that of another who has none
    bare_too = bool(used) and not _another(carriers, used)
    all_columns = {
        label: tuple(found)
        for label in wanted
        if (found := places.get(used + label) or (places.get(label) if bare_too else None))
    }
    taken = {c for columns in all_columns.values() for c in columns}
    missing = tuple(label for label in wanted if label not in all_columns)
    unlabelled = sum(is_unlabelled(label) for label in recording_labels)
    extra = tuple(
        dict.fromkeys(label for k, label in enumerate(recording_labels) if k not in taken and not is_unlabelled(label))
    )
    prefixed = (used,) if used else () if taken else known  # where nothing was found, whatever stands before
    findings += nearly_right(missing, {_without(label, prefixed): shown(label, known) for label in extra})
    if unlabelled:
        text = "points that the recording software left without a name were ignored"
        findings.append(Finding("unlabelled points", "file", float(unlabelled), 0.0, "points", "review", text))
    columns = {label: found[0] for label, found in all_columns.items()}
    return LabelMatch(columns, all_columns, missing, extra, unlabelled, used, tuple(findings))


def collapse_duplicates(
    points: FloatArray, match: LabelMatch, labels: Sequence[str], limits: Limits | None = None
) -> tuple[FloatArray, list[Finding]]:
    """The points of ``labels`` (frames, labels, 3), NaN where the file has none; columns of one name become one.

    Identical data collapse, gaps that another column fills are joined; where two columns contradict each other by
    more than `same_name` of the ``limits`` of reading, the marker is emptied and rejected, for either could be the wrong
    one.
    """
    apart_mm = (limits or reading_limits())["same_name"].value
    out = np.full((points.shape[0], len(labels), 3), np.nan)
    present = [(k, match.all_columns[label]) for k, label in enumerate(labels) if label in match.all_columns]
    if present:
        out[:, [k for k, _ in present]] = points[:, [columns[0] for _, columns in present]]
    findings: list[Finding] = []
    same: list[str] = []
    for k, columns in present:
        if len(columns) > 1:
            findings += _join(out[:, k], points, columns, labels[k], same, apart_mm)
    if same:
        names = ", ".join(same[:6]) + (" and more" if len(same) > 6 else "")
        text = f"{names}: every column of the name holds the same data; one was used"
        findings.append(Finding("labels twice", "file", float(len(same)), 0.0, "labels", "pass", text))
    return out, findings


def _join(
    into: FloatArray, points: FloatArray, columns: tuple[int, ...], label: str, same: list[str], limit: float
) -> list[Finding]:
    """Join further columns of one name into the first, in place."""
    joined = 0
    for column in columns[1:]:
        other = points[:, column]
        apart = np.sqrt(np.square(into - other).sum(axis=-1))
        if (worst := float(np.nanmax(apart, initial=0.0))) > limit:
            frames = int((apart > limit).sum())
            into[:] = np.nan
            text = (
                f"{len(columns)} points are called {label} and lie up to {worst:.1f} mm apart in {frames} frames; "
                "which is right cannot be "
                "told: rename one in the recording software"
            )
            return [Finding("labels twice", label, worst, limit, "mm", "reject", text)]
        filled = np.isnan(into[:, 0]) & ~np.isnan(other[:, 0])
        joined += int(filled.sum())
        into[filled] = other[filled]
    if joined:
        text = f"{len(columns)} points are called {label} and fill each other's gaps; they were joined"
        return [Finding("labels twice", label, float(joined), 0.0, "frames", "review", text)]
    same.append(label)
    return []


def extra_labels(match: LabelMatch, markers: Collection[str], known_prefixes: tuple[str, ...]) -> list[Finding]:
    """One row for the markers of a file that the marker set does not name; ``markers``: the labels that are markers."""
    extra = [label for label in match.extra if label in markers]
    if not extra:
        return []
    words = f"{some([shown(label, known_prefixes) for label in extra])}: in the file, not in the marker set; not used"
    return [Finding("markers beside the set", "file", float(len(extra)), None, "markers", "pass", words)]


def _without(label: str, beginnings: Iterable[str]) -> str:
    """The label without the first of these that it begins with."""
    return label.removeprefix(next((b for b in beginnings if label.startswith(b)), ""))


def _choose_prefix(
    carriers: dict[str, frozenset[str]], prefix: str, participant: str | None
) -> tuple[str, list[Finding]]:
    if prefix == "none":
        return "", []
    given = {c: len(names) for c, names in carriers.items() if c}
    if prefix != "auto":
        exact = [c for c in given if c == prefix or c.rstrip(SEPARATORS) == prefix]
        return (max(exact, key=lambda c: given[c]) if exact else prefix), []
    best = max(given.values(), default=0)
    bare = len(carriers[""])
    if bare >= best and not any(_another(carriers, c) for c in given):
        return "", []
    rivals = [c for c, n in given.items() if n * 2 > best]
    own = [c for c in rivals if participant is not None and c.rstrip(SEPARATORS).casefold() == participant.casefold()]
    if own:
        return own[0], []
    people = len(rivals) + any(_another(carriers, c) for c in rivals)
    if people > 1:
        text = (
            f"the wanted labels stand {people} times, each time with another participant's prefix or with none, so it is not "
            "known whose markers to take; write the prefix into the marker set (prefix:, none for the labels without)"
        )
        return max(rivals, key=lambda c: given[c]), [
            Finding("participants in one file", "file", float(people), 1.0, "participants", "reject", text)
        ]
    return rivals[0], []


def _another(carriers: dict[str, frozenset[str]], prefix: str) -> bool:
    """Whether the labels without a prefix are another participant's than those with this one: most stand there twice."""
    bare, own = carriers[""], carriers.get(prefix, frozenset())
    both = 2 * len(bare & own)
    return both > len(bare) and both > len(own)


def _carriers(places: Collection[str], wanted: tuple[str, ...]) -> dict[str, frozenset[str]]:
    """The wanted labels that each prefix carries: what stands before a wanted label and ends in a separator; '' is none.

    A label that is itself wanted, such as L_KNEE beside a wanted KNEE, carries no other.
    """
    names = frozenset(wanted)
    found: dict[str, set[str]] = {"": {label for label in places if label in names}}
    for label in places:
        for cut in (m.end() for m in re.finditer(f"[{re.escape(SEPARATORS)}]", label)):
            if label[cut:] in names and label not in names:
                found.setdefault(label[:cut], set()).add(label[cut:])
    return {prefix: frozenset(carried) for prefix, carried in found.items()}
