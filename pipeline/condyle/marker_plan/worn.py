"""A marker set on the synthetic person, standing and squatting on either leg: which measures come out?"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_SEGMENTS, SIDES
from condyle.files.marker_set import MarkerSet
from condyle.files.pipeline_file import default_pipeline
from condyle.files.trial import trial_from
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.running import Processed, run_trial, taught_by
from condyle.sample import Options, Person, SimulatedTrial, build_person, simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.stages import STAGES
from condyle.trial_data import put
from condyle.vocabulary import CALIBRATION

_NEEDED = ("fill", "filter", "calibrate", "pose", "angles", "repetitions", "measures", "contributions")


@dataclass(frozen=True)
class Wearer:
    """The synthetic person with the markers of the set, standing and squatting on either leg."""

    markers: MarkerSet
    static: FloatArray
    squats: dict[str, FloatArray]
    rate_hz: float


def dressed(markers: MarkerSet) -> Wearer:
    """The synthetic person with these markers on."""
    person = build_person("MR00")
    options = Options.ideal(timing=Timing(repetitions=1, before_s=1.0, after_s=0.8), rate_hz=50.0, static_s=1.0)
    static = simulate_static(person, options)
    squats = {side: simulate(person, "controlled", options, side) for side in SIDES}
    worn = {side: _worn(markers, trial) for side, trial in squats.items()}
    return Wearer(markers, _worn(markers, static), worn, options.rate_hz)


def _worn(markers: MarkerSet, trial: SimulatedTrial) -> FloatArray:
    """The set's points on the person (time, points, 3): landmarks where they are, other markers spread over their segment."""
    motion, place_of = trial.motion, places(markers, trial.person)
    out = np.empty((len(trial.time), len(markers.points), 3))
    for k, name in enumerate(markers.points):
        segment, place = place_of[name]
        out[:, k] = motion.origin[segment] + motion.axes[segment] @ np.asarray(place, dtype=float)
    return out


def places(markers: MarkerSet, person: Person) -> dict[str, tuple[str, FloatArray]]:
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
        there += [centre for n in tracking if (centre := joint_centre(person, segment, n)) is not None]
        unknown = [n for n in tracking if n in markers.points and n not in out]
        free = _surface(person, segment, len(unknown))
        for name in unknown:
            best = int(np.argmax(_off_every_line(free, there)))
            there.append(free[best])
            out[name] = (segment, free[best])
            free = np.delete(free, best, axis=0)
    return out


def joint_centre(person: Person, segment: str, name: str) -> FloatArray | None:
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


class Outcome(NamedTuple):
    """What came out: stance side -> measures with a value; what the standing trial said; what ended a squat, by side."""

    given: dict[str, set[str]]
    standing: list[Finding]
    ended: dict[str, list[Finding]]


def outcome_of(wearer: Wearer, without_static: Sequence[str] = (), without_moving: Sequence[str] = ()) -> Outcome:
    """What the stages say of the standing trial and of a squat on either leg, without these points in the one or the other."""
    settings = default_pipeline(STAGES).settings_of
    stages = [s for s in STAGES if s.name in _NEEDED]
    gone = (*without_static, *without_moving) if without_static else without_moving
    static = trial_of(wearer, wearer.static, "static", "both", without_static)
    taught = run_trial(Processed(static), [s for s in stages if s.on != "movement"], settings)
    out = Outcome({side: set() for side in SIDES}, [f for f in taught.findings if f.verdict != "pass"], {})
    if taught.rejected:
        return out
    for side, point in wearer.squats.items():
        trial = put(trial_of(wearer, point, "single_leg_squat", side, gone), **taught_by(taught.trial, CALIBRATION))
        done = run_trial(Processed(trial), [s for s in stages if s.on != "static"], settings)
        if done.rejected:
            out.ended[side] = [f for f in done.findings if f.verdict == "reject"]
        elif "measure_value" in done.trial and done.trial.sizes["repetition"]:
            names = done.trial["measure"].values
            found = ~np.isnan(done.trial["measure_value"].values).all(axis=0)
            out.given[side].update(str(n) for n in names[found])
    return out


def trial_of(wearer: Wearer, point: FloatArray, task: str, side: str, without: Sequence[str]) -> xr.Dataset:
    """A trial of these positions (time, points, 3), as if it had been read, without some of the points."""
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
