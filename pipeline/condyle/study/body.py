"""The points a planar screen looks at, repetition by repetition, from the trials that a run wrote."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.normalise import at_frames, percent_frames
from condyle.mechanics.rotations import rotation_y
from condyle.stages.measured_points import landmark, marker
from condyle.study.reading import records

_TIMES = ("start", "bottom", "end")
EVENTS = ("at_start", "at_bottom", "at_60_knee_flexion")


@dataclass(frozen=True)
class Repetition:
    """One repetition on one side: whose, when, and where the points are.

    ``point`` holds (102, 3) in mm in the participant frame of the bout's own heading: 0 to 100 % of the repetition,
    then the moment of 60 degrees of knee flexion. ``pelvis`` are the pelvis' axes likewise; ``stand`` (102, 3) is the
    stance ankle at the start, opposite to which a tripod is put up once.
    """

    key: dict[str, str]
    side: str
    point: dict[str, FloatArray]
    pelvis: FloatArray
    stand: FloatArray
    seconds: FloatArray
    angle: dict[str, FloatArray]
    valid: bool

    @property
    def rows(self) -> dict[str, int]:
        """Which row each event stands in."""
        return {"at_start": 0, "at_bottom": 50, "at_60_knee_flexion": 101}


def repetitions_of(trial: xr.Dataset, table: pd.DataFrame | None = None) -> Iterator[Repetition]:
    """The repetitions of a trial; from its own variables, else by the times in ``table`` (rows of repetitions.csv)."""
    courses = _courses(trial)
    names = trial["joint_angle"].values.tolist()
    sides = trial["side"].values.tolist()
    for number, side, start, bottom, end, at_60, valid in _found(trial, table):
        frames = np.append(percent_frames(start, bottom, end), at_60)
        heading = float(np.nan_to_num(trial["heading_deg"].values[bottom])) if "heading_deg" in trial else 0.0
        turn = rotation_y(np.deg2rad(-heading))
        tail = side[0]
        other = "r" if tail == "l" else "l"
        point = {name: at_frames(curve, frames) @ turn.T for name, curve in courses.items()}
        named = {"hip": f"hip_{tail}", "knee": f"knee_{tail}", "ankle": f"ankle_{tail}", "other_hip": f"hip_{other}"}
        named |= {"asis": f"asis_{tail}", "other_asis": f"asis_{other}", "patella": f"patella_{tail}"}
        named |= {"heel": f"calcaneus_{tail}", "toe": f"metatarsal_2_{tail}", "upper_trunk": "upper_trunk"}
        yield Repetition(
            key={**{k: str(trial.attrs.get(k, "")) for k in ("participant", "session", "trial", "task", "condition")},
                 "side": side, "repetition": str(number)},
            side=side,
            point={short: point[long] for short, long in named.items()},
            pelvis=turn @ at_frames(trial["pose"].values[:, SEGMENTS.index("pelvis")], frames),
            stand=np.broadcast_to(point[f"ankle_{tail}"][0], (frames.size, 3)),
            seconds=at_frames(trial["time"].values, frames),
            angle=dict(zip(names, at_frames(trial["angle"].values[:, sides.index(side)], frames).T, strict=True)),
            valid=valid,
        )  # fmt: skip


def _courses(trial: xr.Dataset) -> dict[str, FloatArray]:
    centre = trial["joint_centre"].values
    carried = landmark if {"calibrated_point", "body_point"} <= set(map(str, trial.variables)) else marker
    out = {name: centre[:, k] for k, name in enumerate(JOINTS)}
    for tail in "rl":
        for name in ("asis", "calcaneus", "metatarsal_2"):
            out[f"{name}_{tail}"] = carried(trial, f"{name}_{tail}")
        out[f"patella_{tail}"] = marker(trial, f"patella_{tail}")
    notch = carried(trial, "jugular_notch")
    shoulders = 0.5 * (marker(trial, "acromion_r") + marker(trial, "acromion_l"))
    out["upper_trunk"] = np.where(np.isnan(notch).all(), shoulders, notch)  # one of them throughout, never a mixture
    return out


def _found(trial: xr.Dataset, table: pd.DataFrame | None) -> Iterator[tuple[int, str, int, int, int, float, bool]]:
    if "repetition_start" in trial:
        columns = ("number", "side", "start", "bottom", "end", "at_60", "valid")
        values = [trial[f"repetition_{name}"].values.tolist() for name in columns]
        seen = trial["repetition_bottom_seen"].values.tolist() if "repetition_bottom_seen" in trial else None
        for i, row in enumerate(zip(*values, strict=True)):
            if seen is None or seen[i]:
                yield row
        return
    if table is not None and {f"{e}_s" for e in _TIMES} <= set(table.columns):
        yield from _by_times(trial, table)


def _by_times(trial: xr.Dataset, table: pd.DataFrame) -> Iterator[tuple[int, str, int, int, int, float, bool]]:
    time = trial["time"].values
    flexion = {s: trial["angle"].sel(side=s, joint_angle="knee_flexion").values for s in trial["side"].values.tolist()}
    seconds = np.stack([pd.to_numeric(table[f"{e}_s"], errors="coerce").to_numpy(dtype=float) for e in _TIMES], axis=1)
    for times, row in zip(seconds, records(table), strict=True):
        side = row["side"]
        if side not in flexion or not np.isfinite(times).all():
            continue
        start, bottom, end = (int(np.abs(time - t).argmin()) for t in times)
        at_60 = first_passing(flexion[side][start : bottom + 1], 60.0, start)
        valid = str(row.get("valid", "true")).lower() not in ("false", "0", "no")
        number = int(row["repetition"]) if str(row["repetition"]).isdigit() else 0
        yield number, side, start, bottom, end, at_60, valid


def first_passing(curve: FloatArray, level: float, offset: int = 0) -> float:
    """The (fractional) frame at which a rising curve first reaches a level; NaN where it does not."""
    above = np.flatnonzero((curve[1:] >= level) & (curve[:-1] < level))
    if not above.size:
        return float("nan")
    i = int(above[0])
    return offset + i + float((level - curve[i]) / (curve[i + 1] - curve[i]))


def bottoms(repetitions: Sequence[Repetition]) -> Repetition:
    """The bottoms of many repetitions on one side as the rows of one, so that they are projected at once."""

    def row(curves: list[FloatArray]) -> FloatArray:
        return np.stack([curve[50] for curve in curves])

    first = repetitions[0]
    return Repetition(
        key={},
        side=first.side,
        point={name: row([r.point[name] for r in repetitions]) for name in first.point},
        pelvis=row([r.pelvis for r in repetitions]),
        stand=row([r.stand for r in repetitions]),
        seconds=row([r.seconds for r in repetitions]),
        angle={},
        valid=True,
    )
