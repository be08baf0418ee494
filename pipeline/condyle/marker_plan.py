"""Planning a marker set: which measures does it yield, which not, and which single lost marker kills which measure?

Nothing is decided by rule: a synthetic person wearing the set stands and squats on either leg, and the stages themselves say
what comes out, once with all markers and once without each of them.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
import xarray as xr

from condyle.files.marker_set import MarkerSet
from condyle.files.pipeline_file import default_pipeline
from condyle.files.trial import trial_from
from condyle.findings import Finding
from condyle.measure_dictionary import MEASURES
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import second_spread
from condyle.running import Processed, run_trial, taught_by
from condyle.sample import Options, SimulatedTrial, build_person, simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.stages import STAGES
from condyle.stages.body import tracking_names
from condyle.vocabulary import CALIBRATION, SEGMENTS, SIDES, put

_NEEDED = ("fill", "filter", "calibrate", "pose", "angles", "repetitions", "measures", "contributions")
WEAK_MM = 25.0  # ours: a cluster this narrow turns by 1.6 degrees for 1 mm of noise on three markers


@dataclass(frozen=True)
class MarkerPlan:
    """What a marker set yields.

    ``given`` and ``absent`` are measure names per side (stance side); ``lost_with`` says which measures a single lost
    marker (its label) takes away in the movement trial; ``lost_static`` the same for the standing trial.
    """

    given: dict[str, tuple[str, ...]]
    absent: dict[str, tuple[str, ...]]
    reasons: tuple[Finding, ...]
    lost_with: dict[str, tuple[str, ...]]
    lost_static: dict[str, tuple[str, ...]]
    weak: tuple[Finding, ...]


@dataclass(frozen=True)
class _Wearer:
    """The synthetic person with the markers of the set, standing and squatting on either leg."""

    markers: MarkerSet
    static: FloatArray
    squats: dict[str, FloatArray]
    rate_hz: float


def plan_markers(markers: MarkerSet, single_losses: bool = True, only: Collection[str] | None = None) -> MarkerPlan:
    """What the set yields on the synthetic person; ``single_losses`` also tries it without each marker (or ``only`` these)."""
    wearer = _dressed(markers)
    whole, reasons = _measures_of(wearer, ())
    given = {side: tuple(m.name for m in MEASURES.values() if m.name in whole[side]) for side in SIDES}
    absent = {side: tuple(m.name for m in MEASURES.values() if m.name not in whole[side]) for side in SIDES}
    moving, standing = {}, {}
    for name in markers.points if single_losses else ():
        label = markers.label_of(name)
        if only is not None and label not in only:
            continue
        if name not in markers.static_points:
            moving[label] = _difference(whole, _measures_of(wearer, (), (name,))[0])
        standing[label] = _difference(whole, _measures_of(wearer, (name,), ())[0])
    return MarkerPlan(given, absent, tuple(reasons), moving, standing, tuple(_weak(wearer)))


def _difference(whole: dict[str, set[str]], less: dict[str, set[str]]) -> tuple[str, ...]:
    """Measures lost on any side, in the dictionary's order."""
    gone = set().union(*(whole[s] - less[s] for s in SIDES))
    return tuple(m.name for m in MEASURES.values() if m.name in gone)


def _dressed(markers: MarkerSet) -> _Wearer:
    person = build_person("MR00")
    options = Options.ideal(timing=Timing(repetitions=1, before_s=1.0, after_s=0.8), rate_hz=50.0, static_s=1.0)
    static = simulate_static(person, options)
    squats = {side: simulate(person, "controlled", options, side) for side in SIDES}
    worn = {side: _worn(markers, trial) for side, trial in squats.items()}
    return _Wearer(markers, _worn(markers, static), worn, options.rate_hz)


def _worn(markers: MarkerSet, trial: SimulatedTrial) -> FloatArray:
    """The set's points on the person (time, points, 3): landmarks where they are, other markers spread over their segment."""
    motion, places = trial.motion, trial.person.points
    out = np.empty((len(trial.time), len(markers.points), 3))
    for k, name in enumerate(markers.points):
        if name == "sacrum":
            segment, place = "pelvis", 0.5 * (places["psis_r"][1] + places["psis_l"][1])
        elif name in places:
            segment, place = places[name]
        else:
            segment = next(s for s in markers.segments if name in markers.tracking_points(s))
            place = _anywhere(markers, segment, name)
        out[:, k] = motion.origin[segment] + motion.axes[segment] @ np.asarray(place, dtype=float)
    return out


