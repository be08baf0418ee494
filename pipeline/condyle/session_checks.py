"""What only shows when the files of a session are seen side by side: names that drift, sample rates that differ."""

from collections import Counter
from collections.abc import Mapping

from condyle.files.c3d import Recording
from condyle.files.label_text import is_unlabelled
from condyle.findings import Finding


def drifting_names(recordings: Mapping[str, Recording], known: frozenset[str]) -> dict[str, list[Finding]]:
    """Trial name -> findings: labels that only this trial has, or that only this trial lacks.

    ``known`` are the marker set's labels: their absence is said by the checks of the trial, so only other labels count as
    extra here. Prefixes count as drift where not every file has the same.
    """
    out: dict[str, list[Finding]] = {}
    if len(recordings) < 2:
        return out
    bare = {name: _bare(r) for name, r in recordings.items()}
    count = Counter(label for labels in bare.values() for label in labels)
    prefixes = {name: r.prefixes[:1] for name, r in recordings.items()}
    usual = Counter(prefixes.values()).most_common(1)[0][0]
    for name, labels in bare.items():
        found = []
        only_here = sorted(label for label in labels - known if count[label] == 1)
        only_missing = sorted(
            label for label, n in count.items() if n == len(recordings) - 1 and label not in labels and label in known
        )
        if only_here and len(recordings) > 2:
            advice = f"labels that no other trial of the session has: {_some(only_here)}; were markers renamed?"
            found.append(Finding("naming drift", "file", float(len(only_here)), 0.0, "labels", "review", advice))
        if only_missing and len(recordings) > 2:
            advice = f"labels that every other trial of the session has: {_some(only_missing)}; were markers renamed?"
            found.append(Finding("naming drift", "file", float(len(only_missing)), 0.0, "labels", "review", advice))
        if prefixes[name] != usual:
            advice = "the participant prefix of the labels is not the one of the other trials; labels were matched without it."
            found.append(Finding("prefix drift", "file", None, None, "", "review", advice))
        if found:
            out[name] = found
    return out


def differing_rates(recordings: Mapping[str, Recording]) -> dict[str, list[Finding]]:
    """Trial name -> finding where its sample rate is not the one most files of the session have."""
    rates = {name: r.rate_hz for name, r in recordings.items()}
    if len(set(rates.values())) < 2:
        return {}
    usual = Counter(rates.values()).most_common(1)[0][0]
    advice = "the files of this session have different sample rates; each is filtered by its own."
    return {
        name: [Finding("sample rate differs", "file", rate, usual, "Hz", "review", advice)]
        for name, rate in rates.items()
        if rate != usual
    }


def _bare(recording: Recording) -> set[str]:
    prefix = recording.prefixes[0] if recording.prefixes else ""
    labels = zip(recording.labels, recording.kinds, strict=True)
    return {n.removeprefix(prefix) for n, kind in labels if kind == "marker" and not is_unlabelled(n)}


def _some(labels: list[str]) -> str:
    more = f" and {len(labels) - 6} more" if len(labels) > 6 else ""
    return ", ".join(labels[:6]) + more
