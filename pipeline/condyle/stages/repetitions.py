"""repetitions: where each squat starts, has its bottom and ends, on the leg that stands."""

from functools import partial
from typing import NamedTuple

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.repetitions import Repetitions, find_repetitions, first_crossing
from condyle.stages.body import given_frames, used_frames
from condyle.stages.corrections import left_out
from condyle.stages.nothing_found import nothing_found
from condyle.stages.repetition_findings import gaps_found, incomplete
from condyle.stages.stage import Settings
from condyle.stages.stance import bouts_to_measure
from condyle.trial_data import put

REPETITIONS = frozenset(
    f"repetition_{name}"
    for name in (
        *("number", "side", "bout", "start", "bottom", "end", "start_s", "bottom_s", "end_s"),
        *("at_60", "bottom_seen", "valid", "findings"),
    )
)
KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")


class RepetitionsSettings(Settings):
    """What counts as a squat, and where it starts and ends."""

    still_deg_per_s: float = Field(
        5.0,
        gt=0,
        le=50,
        description="start and end: from the bottom outwards, the first frame whose knee flexion is slower than this",
        json_schema_extra={"source": "ours"},
    )
    least_flexion_deg: float = Field(
        15.0,
        gt=0,
        lt=120,
        description="a peak of knee flexion that stands out less is no squat",
        json_schema_extra={"source": "ours"},
    )
    least_drop_mm: float = Field(
        20.0,
        ge=0,
        le=2000,
        description="a peak that lowers the pelvis less is no squat",
        json_schema_extra={"source": "ours"},
    )
    pause_percent: float = Field(
        25.0,
        gt=0,
        lt=100,
        description="a still knee bent by more than this share of the squat pauses on the way: no start, no end",
        json_schema_extra={"source": "ours"},
    )
    longest_gap_s: float = Field(
        1.0,
        ge=0,
        le=5,
        description="a longer gap in knee flexion cuts the squats beside it off",
        json_schema_extra={"source": "ours"},
    )


class Row(NamedTuple):
    """One squat on one leg, in frames, before it has a number."""

    start: int
    bottom: int
    end: int
    side: int
    bout: int
    bottom_seen: bool


