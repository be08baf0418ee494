"""Published values beside the participant's: context, never a limit between normal and not."""

import math
from collections.abc import Mapping
from typing import NamedTuple

from condyle.body_names import JOINT_ANGLES
from condyle.files.limits import Limit, load_limits, overlaid
from condyle.files.reference import Reference, own_folders, references
from condyle.report.depths import depths_of
from condyle.report.legs import Leg
from condyle.report.results_read import Results
from condyle.report.words import digits_for, interval, number, spoken, with_interval

SCORE_WORDS = (
    "z: distance from the group's mean in its standard deviations, of the participant's mean (95 % limits where they "
    "were computed). It says where somebody stands among the people measured, not whether that is well or ill."
)


class Published(NamedTuple):
    """By measure, the groups to lay beside the participant's values; mistakes in the lab's own files."""

    groups: dict[str, list[Reference]]
    complaints: tuple[str, ...] = ()
    limits: Mapping[str, Limit] | None = None  # in force; None: as shipped


class Person(NamedTuple):
    """What decides which groups a participant may be scored against; None where not stated."""

    sex: str | None
    age_years: float | None


class Beside(NamedTuple):
    """A measure of a leg beside a published group, as text."""

    what: str
    unit: str
    values: dict[str, str]  # side: value with its interval
    published: list[str]
    scores: list[str]  # group, and z by side


class Context(NamedTuple):
    """The table of published values, with its sources."""

    sides: list[str]
    rows: list[Beside]
    sources: list[str]
    scores: str  # what a z is, or why there is none

    @property
    def scored(self) -> bool:
        """Whether any row has a z-score."""
        return any(row.scores for row in self.rows)


def person_of(results: Results) -> Person:
    """Sex and age from the session file."""
    said = results.declared.get("participant") or {}
    age = said.get("age_years")
    return Person(said.get("sex"), float(age) if isinstance(age, int | float) else None)


def published_for(results: Results, task: str) -> Published:
    """The groups of a task, shipped and the lab's own: of the participant's sex, of both where it is not given."""
    sex = person_of(results).sex
    known = references(own_folders(results.manifest, results.folder))
    found: dict[str, list[Reference]] = {}
    for (of_task, measure), groups in known.values.items():
        kept = [g for g in groups if not (sex and g.sex and g.sex != sex)]
        if of_task == task and kept:
            found[measure] = kept
    changed = results.stages.get("contributions", {}).get("limits") or {}
    shipped = load_limits("findings")
    return Published(found, known.complaints, overlaid(shipped, {n: v for n, v in changed.items() if n in shipped}))


def peaks(published: dict[str, list[Reference]]) -> dict[str, list[tuple[float, float, bool]]]:
    """By angle: mean and SD of published peaks, and whether of people with pain, for the margin of a curve's panel."""
    out: dict[str, list[tuple[float, float, bool]]] = {}
    for angle in JOINT_ANGLES:
        for end in ("max", "min"):
            groups = published.get(f"{angle}_{end}", [])
            out.setdefault(angle, []).extend((r.mean, r.sd, r.with_pain) for r in groups)
    return {angle: values for angle, values in out.items() if values}


def context(legs: list[Leg], published: Published, person: Person) -> Context | None:
    """The measures of these legs that have published values."""
    rows, used, obstacles = [], [], []
    for measure, groups in published.groups.items():
        unit = next((u for leg in legs if (u := leg.unit(measure))), "")
        digits = digits_for(unit)
        known = [leg for leg in legs if leg.measure(measure).known]
        if not known:
            continue
        values = {leg.side: with_interval(*leg.measure(measure)[:3], digits) for leg in known}
        said = [_said(g, digits) for g in groups]
        scores = []
        for group in groups:
            found = {leg.side: score(leg, measure, group, person, published.limits) for leg in known}
            obstacles += [(group, why) for why in found.values() if isinstance(why, str)]
            if told := [f"{side} {_z(*z)}" for side, z in found.items() if not isinstance(z, str)]:
                scores.append(f"{group.group}: {', '.join(told)}")
        what = f"{spoken(measure).removesuffix(' max').removesuffix(' min')}{_end(measure)}"
        rows.append(Beside(what, unit, values, said, scores))
        used += [g.origin for g in groups]
    if not rows:
        return None
    words = _score_words(any(row.scores for row in rows), obstacles)
    return Context(list(dict.fromkeys(leg.side for leg in legs)), rows, list(dict.fromkeys(used)), words)


