"""What the checks look at: a trial's markers, the shape they had in the standing trial, and who belongs to whom."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rigidity import Carried, Loose, Meeting, Rig, carried
from condyle.stages.body import markers_of, tracking_names

# The kneecap slides on the femur and the shoulder blades on the trunk: they ride along, but say nothing about a cluster.
LOOSE = ("patella", "acromion")

_FRAMES = 60


@dataclass(frozen=True)
class Recorded:
    """Markers in the order of the marker set beside what the standing trial taught of them."""

    point: FloatArray  # (T, M, 3)
    rate_hz: float
    names: list[str]
    labels: list[str]
    wanted: BoolArray  # (M,) expected in this trial
    tracked: BoolArray  # (M,) a tracking marker
    kinds: list[str]  # per segment
    tracking: list[list[int]]  # per segment, columns of its markers
    static: FloatArray | None = None  # (M, 3)
    left_out: frozenset[int] = (
        frozenset()
    )  # columns whose samples the session file takes out, which a row of its own says
    rig: Rig | None = None

    @property
    def sampled(self) -> int:
        """Frames from one sampled frame to the next."""
        return max(1, len(self.point) // _FRAMES)

    @cached_property
    def every(self) -> Carried:
        """Poses in every frame, and what they say of the markers."""
        assert self.rig is not None
        return carried(self.point, self.rig)

    @cached_property
    def told(self) -> Carried | None:
        """The same in about _FRAMES frames through the trial, ``sampled`` apart; None before anything is calibrated."""
        if self.rig is None or not len(self.point):
            return None
        if "every" in self.__dict__:
            return Carried(*(part[:: self.sampled] for part in self.every))
        return carried(self.some(), self.rig)

    def with_points(self, point: FloatArray) -> "Recorded":
        """The same trial with other coordinates."""
        return replace(self, point=point)

    def named(self, columns: Iterable[int]) -> str:
        """Labels of some columns, for sentences."""
        return ", ".join(self.labels[int(c)] for c in columns)

    def some(self) -> FloatArray:
        """The markers in the sampled frames."""
        return self.point[:: self.sampled]


def recorded(trial: xr.Dataset) -> Recorded:
    """The trial as the checks want it."""
    names = markers_of(trial)
    taught = "calibrated_point" in trial
    tracked = np.isin(names, trial.variables["body_point"].values[trial.variables["tracking"].values.any(axis=0)])
    static_only = trial.variables["static_only"].values
    static = trial.variables["static_point"].values if "static_point" in trial else None
    point = trial.variables["point"].values
    rig = _rig(trial, names) if taught else None
    return Recorded(
        point=point,
        rate_hz=float(trial.attrs["rate_hz"]),
        names=names,
        labels=[str(v) for v in trial.variables["label"].values.tolist()],
        wanted=np.asarray(~static_only | (trial.attrs.get("task") == "static")),
        tracked=np.asarray(tracked),
        tracking=[[names.index(n) for n in own if n in names] for own in tracking_names(trial).values()],
        kinds=[str(v) for v in trial.variables["segment_kind"].values.tolist()],
        static=static,
        left_out=left_out_markers(trial),
        rig=rig,
    )


def left_out_markers(trial: xr.Dataset) -> frozenset[int]:
    """Columns of the markers that the session file leaves out of this trial."""
    named = set(json.loads(str(trial.attrs.get("leave_out_markers", "[]"))))
    return frozenset(k for k, label in enumerate(trial.variables["label"].values.tolist()) if str(label) in named)


def _rig(trial: xr.Dataset, names: list[str]) -> Rig:
    table = trial.variables["calibrated_point"].values
    where = {str(n): i for i, n in enumerate(trial.variables["body_point"].values)}
    static_only = trial.variables["static_only"].values
    tracking = tracking_names(trial)
    place = {n: k for k, n in enumerate(names)}
    known_in = np.isfinite(table).all(axis=-1)  # (segment, body point)
    columns: list[IntArray] = []
    models: list[FloatArray] = []
    riders: list[IntArray] = []
    rider_models: list[FloatArray] = []
    for s, segment in enumerate(SEGMENTS):
        own = [n for n in tracking[segment] if n in place and known_in[s, where[n]]]
        along = [
            n
            for n, k in place.items()
            if _rides(n, segment) and known_in[s, where[n]] and n not in own and not static_only[k]
        ]
        for members, places, local in ((own, columns, models), (along, riders, rider_models)):
            places.append(np.array([place[n] for n in members], dtype=np.int64))
            local.append(table[s][[where[n] for n in members]].reshape(-1, 3))
    meetings = []
    for joint in JOINTS:
        upper, lower = (SEGMENTS.index(s) for s in JOINT_SEGMENTS[joint])
        a, b = table[upper, where[joint]], table[lower, where[joint]]
        if known_in[[upper, lower], where[joint]].all() and len(columns[upper]) >= 3 and len(columns[lower]) >= 3:
            meetings.append(Meeting(upper, a, lower, b))
    own_segment = [SEGMENTS.index(LANDMARK_SEGMENT[n]) if n.startswith(LOOSE) else -1 for n in names]
    loose = [
        (k, s, table[s, where[names[k]]])
        for k, s in enumerate(own_segment)
        if s >= 0 and len(columns[s]) >= 3 and k not in columns[s] and known_in[s, where[names[k]]]
    ]
    on = Loose(
        np.array([k for k, _, _ in loose], dtype=np.int64),
        np.array([s for _, s, _ in loose], dtype=np.int64),
        np.array([place for _, _, place in loose]).reshape(-1, 3),
    )
    return Rig(tuple(columns), tuple(models), tuple(riders), tuple(rider_models), tuple(meetings), on)


def _rides(name: str, segment: str) -> bool:
    return LANDMARK_SEGMENT.get(name) == segment and not name.startswith(LOOSE)


def whole_segment(rig: Rig, s: int) -> IntArray:
    """Tracking markers and riders of a segment."""
    return np.concatenate([rig.columns[s], rig.riders[s]])
