"""Running the stages on one trial: who may stop it, whose word overrides, and what is remembered."""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from time import perf_counter
from typing import Any, Protocol

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, LANDMARK_SEGMENT, SEGMENTS, SIDES
from condyle.findings import ACCEPTED, Finding, worst
from condyle.stages.checks.subjects import SHOULDERS
from condyle.stages.stage import Stage
from condyle.stages.validity import NOT_LOOKED_FOR
from condyle.trial_data import disagreements, noted

Progress = Callable[[str, str], None]
LEFT_OUT = "leg left out"
_ACROMIA = ("acromion_l", "acromion_r")
_WITHOUT_A_LEG = (NOT_LOOKED_FOR,)  # what a leg that was taken out leaves unseen of the other one
_MARKERS_MISSING = ("segment seen", "tracking points")
_OF_A_FOOT = (
    "Where it has none, angles of the ankle and the accounts from below and from standing are not given, nor what is measured "
    "from the missing markers; the rest is."
)
_FALLS_AWAY = {
    "foot_l": _OF_A_FOOT,
    "foot_r": _OF_A_FOOT,
    "trunk": (
        "Where it has none, angles of the trunk are not given; lines of shoulders and trunk are, by what is seen, and the rest."
    ),
}


class Accepted(Protocol):
    """An override in the session file: this check on this subject of this trial is let through, and why."""

    @property
    def trial(self) -> str: ...  # noqa: D102
    @property
    def subject(self) -> str: ...  # noqa: D102
    @property
    def check(self) -> str: ...  # noqa: D102
    @property
    def why(self) -> str: ...  # noqa: D102


def quiet(_trial: str, _stage: str) -> None:
    """No progress display."""


@dataclass(frozen=True)
class Processed:
    """A trial after its stages, what was found, and the seconds each stage took. ``rejected`` ends its use."""

    trial: xr.Dataset
    findings: tuple[Finding, ...] = ()
    rejected: bool = False
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """The trial's name."""
        return str(self.trial.attrs["trial"])

    @property
    def verdict(self) -> str:
        """The hardest verdict among the findings."""
        return worst(self.findings)


def run_trial(
    done: Processed,
    stages: Iterable[Stage[Any]],
    settings_of: Callable[[str], Any],
    accepted: Sequence[Accepted] = (),
    progress: Progress = quiet,
) -> Processed:
    """The trial after these stages; a rejecting finding on the file, the pelvis or a measured leg ends it."""
    trial, findings, rejected = done.trial, list(done.findings), done.rejected
    seconds = dict(done.seconds)
    stages = list(stages)
    history: list[Any] = json.loads(trial.attrs.get("history", "[]"))
    for stage in stages:
        if rejected:
            break
        progress(str(trial.attrs["trial"]), stage.name)
        started = perf_counter()
        settings = settings_of(stage.name)
        after, found = stage.run(trial, settings)
        if wrong := disagreements(after):
            raise AssertionError(f"stage {stage.name} broke the vocabulary: {'; '.join(wrong)}")
        gone = {f.subject for f in findings if f.check == LEFT_OUT}
        found = [own_measures_only(f) for f in found]
        let_through = [overridden(f, str(trial.attrs["trial"]), accepted) for f in found]
        if not _lacks(after, stage, stages):  # else nothing could be computed, whoever takes responsibility
            found = let_through
        # what a stage misses in a leg that was taken out is no news, but for what it then cannot say of the other one
        found = [
            f for f in found if f.verdict == "reject" or leg_of(f.subject) not in gone or f.check in _WITHOUT_A_LEG
        ]
        history.append({stage.name: settings.model_dump(mode="json")})
        trial, rejected, spared = judge(after, found)
        findings += [*found, *(f for f in spared if f.subject not in gone)]
        seconds[stage.name] = seconds.get(stage.name, 0.0) + perf_counter() - started
    return Processed(noted(trial, history=json.dumps(history)), tuple(findings), rejected, seconds)


def _lacks(trial: xr.Dataset, stage: Stage[Any], stages: Sequence[Stage[Any]]) -> bool:
    """Whether a stage could not give what a later one needs."""
    needed = {name for later in stages[stages.index(stage) + 1 :] for name in later.needs}
    return not needed & stage.gives <= set(trial.variables)


def overridden(finding: Finding, trial: str, accepted: Sequence[Accepted]) -> Finding:
    """A reject that the session file lets through by name becomes a review that prints the reason."""
    if finding.verdict != "reject":
        return finding
    for a in accepted:
        if (a.trial, a.subject, a.check) == (trial, finding.subject, finding.check):
            return replace(finding, verdict="review", advice=f"{ACCEPTED}{a.why}")
    return finding


def own_measures_only(finding: Finding) -> Finding:
    """A trunk or a foot whose markers are missing takes its own measures with it, and ends nothing."""
    if finding.verdict != "reject" or finding.check not in _MARKERS_MISSING or finding.subject not in _FALLS_AWAY:
        return finding
    return replace(finding, verdict="review", advice=f"{finding.advice} {_FALLS_AWAY[finding.subject]}")


