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
from condyle.sample import Options, Person, SimulatedTrial, build_person, simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.stages import STAGES
from condyle.stages.body import tracking_names
from condyle.vocabulary import CALIBRATION, JOINT_SEGMENTS, SEGMENTS, SIDES, put

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
    motion, places = trial.motion, _places(markers, trial.person)
    out = np.empty((len(trial.time), len(markers.points), 3))
    for k, name in enumerate(markers.points):
        segment, place = places[name]
        out[:, k] = motion.origin[segment] + motion.axes[segment] @ np.asarray(place, dtype=float)
    return out


def _places(markers: MarkerSet, person: Person) -> dict[str, tuple[str, FloatArray]]:
    """Point of the set -> its segment and its place there.

    Where a marker of the lab's own sits on its segment is not known from the set, so it must not be the reason to call the
    tracking points collinear: it is put as far as the segment reaches from every line through the points already there.
    """
    out = {name: person.points[name] for name in markers.points if name in person.points}
    if "sacrum" in markers.points:
        out["sacrum"] = ("pelvis", 0.5 * (person.points["psis_r"][1] + person.points["psis_l"][1]))
    for segment in markers.segments:
        tracking = markers.tracking_points(segment)
        there = [out[n][1] for n in tracking if n in out and out[n][0] == segment]
        there += [centre for n in tracking if (centre := _joint_centre(person, segment, n)) is not None]
        unknown = [n for n in tracking if n in markers.points and n not in out]
        free = _surface(person, segment, len(unknown))
        for name in unknown:
            best = int(np.argmax(_off_every_line(free, there)))
            there.append(free[best])
            out[name] = (segment, free[best])
            free = np.delete(free, best, axis=0)
    return out


def _joint_centre(person: Person, segment: str, name: str) -> FloatArray | None:
    """A joint centre in the frame of one of its two segments; None where the name is no joint's of this segment."""
    if name not in JOINT_SEGMENTS or segment not in JOINT_SEGMENTS[name]:
        return None
    side = "left" if name.endswith("_l") else "right"
    if segment == "pelvis":
        return np.asarray(person.hip_centre[side], dtype=float)
    if segment.startswith("foot"):
        return np.asarray(person.ankle_in_foot[side], dtype=float)
    length = person.thigh_mm if segment.startswith("thigh") else person.shank_mm
    return np.array([0.0, 0.0 if segment == JOINT_SEGMENTS[name][0] else length, 0.0])  # at its lower end, or upper


def _surface(person: Person, segment: str, count: int) -> FloatArray:
    """Places (N, 3) over a segment's skin, more than ``count``: three columns, from one end of the segment to the other."""
    low, high, columns = {
        "thigh": (0.2 * person.thigh_mm, 0.75 * person.thigh_mm, ((50, 55), (-5, 85), (-55, 60))),
        "shank": (0.2 * person.shank_mm, 0.75 * person.shank_mm, ((40, 30), (-5, 55), (-50, 30))),
        "foot": (5.0, 45.0, ((20, 30), (60, -25), (100, 30))),
        "pelvis": (-60.0, 60.0, ((-20, 115), (-100, -115), (-180, 40))),
        "trunk": (-250.0, 0.0, ((15, 60), (-90, -120), (-190, 30))),
    }[segment.partition("_")[0]]
    outward = -1.0 if segment.endswith("_l") else 1.0
    heights = np.linspace(low, high, max(4, 2 + count // 3))
    return np.array([[x, y, outward * z] for x, z in columns for y in heights], dtype=float)


def _off_every_line(candidates: FloatArray, there: Sequence[FloatArray]) -> FloatArray:
    """Distance (N,) of each candidate from the nearest point there is, and from the nearest line through two of them."""
    if not there:
        return np.zeros(len(candidates))
    points = np.array(there)
    away = candidates[:, None] - points
    nearest: FloatArray = np.linalg.norm(away, axis=-1).min(axis=1)
    for k, start in enumerate(points):
        for end in points[k + 1 :]:
            along = (end - start) / max(float(np.linalg.norm(end - start)), 1e-9)
            across = away[:, k] - (away[:, k] @ along)[:, None] * along
            nearest = np.minimum(nearest, np.linalg.norm(across, axis=-1))
    return nearest


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
    labels = wearer.markers.labels
    made = {"rate_hz": wearer.rate_hz, "first_frame": 1, "findings": (), "forces": (), "prefixes": ()}
    recording: Any = SimpleNamespace(labels=labels, kinds=("marker",) * len(labels), points=seen, **made)
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