def repetitions_trial(trial: xr.Dataset, settings: RepetitionsSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Repetitions of every bout, numbered through the trial; incomplete ones are reported and not measured."""
    if trial.attrs.get("task", "other") in ("other", "static"):
        return _written(trial, [], []), []
    bouts, findings = bouts_to_measure(trial)
    if any(f.verdict == "reject" for f in findings):
        return _written(trial, [], []), findings
    rows: list[Row] = []
    for bout, sides, frames in bouts:
        found, incomplete = _rows_of_bout(trial, settings, bout, sides, frames)
        rows += found
        findings += incomplete
    rows = sorted(rows, key=lambda r: (r.bout, min(q.start for q in rows if _same_squat(q, r)), r.side))
    numbers = _numbers(rows)
    if not rows:
        pelvis = trial.variables["origin"].values[:, SEGMENTS.index("pelvis"), 1]
        squats_of = partial(_found, trial, settings, pelvis=pelvis, frames=slice(None))
        return _written(trial, [], []), [*findings, nothing_found(trial, len(findings) > 0, bool(bouts), squats_of)]
    out = left_out(trial)
    if unknown := sorted(out - set(numbers)):
        words = ", ".join(map(str, unknown))
        advice = f"leave_out names repetition {words}, but {max(numbers)} were found; correct the session file."
        return _written(trial, [], []), [
            *findings,
            Finding("correction by hand", "file", None, None, "", "reject", advice),
        ]
    kept = [(r, n) for r, n in zip(rows, numbers, strict=True) if n not in out]
    done = _written(trial, [r for r, _ in kept], [n for _, n in kept])
    return done, [*findings, *gaps_found(done)]


def _flexion(trial: xr.Dataset) -> FloatArray:
    flexion: FloatArray = trial.variables["angle"].values[:, :, KNEE_FLEXION]
    used = used_frames(trial)
    return flexion if used is None else np.where(used[:, None], flexion, np.nan)


def _rows_of_bout(
    trial: xr.Dataset, settings: RepetitionsSettings, bout: int, sides: tuple[int, ...], frames: slice
) -> tuple[list[Row], list[Finding]]:
    flexion = _flexion(trial)
    given = given_frames(trial)
    if given is not None:
        middle = given[:, 1]
        inside = given[(middle >= frames.start) & (middle < frames.stop)]
        return [
            Row(a, b, c, s, bout, bool(np.isfinite(flexion[b, s]))) for a, b, c in inside.tolist() for s in sides
        ], []
    rows: list[Row] = []
    lost: list[Finding] = []
    joint = flexion[:, sides[0]] if len(sides) == 1 else flexion.mean(axis=1)
    pelvis = trial.variables["origin"].values[:, SEGMENTS.index("pelvis"), 1]
    free = _free_foot(trial, sides[0])[frames] if len(sides) == 1 and not _both(trial, bout) else None
    together = _found(trial, settings, joint, pelvis, frames, free)
    for k, complete in enumerate(together.complete.tolist()):
        if not complete:
            lost.append(incomplete(trial, together, k, sides))
    for s in sides:
        own = together if len(sides) == 1 else _found(trial, settings, flexion[:, s], pelvis, frames)
        rows += [
            Row(int(a), int(b), int(c), s, bout, bool(own.bottom_seen[k]))
            for k, (a, b, c) in enumerate(own.frame.tolist())
            if own.complete[k]
        ]
    return rows, lost


def _found(
    trial: xr.Dataset,
    settings: RepetitionsSettings,
    flexion: FloatArray,
    pelvis: FloatArray,
    frames: slice,
    free: FloatArray | None = None,
) -> Repetitions:
    found = find_repetitions(
        trial.variables["time"].values[frames],
        flexion[frames],
        pelvis[frames],
        settings.still_deg_per_s,
        settings.least_flexion_deg,
        settings.least_drop_mm,
        settings.pause_percent / 100.0,
        settings.longest_gap_s,
        free_foot_height=free,
    )
    return found._replace(frame=found.frame + (frames.start or 0))


def _both(trial: xr.Dataset, bout: int) -> bool:
    return str(trial.variables["bout_side"].values[bout - 1]) == "both"


def _free_foot(trial: xr.Dataset, side: int) -> FloatArray:
    """Height of the other side's foot: its heel marker's place, else the ankle centre."""
    tail = f"_{SIDES[1 - side][0]}"
    foot: FloatArray = trial.variables["origin"].values[:, SEGMENTS.index(f"foot{tail}"), 1]
    if np.isnan(foot).all():
        foot = trial.variables["joint_centre"].values[:, JOINTS.index(f"ankle{tail}"), 1]
    return foot


def _same_squat(a: Row, b: Row) -> bool:
    return a.bout == b.bout and a.start <= b.bottom <= a.end


def _numbers(rows: list[Row]) -> list[int]:
    numbers: list[int] = []
    for k, row in enumerate(rows):
        same = [numbers[j] for j in range(k) if rows[j].side != row.side and _same_squat(rows[j], row)]
        numbers.append(same[0] if same else max(numbers, default=0) + 1)
    return numbers


def _written(trial: xr.Dataset, rows: list[Row], numbers: list[int]) -> xr.Dataset:
    time = trial.variables["time"].values
    frame: IntArray = np.array([r[:3] for r in rows], dtype=np.int64).reshape(-1, 3)
    flexion = trial.variables["angle"].values[:, :, KNEE_FLEXION]
    at_60 = [first_crossing(flexion[:, r.side], 60.0, r.start, r.bottom) for r in rows]
    seen = np.array([r.bottom_seen for r in rows], dtype=bool)
    pelvis = trial.variables["origin"].values[:, SEGMENTS.index("pelvis"), 1]
    words = [
        ";".join(
            w
            for w, there in (
                ("knee missing at the bottom", not r.bottom_seen),
                ("pelvis missing at the bottom", bool(np.isnan(pelvis[r.bottom]))),
            )
            if there
        )
        for r in rows
    ]
    return put(
        trial,
        {"repetition": np.arange(1, len(rows) + 1)},
        repetition_number=np.array(numbers, dtype=np.int64),
        repetition_side=np.array([SIDES[r.side] for r in rows], dtype="U5"),
        repetition_bout=np.array([r.bout for r in rows], dtype=np.int64),
        repetition_start=frame[:, 0],
        repetition_bottom=frame[:, 1],
        repetition_end=frame[:, 2],
        repetition_start_s=time[frame[:, 0]],
        repetition_bottom_s=time[frame[:, 1]],
        repetition_end_s=time[frame[:, 2]],
        repetition_at_60=np.array(at_60, dtype=float),
        repetition_bottom_seen=seen,
        repetition_valid=seen.copy(),
        repetition_findings=np.array(words, dtype="U"),
    )