def leg_of(subject: str) -> str | None:
    """The side a finding's subject belongs to; None for the file, the pelvis, the trunk or a marker."""
    name = LANDMARK_SEGMENT.get(subject, subject)
    if name.endswith(("_r", "_right")) or name == "right":
        return "right"
    if name.endswith(("_l", "_left")) or name == "left":
        return "left"
    return None


def judge(trial: xr.Dataset, found: Sequence[Finding]) -> tuple[xr.Dataset, bool, list[Finding]]:
    """The trial with rejected free legs emptied, whether it ends here, and one row for each leg that was emptied."""
    reasons: dict[str, list[Finding]] = {}
    for finding in found:
        if finding.verdict != "reject":
            continue
        side = leg_of(finding.subject)
        if finding.subject == "trunk":
            trial = emptied(trial, ("trunk",))
            continue
        if finding.subject == SHOULDERS:
            trial = _without(trial, _ACROMIA)
            continue
        if side is None or side in measured_sides(trial):
            return trial, True, _left_out(reasons)
        tail = f"_{side[0]}"
        trial = emptied(trial, (f"thigh{tail}", f"shank{tail}", f"foot{tail}"))
        reasons.setdefault(side, []).append(finding)
    return trial, False, _left_out(reasons)


def _left_out(reasons: Mapping[str, Sequence[Finding]]) -> list[Finding]:
    """The row of each leg that was taken out, with the findings that did so."""
    rest = "neither leg is computed" if len(reasons) > 1 else "the other leg is computed"
    out = []
    for side, why in reasons.items():
        by = " and ".join(dict.fromkeys(f"{f.subject} ({f.check})" for f in why))
        were = "were" if len({f.subject for f in why}) > 1 else "was"
        advice = f"the {side} leg is not given in this trial, for {by} {were} rejected; {rest}."
        out.append(Finding(LEFT_OUT, side, None, None, "", "review", advice))
    return out


def measured_sides(trial: xr.Dataset) -> tuple[str, ...]:
    """The legs a trial is about: the declared or found stance side; both where the task has none."""
    if "bout_side" in trial and trial.sizes["bout"]:
        sides = set(trial.variables["bout_side"].values.tolist())
        return ("left", "right") if "both" in sides or len(sides) > 1 else tuple(sides)
    side, task = trial.attrs.get("side", "both"), trial.attrs.get("task", "other")
    if task == "static":
        return ()
    if task in ("other", "double_leg_squat"):
        return ("left", "right")
    if side in ("left", "right"):
        return (side,)
    return () if side == "auto" else ("left", "right")


def emptied(trial: xr.Dataset, segments: tuple[str, ...]) -> xr.Dataset:
    """The trial without the points, poses and angles of these segments.

    Of the trunk without the acromia where they do not track it: they carry lines of their own and the path of the shoulders.
    """
    gone = [SEGMENTS.index(s) for s in segments]
    names = trial.variables["body_point"].values[trial.variables["tracking"].values[gone].any(axis=0)]
    markers = [str(n) for n in trial.variables["marker"].values]
    trial = _without(
        trial, [*names, *(n for n in markers if LANDMARK_SEGMENT.get(n) in segments and n not in _ACROMIA)]
    )
    out: dict[str, Any] = {}
    for variable in ("calibrated_point", "static_pose", "static_origin"):
        if variable in trial:
            values = trial.variables[variable].values.copy()
            values[gone] = np.nan
            out[variable] = (trial[variable].dims, values)
    for variable in ("pose", "origin", "fit_rms"):
        if variable in trial:
            values = trial.variables[variable].values.copy()
            values[:, gone] = np.nan
            out[variable] = (trial[variable].dims, values)
    sides = [k for k, side in enumerate(SIDES) if f"thigh_{side[0]}" in segments]
    if "angle" in trial and sides:
        values = trial.variables["angle"].values.copy()
        values[:, np.array(sides)[:, None], np.flatnonzero(_OF_A_LEG)] = np.nan
        out["angle"] = (trial["angle"].dims, values)
    if "joint_centre" in trial and sides:
        values = trial.variables["joint_centre"].values.copy()
        values[:, [JOINTS.index(f"{n}_{SIDES[k][0]}") for k in sides for n in ("knee", "ankle")]] = np.nan
        out["joint_centre"] = (trial["joint_centre"].dims, values)
    return trial.assign(out)


def _without(trial: xr.Dataset, markers: Sequence[str]) -> xr.Dataset:
    """The trial without these points."""
    point = trial.variables["point"].values.copy()
    point[:, np.isin(trial.variables["marker"].values, list(markers))] = np.nan
    return trial.assign(point=(trial["point"].dims, point))


_OF_A_LEG = np.array([n.startswith(("hip", "knee", "ankle", "thigh", "fppa")) for n in JOINT_ANGLES])


def taught_by(static: xr.Dataset, names: Sequence[str]) -> Mapping[str, Any]:
    """The calibration variables of a standing trial, to be added to a movement trial."""
    return {name: static.variables[name].values for name in names if name in static.variables}
