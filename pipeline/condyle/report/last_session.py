"""What changed since the last session, and could measurement error alone have done it?"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from condyle.report.comparing import Compared, at_shared_flexion, depths_differ, difference
from condyle.report.depths import pooled_words, to_60
from condyle.report.detectable import Detectable, detectable, repeatability_of, session_folder
from condyle.report.equal_depth import shared_flexion, shared_words
from condyle.report.legs import Estimate, Leg, legs_of
from condyle.report.results_read import Results, read_results
from condyle.report.words import digits_for, joined, number, with_interval

_ALWAYS = (
    ("knee_flexion_at_bottom", "knee flexion at the bottom"),
    ("fppa_at_60_knee_flexion", "FPPA at 60° knee flexion"),
    ("hip_adduction_at_60_knee_flexion", "hip adduction at 60° knee flexion"),
    ("hip_internal_rotation_at_60_knee_flexion", "hip rotation at 60° knee flexion"),
    ("pelvis_rotation_at_60_knee_flexion", "pelvis rotation at 60° knee flexion"),
    ("pelvis_obliquity_at_60_knee_flexion", "pelvis obliquity at 60° knee flexion"),
    ("trunk_lean_at_60_knee_flexion", "trunk lean at 60° knee flexion"),
)
_EQUAL_DEPTH = (
    ("fppa_at_bottom", "FPPA at the bottom"),
    ("fppa_change", "FPPA, start to bottom"),
    ("knee_travel", "knee travel, medial +"),
    ("knee_range", "knee, medio-lateral range"),
    ("shoulders_range", "shoulders, medio-lateral range"),
)


class Since(NamedTuple):
    """The comparison of one leg with its last session, or the sentence that says why there is none."""

    leg: str
    rows: list[Compared]
    note: str


def previous_results(results: Results) -> tuple[Results | None, str]:
    """The results of the session named by ``previous``, or why there are none; both empty where none was named."""
    named = results.declared.get("previous")
    if not isinstance(named, str) or not named:
        return None, ""
    for folder in _candidates(results, named):
        if (folder / "measures.csv").is_file():
            found = read_results(folder)
            if folder.resolve() == results.folder.resolve():
                return None, "The session named as previous is this one itself; nothing is compared."
            if found.participant != results.participant:
                return None, "The session named as previous is another participant's; nothing is compared."
            return found, ""
    return None, "The session named as previous has no results yet; process it, then this one again, to compare them."


def why_not_compared(folder: Path, kept_back: Mapping[str, Any]) -> str:
    """Why the results in ``folder`` are not compared with those of the session before; '' where they are, or none is named.

    ``kept_back`` stands over what the manifest says, see :func:`condyle.report.write_report`.
    """
    return previous_results(read_results(folder, kept_back))[1]


def _candidates(results: Results, named: str) -> list[Path]:
    above = session_folder(results)
    return [above / named / "results", results.folder.parent / named / "results", results.folder / named, above / named]


def since_last(results: Results, share: bool) -> tuple[str, list[Since]]:
    """A heading sentence and a table per leg."""
    before, why_not = previous_results(results)
    if before is None:
        return why_not, []
    olds = {(leg.side, leg.task, leg.condition): leg for leg in legs_of(before)}
    out = []
    for leg in legs_of(results):
        old = olds.get((leg.side, leg.task, leg.condition))
        if old is None or not len(old.valid) or not len(leg.valid):
            out.append(Since(leg.words, [], "Not measured in both sessions in this task and condition."))
            continue
        out.append(_of_leg(results, leg, old))
    said = "Compared with the last session" + ("" if share else f" ({before.session})") + "."
    return " ".join([said, _settings_words(results, before)]).strip(), out


def _settings_words(results: Results, before: Results) -> str:
    differing = [
        words
        for key, words in (("pipeline", "the pipeline"), ("marker_set", "the marker set"))
        if _without_report(results.manifest.get("settings", {}).get(key))
        != _without_report(before.manifest.get("settings", {}).get(key))
    ]
    if results.declared.get("tester") != before.declared.get("tester"):
        differing.append("the tester")
    if not differing:
        return "Same pipeline, marker set and tester."
    return f"Caution: {joined(differing)} differed, which can change the numbers by itself."


def _without_report(settings: Any) -> Any:
    if isinstance(settings, dict) and isinstance(settings.get("stages"), list):
        return {**settings, "stages": [s for s in settings["stages"] if not (isinstance(s, dict) and "report" in s)]}
    return settings


def _of_leg(results: Results, leg: Leg, old: Leg) -> Since:
    apart, fewest = depths_differ(leg, old), min(len(leg.valid), len(old.valid))
    unlike = [f"{words[:-1]} ({when})." for g, when in ((leg, "now"), (old, "then")) if (words := pooled_words(g))]
    wanted = _ALWAYS if apart or unlike else (*_ALWAYS, *_EQUAL_DEPTH)
    changes = {m: detectable(repeatability_of(results, leg.task, m), fewest) for m, _ in wanted}
    rows = [row for m, words in wanted if (row := _row(leg, old, m, words, changes[m]))]
    angle = to_60(leg, "fppa"), to_60(old, "fppa")
    if all(e.known for e in angle):
        rows.append(_told("FPPA, change to 60° knee flexion", "deg", *angle, None))
    rows += at_shared_flexion(shared := shared_flexion(leg, old), leg, old)
    note = f"Means of {len(leg.valid)} and {len(old.valid)} repetitions. "
    said = list(dict.fromkeys(f"{c.source}; for {c.of}" for c in changes.values() if c))
    note += (
        f"Minimal detectable change (95 %, 1.96 √2 SEM): {' and '.join(said)}. Where none is shown, none is known. "
        if said
        else "No minimal detectable change is known, so changes are shown without a judgement. "
    )
    if unlike:
        note += f"{' '.join(unlike)} Compared at equal knee flexion only."
    elif apart:
        note += f"The depths differed by {number(abs(apart), 0)} degrees of knee flexion: compared at equal knee flexion only."
    note += f" {shared_words(shared)}".rstrip()
    for when, words in (("now", leg.overridden), ("then", old.overridden)):
        note += f" Overridden rejects {when}: {words}." if words else ""
    return Since(leg.words, rows, note.strip())


def _row(leg: Leg, old: Leg, measure: str, words: str, change: Detectable | None) -> Compared | None:
    now, then = leg.measure(measure), old.measure(measure)
    return _told(words, leg.unit(measure), now, then, change) if now.known and then.known else None


def _told(words: str, unit: str, now: Estimate, then: Estimate, change: Detectable | None) -> Compared:
    apart, digits = difference(now, then), digits_for(unit)
    judgement = ""
    if change is not None:
        inside = abs(apart.value) < change.value
        size = f"minimal detectable change {number(change.value, digits)}"
        judgement = f"{'cannot be told from measurement error' if inside else 'beyond measurement error'} ({size})"
    at, before = (with_interval(e.value, e.lower, e.upper, digits) for e in (now, then))
    return Compared(words, unit, at, before, number(apart.value, digits), judgement)