def _anywhere(markers: MarkerSet, segment: str, name: str) -> FloatArray:
    """A place on the segment for a marker that the set does not call by an anatomical name: spread, never in one line."""
    k = [n for n in markers.tracking_points(segment) if n not in markers.landmarks].index(name)
    outward = -1.0 if segment.endswith("_l") else 1.0
    row, column = divmod(k, 2)
    down = {"thigh": -180.0, "shank": -130.0}.get(segment[:5], 0.0)
    return np.array([45.0 - 50.0 * column, down - 70.0 * row, outward * (60.0 + 12.0 * (k % 3))])


def _measures_of(
    wearer: _Wearer, without_static: Sequence[str], without_moving: Sequence[str] = ()
) -> tuple[dict[str, set[str]], list[Finding]]:
    """Stance side -> measures with a value, and what the standing trial said."""
    settings = default_pipeline(STAGES).settings_of
    stages = [s for s in STAGES if s.name in _NEEDED]
    gone = (*without_static, *without_moving) if without_static else without_moving
    static = _trial(wearer, wearer.static, "static", "both", without_static)
    taught = run_trial(Processed(static), [s for s in stages if s.on != "movement"], settings)
    out: dict[str, set[str]] = {side: set() for side in SIDES}
    if taught.rejected:
        return out, list(taught.findings)
    for side, point in wearer.squats.items():
        trial = put(_trial(wearer, point, "single_leg_squat", side, gone), **taught_by(taught.trial, CALIBRATION))
        done = run_trial(Processed(trial), [s for s in stages if s.on != "static"], settings)
        if not done.rejected and "measure_value" in done.trial and done.trial.sizes["repetition"]:
            names = done.trial["measure"].values
            found = ~np.isnan(done.trial["measure_value"].values).all(axis=0)
            out[side] = {str(n) for n in names[found]}
    return out, [f for f in taught.findings if f.verdict != "pass"]


def _trial(wearer: _Wearer, point: FloatArray, task: str, side: str, without: Sequence[str]) -> xr.Dataset:
    seen = point.copy()
    seen[:, [wearer.markers.points.index(n) for n in without]] = np.nan
    if task != "static":
        seen[:, [wearer.markers.points.index(n) for n in wearer.markers.static_points]] = np.nan
    recording: Any = SimpleNamespace(
        labels=wearer.markers.labels, points=seen, rate_hz=wearer.rate_hz, first_frame=1, findings=(), forces=()
    )
    identity = {"participant": "MR00", "session": "plan", "trial": task, "task": task, "side": side}
    more = {"vertical": "+Y", "anterior": "pelvis_at_start"}
    return trial_from(recording, wearer.markers, identity | more, "+Y")[0]


def _weak(wearer: _Wearer) -> list[Finding]:
    """Segments whose landmarks alone make a narrow cluster; the places of other markers are not known from the set."""
    out = []
    trial = _trial(wearer, wearer.static, "static", "both", ())
    names = [str(n) for n in trial["marker"].values]
    for segment, points in tracking_names(trial).items():
        if segment not in SEGMENTS or len(points) < 3:
            continue
        unknown = [n for n in points if n not in names or n not in wearer.markers.landmarks]
        if unknown:
            if len(points) == 3:
                words = "three tracking points only: one that is lost takes the segment with it."
                out.append(Finding("spare tracking points", segment, 3.0, 4.0, "1", "review", words))
            continue
        spread = float(second_spread(wearer.static[0, [names.index(n) for n in points]]))
        if spread < WEAK_MM:
            words = "the tracking points lie nearly on one line, so that noise turns the segment; spread them."
            out.append(Finding("narrow cluster", segment, spread, WEAK_MM, "mm", "review", words))
        if len(points) == 3:
            words = "three tracking points only: one that is lost takes the segment with it."
            out.append(Finding("spare tracking points", segment, 3.0, 4.0, "1", "review", words))
    return out
