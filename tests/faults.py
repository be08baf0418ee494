"""``python -m tests.faults``: how many faults does the quality check find, and how often does it blame a sound trial?

Sound squats of simulated participants, with published palpation and soft-tissue errors, get one fault each, at several
sizes. Found: a row for review or rejection that the sound trial did not have. Faults that change names, visibility or
distances inside a segment count where they move an angle of the measured leg by more than 2 degrees or take angles away.
"""

import argparse
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import xarray as xr

from condyle.body_names import CONTRACT_ANGLES, JOINT_SEGMENTS, LANDMARK_SEGMENT, SIDES
from condyle.files.samples import leap_findings
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.sample import SimulatedSession, cohort
from condyle.stages.body import markers_of, tracking_names
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.quality import QualitySettings, quality_trial
from tests.fault_case import Case, Kind
from tests.fault_kinds import KINDS
from tests.simulated import calibrated, run, trial_of

MOVED_DEG = 2.0
LOST_SHARE = 0.005  # of the frames whose angle is gone


@dataclass(frozen=True)
class Sound:
    """A sound trial with its standing trial, what is found about it, and its angles."""

    static: xr.Dataset
    trial: xr.Dataset  # as read: not calibrated
    side: str
    bottoms: list[int]
    findings: list[Finding]
    angle: FloatArray


@dataclass(frozen=True)
class Outcome:
    """What became of one fault: ``found`` at all, and ``named``: on a marker or segment it concerns, or on the file."""

    kind: Kind
    size: float
    found: bool
    named: bool
    rejected: bool
    moved: bool
    rows: tuple[Finding, ...]

    @property
    def checks(self) -> tuple[str, ...]:
        """Which checks found it."""
        return tuple(dict.fromkeys(f.check for f in self.rows))


def judged(static: xr.Dataset, trial: xr.Dataset) -> tuple[list[Finding], FloatArray | None]:
    """All findings on a standing trial and a movement, and the angles; None where none can be had."""
    found = list(check_trial(static, CheckSettings())[1])
    try:
        taught = calibrated(static)
    except KeyError:  # calibrate rejected it
        return [*found, Finding("calibration", "file", None, None, "", "reject", "")], None
    trial = trial.assign(taught)
    checked, more = check_trial(trial, CheckSettings())
    found += more
    found += leap_findings(  # what reading the file says
        trial["point"].values, [str(v) for v in trial["label"].values], float(trial.attrs["rate_hz"])
    )
    posed, more = run(checked, "movement", leave=("check", "repair", "quality"), until="repetitions")
    found += [f for f in more if f.verdict == "reject"]
    if "angle" not in posed:
        return found, None
    if "pelvis_rung" in posed:
        found += quality_trial(posed, QualitySettings())[1]
    return found, posed["angle"].values


def sound_trials(sessions: Iterable[SimulatedSession]) -> Iterator[Sound]:
    """Every squat of every session."""
    for session in sessions:
        static = trial_of(session.static, task="static")
        for simulated in session.trials:
            trial = trial_of(simulated)
            findings, angle = judged(static, trial)
            assert angle is not None
            bottoms = [r.bottom for b in simulated.bouts for r in b.repetitions]
            yield Sound(static, trial, simulated.bouts[0].side, bottoms, findings, angle)


def injected(sound: Sound, other: Sound, kind: Kind, size: float, rng: np.random.Generator) -> Outcome:
    """One fault in one sound trial, and whether it is found."""
    names = markers_of(sound.trial)
    tracking = {s: [names.index(n) for n in own if n in names] for s, own in tracking_names(sound.trial).items()}
    case = Case(
        sound.trial["point"].values.copy(),
        sound.static["point"].values.copy(),
        names,
        tracking,
        sound.side[0],
        float(sound.trial.attrs["rate_hz"]),
        sound.bottoms,
        other.static["point"].values,
    )
    kind.make(case, size, rng)
    static = sound.static.assign(point=(sound.static["point"].dims, case.static))
    trial = sound.trial
    if len(case.point) != trial.sizes["time"]:
        time = np.arange(len(case.point)) / case.rate_hz
        trial = trial.drop_dims("time").assign_coords(time=time)
    trial = trial.assign(point=(("time", "marker", "axis"), case.point))
    findings, angle = judged(static, trial)
    known = {(f.check, f.subject, f.verdict) for f in sound.findings}
    new = [f for f in findings if f.verdict != "pass" and (f.check, f.subject, f.verdict) not in known]
    rejected = any(f.verdict == "reject" for f in new)
    named = _named(new, sound, case)
    return Outcome(kind, size, bool(new), named, rejected, _moved(sound, angle), tuple(new))