def score(
    leg: Leg, measure: str, group: Reference, person: Person, limits: Mapping[str, Limit] | None = None
) -> tuple[float, float, float] | str:
    """The z-score of a leg's mean with the limits of the mean; or why there is none, in a few words."""
    depth = leg.measure("knee_flexion_at_bottom").value
    why = incomparable(group, person, depth, limits)
    if not why and depths_of(leg).pooled:
        why = "squats of unlike depth are pooled"
    if why:
        return why
    value, lower, upper = ((v - group.mean) / group.sd for v in leg.measure(measure)[:3])
    most = (limits or load_limits("findings"))["z_score_most"].value
    if abs(value) > most:
        far = f"{spoken(measure)} lies more than {most:g} of its standard deviations from its mean"
        return f"{far}: its unit or definition differs, look into the file of published values"
    return value, lower, upper


def incomparable(group: Reference, person: Person, depth_deg: float, limits: Mapping[str, Limit] | None = None) -> str:
    """Why a value of this person may not be scored against the group, in a few words; '' where it may."""
    within = (limits or load_limits("findings"))["depth_apart_deg"].value
    age, ages, deep = person.age_years, group.age_years, group.knee_flexion_deg
    obstacles = (
        (group.with_pain, "people with pain, as context only"),
        (group.kind == "absolute", "absolute angles and peaks are not scored"),
        (group.definition != "same", "not known to be measured in the same way"),
        (ages is None, "the group's age is not stated"),
        (deep is None, "how deep the group squatted is not stated"),
        (group.sex is not None and person.sex is None, "the participant's sex is not given"),
        (group.sex is not None and person.sex != group.sex, "another sex"),
        (age is None, "the participant's age is not given"),
        (ages is not None and age is not None and not ages[0] <= math.floor(age) <= ages[1], "another age"),
        (not math.isfinite(depth_deg), "the participant's depth was not measured"),
        (
            deep is not None and not abs(depth_deg - deep) <= within,
            f"depths more than {within:g} degrees of knee flexion apart",
        ),
    )
    return next((words for stands, words in obstacles if stands), "")


def _said(group: Reference, digits: int) -> str:
    """Mean and standard deviation as text; with more digits where the usual ones would leave nothing of the deviation."""
    if round(group.sd, digits) == 0:
        return group.words
    return f"{group.group}: {number(group.mean, digits)} ± {number(group.sd, digits)}{group.unit_words}"


def _z(value: float, lower: float, upper: float) -> str:
    return f"{number(value, 1)} {interval(lower, upper, 1)}".strip()


def _score_words(scored: bool, obstacles: list[tuple[Reference, str]]) -> str:
    """What a z is; why there is none for the groups of which some value could have had one, else for all."""
    could = [(g, why) for g, why in obstacles if g.kind != "absolute" and g.definition == "same" and not g.with_pain]
    by_group: dict[str, list[str]] = {}
    for group, why in could:
        by_group.setdefault(group.group, []).append(why)
    reasons = "; ".join(f"{name}: {', '.join(dict.fromkeys(whys))}" for name, whys in by_group.items())
    if scored:
        return f"{SCORE_WORDS} No z-score against {reasons}." if reasons else SCORE_WORDS
    rule = "No z-scores: they are given only for ranges and displacements, where definition, task, depth, sex and age match"
    return f"{rule} ({reasons})." if reasons else f"{rule}."


def _end(measure: str) -> str:
    return ", largest" if measure.endswith("_max") else ", smallest" if measure.endswith("_min") else ""
