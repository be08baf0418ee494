"""What only shows when the files of a session are seen side by side: copies, names that drift, sample rates that differ.

Standing trials count among the files: with them a session of one squat has something to be compared with.
"""

from collections import Counter
from collections.abc import Hashable, Mapping
from typing import TypeVar

from condyle.files.c3d import Recording
from condyle.files.label_text import is_unlabelled
from condyle.files.near_labels import some
from condyle.files.planned import Session
from condyle.findings import Finding

V = TypeVar("V", bound=Hashable)
Recordings = Mapping[str, Recording]


def drifting_names(
    recordings: Recordings,
    known: frozenset[str],
    statics: frozenset[str] = frozenset(),
    static_only: frozenset[str] = frozenset(),
) -> dict[str, list[Finding]]:
    """Trial name -> findings: labels that only this trial has beside those that only it lacks, and prefixes.

    ``known`` are the marker set's labels, ``static_only`` those of them that only the trials named in ``statics`` show. A
    label that is lost without another in its place is said by the checks of the trial, and is no drift.
    """
    out: dict[str, list[Finding]] = {}
    bare = {name: _bare(r) for name, r in recordings.items()}
    for name in recordings:
        others = [other for other in bare if other != name]
        if not others:
            continue
        extra = bare[name] - known - frozenset().union(*(bare[other] for other in others))
        wanted = known - (frozenset() if name in statics else static_only)
        showing = {label: [o for o in others if label not in static_only or o in statics] for label in wanted}
        lost = {n for n in wanted - bare[name] if showing[n] and all(n in bare[o] for o in showing[n])}
        may_have_more = name in statics or len(others) < 2  # nobody can tell whose label is odd
        if extra and (lost or not may_have_more):
            absent = f", and lacks what every other has: {some(sorted(lost))}" if lost else ""
            advice = f"has labels that no other trial of the session has: {some(sorted(extra))}{absent}; were markers renamed?"
            found = Finding("naming drift", "file", float(len(extra)), 0.0, "labels", "review", advice)
            out.setdefault(name, []).append(found)
    prefixes = {name: r.prefixes[:1] for name, r in recordings.items()}
    for name in _odd(prefixes, statics):
        alike = [other for other in recordings if prefixes[other] != prefixes[name]]
        advice = (
            f"the participant prefix of the labels is not the one of {some(alike)}; labels were matched without it."
        )
        out.setdefault(name, []).append(Finding("prefix drift", "file", None, None, "", "review", advice))
    return out


def differing_rates(recordings: Recordings, statics: frozenset[str] = frozenset()) -> dict[str, list[Finding]]:
    """Trial name -> finding where its sample rate is not the one most files of the session have."""
    rates = {name: r.rate_hz for name, r in recordings.items()}
    out = {}
    for name in _odd(rates, statics):
        other = Counter(rate for rate in rates.values() if rate != rates[name]).most_common(1)[0][0]
        alike = some([n for n, rate in rates.items() if rate == other])
        advice = f"recorded at {rates[name]:g} Hz, {alike} at {other:g} Hz; each is filtered by its own rate. See which is right."
        out[name] = [Finding("sample rate differs", "file", rates[name], other, "Hz", "review", advice)]
    return out


def unused_statics(session: Session) -> list[Finding]:
    """A row for each standing trial that is listed and no trial rests on."""
    used = {session.static, *(trial.static for trial in session.trials)}
    left = [session.name_of(path) for path in session.statics if path not in used]
    advice = "listed, but no trial rests on it, so it was not read: name it in a trial's `static:`, or take it out."
    return [Finding("standing trial not used", name, None, None, "", "review", advice) for name in left]


def copied_files(recordings: Recordings) -> dict[str, list[Finding]]:
    """Trial name -> finding where its file is a copy of another trial's; one file named twice is no copy."""
    first: dict[str, str] = {}
    out = {}
    for name, r in recordings.items():
        other = first.setdefault(r.sha256, name)
        if recordings[other].path != r.path:
            advice = (
                f"its file is, byte for byte, that of {other}: was it exported or copied twice? Take one of them out."
            )
            out[name] = [Finding("same recording twice", "file", None, None, "", "review", advice)]
    return out


def _odd(values: Mapping[str, V], statics: frozenset[str]) -> list[str]:
    """The trials that have not what most have. Of two halves the one with the standing trials is usual; without, none is."""
    count = Counter(values.values())
    if len(count) < 2:
        return []
    most = max(count.values())
    usual = {value for value, n in count.items() if n == most}
    if len(usual) > 1:
        standing = usual & {values[name] for name in statics if name in values}
        usual = standing if len(standing) == 1 else set()
    return [name for name, value in values.items() if value not in usual]


def _bare(recording: Recording) -> frozenset[str]:
    prefix = recording.prefixes[0] if recording.prefixes else ""
    labels = zip(recording.labels, recording.kinds, strict=True)
    return frozenset(n.removeprefix(prefix) for n, kind in labels if kind == "marker" and not is_unlabelled(n))