def _named(rows: list[Finding], sound: Sound, case: Case) -> bool:
    """Whether a row is on the file, or on or about a marker that was changed, its segment or one beside it."""
    names, labels = markers_of(sound.trial), [str(v) for v in sound.trial["label"].values]
    before, after = sound.trial["point"].values, case.point
    changed = ~np.isclose(sound.static["point"].values, case.static, equal_nan=True).all(axis=(0, 2))
    if len(before) == len(after):
        changed |= ~np.isclose(before, after, equal_nan=True).all(axis=(0, 2))
    own = {s for s, columns in case.tracking.items() if changed[columns].any()}
    own |= {LANDMARK_SEGMENT[n] for n, c in zip(names, changed, strict=True) if c and n in LANDMARK_SEGMENT}
    beside = {s for joint in JOINT_SEGMENTS.values() if own & set(joint) for s in joint}
    touched = [label for label, c in zip(labels, changed, strict=True) if c]
    return any(
        f.subject in {"file", *own, *beside, *touched}
        or f.subject.startswith("repetition")
        or any(label in f.advice for label in touched)
        for f in rows
    )


def _moved(sound: Sound, angle: FloatArray | None) -> bool:
    """Whether an angle of the measured leg changed by more than 2 degrees somewhere, or is gone."""
    if angle is None or len(angle) != len(sound.angle):
        return True
    side = SIDES.index(sound.side)
    columns = [k for k, n in enumerate(CONTRACT_ANGLES) if not n.startswith("trunk")]
    before, after = sound.angle[:, side][:, columns], angle[:, side][:, columns]
    gone = np.isnan(after) & ~np.isnan(before)
    apart = np.abs((after - before + 180.0) % 360.0 - 180.0)
    return bool(gone.mean() > LOST_SHARE or np.nanmax(apart, initial=0.0) > MOVED_DEG)


def outcomes(sounds: list[Sound], kinds: Iterable[Kind], seed: int) -> list[Outcome]:
    """Every kind in every trial, the sizes by turns."""
    out = []
    for kind in kinds:
        rng = np.random.default_rng([seed, *kind.name.encode()])
        for k, sound in enumerate(sounds):
            other = sounds[(k + 2) % len(sounds)]  # two trials a session: the next person
            out.append(injected(sound, other, kind, kind.sizes[k % len(kind.sizes)], rng))
    return out


def rate(part: list[Outcome]) -> float:
    """Share found, in percent, of those that count; NaN for none."""
    return 100.0 * float(np.mean([o.found for o in part])) if part else float("nan")


def counted(found: list[Outcome], kind: Kind) -> list[Outcome]:
    """The outcomes by which a kind is judged."""
    return [o for o in found if o.kind is kind and (o.moved or kind.target != "found")]


def table(found: list[Outcome], kinds: Iterable[Kind]) -> Iterator[str]:
    """A line per fault: found by size; found, found where it is, and rejected in all."""
    yield f"{'fault':<44}{'found % by size':<46}{'all':>7}{'named':>7}{'rejected':>10}{'cases':>7}"
    for kind in kinds:
        part = counted(found, kind)
        sizes = "  ".join(
            f"{size:g}: {rate(own):.0f}" for size in kind.sizes if (own := [o for o in part if o.size == size])
        )
        rejected = 100.0 * float(np.mean([o.rejected for o in part])) if part else float("nan")
        named = 100.0 * float(np.mean([o.named for o in part])) if part else float("nan")
        yield f"{kind.name:<44}{sizes + ' ' + kind.unit:<46}{rate(part):>7.1f}{named:>7.1f}{rejected:>10.1f}{len(part):>7}"
        if kind.target == "smallest":
            smallest = [s for s in kind.sizes if rate([o for o in part if o.size == s]) >= 95]
            yield f"{'':<44}smallest size found in 95 %: {f'{min(smallest):g} {kind.unit}' if smallest else 'none'}"


def false_alarms(sounds: list[Sound]) -> tuple[float, float]:
    """Shares of sound trials, in percent, with a reject and with anything to review but gaps that are really there."""
    real = ("marker missing", "marker often missing", "marker flickers", "long gap", "segment seen", "ghost point")
    real += ("hidden at the bottom", "pelvis at the bottom")
    rejects = [any(f.verdict == "reject" for f in s.findings) for s in sounds]
    reviews = [any(f.verdict == "review" and not f.check.startswith(real) for f in s.findings) for s in sounds]
    return 100.0 * float(np.mean(rejects)), 100.0 * float(np.mean(reviews))


def main(argv: list[str] | None = None) -> int:
    """Print detection and false-alarm rates."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--trials", type=int, default=400, help="sound trials, two a participant (default 400)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--fault", help="only faults whose name contains this")
    parser.add_argument("--missed", action="store_true", help="list the cases that were not found")
    arguments = parser.parse_args(argv)
    kinds = [k for k in KINDS if not arguments.fault or arguments.fault in k.name]
    sounds = list(sound_trials(cohort((arguments.trials + 1) // 2, arguments.seed)))[: arguments.trials]
    rejects, reviews = false_alarms(sounds)
    print(
        f"{len(sounds)} sound trials: {rejects:.1f} % rejected, {reviews:.1f} % with something to review besides gaps"
    )
    found = outcomes(sounds, kinds, arguments.seed)
    print(*table(found, kinds), sep="\n")
    print(
        "palpation, for comparison: SD 5-12 mm per axis in the plane of the skin (Della Croce et al. 2005: 15-20 mm in all)"
    )
    if arguments.missed:
        print(
            *(f"missed: {o.kind.name} {o.size:g}" for o in found if not o.found and o in counted(found, o.kind)),
            sep="\n",
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
