"""Synthetic tables of a study with known answers, as `condyle run` writes them; trials from a leg of our own making."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENT_AXES, SEGMENTS, SIDES
from condyle.files.netcdf import write_trial
from condyle.files.tables import write_csv

THIGH, SHANK = 420.0, 410.0
LANDMARKS = ("asis_r", "asis_l", "calcaneus_r", "calcaneus_l", "metatarsal_2_r", "metatarsal_2_l", "jugular_notch",
             "patella_r", "patella_l")  # fmt: skip


def about(axis: str, degrees: np.ndarray) -> np.ndarray:
    """Rotations about one axis, written out here so that no sign is shared with the package."""
    c, s, one, zero = (f(np.deg2rad(degrees)) for f in (np.cos, np.sin, np.ones_like, np.zeros_like))
    rows = {
        "x": [[one, zero, zero], [zero, c, -s], [zero, s, c]],
        "y": [[c, zero, s], [zero, one, zero], [-s, zero, c]],
        "z": [[c, -s, zero], [s, c, zero], [zero, zero, one]],
    }[axis]
    return np.moveaxis(
        np.array([[np.broadcast_to(v, np.shape(degrees)) for v in row] for row in rows]), (0, 1), (-2, -1)
    )


def course(start: float, bottom: float, frames: int) -> np.ndarray:
    """Down and up again without a corner: start, bottom in the middle, start."""
    t = np.linspace(0, 1, frames)
    return start + (bottom - start) * np.sin(np.pi * t) ** 2


def squat(side: str, change: dict[str, float], frames: int = 101, lean: float = 0.0) -> dict[str, Any]:
    """Angles (positive alike on both sides), points and pelvis axes of one squat; start as in the check model."""
    m = 1.0 if side == "right" else -1.0
    angle = {
        "pelvis_tilt": course(8, 18, frames),
        "hip_flexion": course(5, 70, frames),
        "knee_flexion": course(3, 78, frames),
        **{
            name: course(0, change.get(name, 0.0), frames)
            for name in (
                "pelvis_rotation",
                "pelvis_obliquity",
                "hip_adduction",
                "hip_internal_rotation",
                "knee_adduction",
            )
        },
        "knee_internal_rotation": course(0, change.get("knee_internal_rotation", 0.0), frames),
        "trunk_lean": course(0, lean, frames),
    }
    pelvis = (
        about("y", m * angle["pelvis_rotation"])
        @ about("x", -m * angle["pelvis_obliquity"])
        @ about("z", -angle["pelvis_tilt"])
    )
    thigh = (
        pelvis
        @ about("z", angle["hip_flexion"])
        @ about("x", m * angle["hip_adduction"])
        @ about("y", m * angle["hip_internal_rotation"])
    )
    shank = (
        thigh
        @ about("z", -angle["knee_flexion"])
        @ about("x", m * angle["knee_adduction"])
        @ about("y", m * angle["knee_internal_rotation"])
    )
    hip = pelvis @ np.array([-50.0, -80.0, m * 85.0])
    knee = hip - THIGH * thigh[..., 1]
    ankle = knee - SHANK * shank[..., 1]
    stand = np.array([0.0, 80.0, m * 90.0]) - ankle  # the foot stays where it is
    up = np.stack(
        [np.zeros(frames), np.cos(np.deg2rad(angle["trunk_lean"])), m * np.sin(np.deg2rad(angle["trunk_lean"]))], -1
    )
    tail, other = ("r", "l") if side == "right" else ("l", "r")
    middle = stand
    points = {
        f"asis_{tail}": middle + pelvis @ np.array([0.0, 0.0, m * 120.0]),
        f"asis_{other}": middle + pelvis @ np.array([0.0, 0.0, -m * 120.0]),
        f"calcaneus_{tail}": np.broadcast_to(np.array([-50.0, 30.0, m * 90.0]), (frames, 3)),
        f"metatarsal_2_{tail}": np.broadcast_to(np.array([140.0, 30.0, m * 90.0]), (frames, 3)),
        "jugular_notch": middle + 450.0 * up,
    }
    centres = {f"hip_{tail}": hip + stand, f"knee_{tail}": knee + stand, f"ankle_{tail}": ankle + stand}
    centres[f"hip_{other}"] = middle + pelvis @ np.array([-50.0, -80.0, -m * 85.0])
    z = {name: p[:, 2] * -m for name, p in centres.items()}  # medial
    y = {name: -p[:, 1] for name, p in centres.items()}
    of_thigh = np.arctan2(z[f"knee_{tail}"] - z[f"hip_{tail}"], y[f"knee_{tail}"] - y[f"hip_{tail}"])
    of_shank = np.arctan2(z[f"ankle_{tail}"] - z[f"knee_{tail}"], y[f"ankle_{tail}"] - y[f"knee_{tail}"])
    angle["fppa"] = np.rad2deg(of_thigh - of_shank)
    return {"angle": angle, "point": points, "centre": centres, "pelvis": pelvis}


def trial_of(key: dict[str, str], side: str, squats: list[dict[str, Any]], heading: float = 0.0) -> xr.Dataset:
    """A trial with these squats one after the other, as the run's NetCDF files hold it; the body may face another way."""
    frames = len(squats[0]["pelvis"])
    n = frames * len(squats)
    turned = about("y", np.array(heading))

    def joined(kind: str, name: str) -> np.ndarray:
        parts = [s[kind].get(name, np.full((frames, 3), np.nan)) for s in squats]
        return np.concatenate(parts) @ turned.T

    angle = np.full((n, 2, len(JOINT_ANGLES)), np.nan)
    for name in squats[0]["angle"]:
        angle[:, SIDES.index(side), JOINT_ANGLES.index(name)] = np.concatenate([s["angle"][name] for s in squats])
    pose = np.full((n, len(SEGMENTS), 3, 3), np.nan)
    pose[:, SEGMENTS.index("pelvis")] = turned @ np.concatenate([s["pelvis"] for s in squats])
    flexion = squats[0]["angle"]["knee_flexion"]
    at_60 = float(np.interp(60, flexion[: frames // 2 + 1], np.arange(frames // 2 + 1)))
    starts = frames * np.arange(len(squats))
    count = np.arange(1, len(squats) + 1)
    return xr.Dataset(
        {
            "point": (("time", "marker", "axis"), np.stack([joined("point", m) for m in LANDMARKS], 1)),
            "joint_centre": (("time", "joint", "axis"), np.stack([joined("centre", j) for j in JOINTS], 1)),
            "pose": (("time", "segment", "axis", "segment_axis"), pose),
            "angle": (("time", "side", "joint_angle"), angle),
            "heading_deg": ("time", np.full(n, heading)),
            "repetition_number": ("repetition", count),
            "repetition_side": ("repetition", np.array([side] * len(squats))),
            "repetition_start": ("repetition", starts),
            "repetition_bottom": ("repetition", starts + frames // 2),
            "repetition_end": ("repetition", starts + frames - 1),
            "repetition_at_60": ("repetition", starts + at_60),
            "repetition_valid": ("repetition", np.ones(len(squats), dtype=bool)),
        },
        {
            "time": np.arange(n) / 100.0,
            "marker": list(LANDMARKS),
            "body_point": [*LANDMARKS, *JOINTS],
            "axis": ["x", "y", "z"],
            "segment": list(SEGMENTS),
            "segment_axis": list(SEGMENT_AXES),
            "joint": list(JOINTS),
            "side": list(SIDES),
            "joint_angle": list(JOINT_ANGLES),
        },
        key,
    )


CAUSES = {
    "with_the_pelvis": {"pelvis_rotation": 18.0},
    "at_the_hip": {"hip_adduction": 15.0, "hip_internal_rotation": 8.0},
    "none": {"hip_adduction": 1.0},
}


def write_study(folder: Path, participants: int = 4, repetitions: int = 3, seed: int = 1) -> list[Path]:
    """Runs of a study, one folder a participant: measures, repetitions, contributions, curves, trials, manifest."""
    rng = np.random.default_rng(seed)
    return [_write_run(folder / f"MR{p:02d}", f"MR{p:02d}", repetitions, rng) for p in range(1, participants + 1)]


def _write_run(folder: Path, participant: str, repetitions: int, rng: np.random.Generator) -> Path:
    (folder / "trials").mkdir(parents=True)
    measures, reps, contributions, curves = [], [], [], []
    for side in SIDES:
        cause = str(rng.choice(list(CAUSES)))
        key = {
            "participant": participant,
            "session": "2026-11-03",
            "trial": f"squat_{side}",
            "task": "single_leg_squat",
        }
        squats = []
        for _ in range(repetitions):
            change = {name: size * rng.uniform(0.6, 1.2) for name, size in CAUSES[cause].items()}
            change |= {name: change.get(name, 0.0) + rng.normal(0, 2) for name in ("pelvis_obliquity", "hip_adduction")}
            squats.append(squat(side, change, lean=float(rng.normal(5, 4))))
        write_trial(
            folder / "trials" / f"squat_{side}.nc",
            trial_of({**key, "condition": ""}, side, squats, rng.uniform(-180, 180)),
        )
        for number, one in enumerate(squats, start=1):
            row = {**key, "condition": "", "side": side, "bout": 1, "repetition": number}
            knee = one["centre"][f"knee_{side[0]}"]
            medial = (-1.0 if side == "right" else 1.0) * (knee[50, 2] - knee[0, 2])
            values = {f"{name}_at_bottom": a[50] for name, a in one["angle"].items()}
            values |= {
                "knee_travel": medial,
                "knee_path_angle_descent": np.rad2deg(np.arctan2(medial, knee[0, 1] - knee[50, 1])),
            }
            values["knee_over_foot_bottom"] = (-1.0 if side == "right" else 1.0) * (
                knee[50, 2] - (90.0 if side == "right" else -90.0)
            )
            for name, value in values.items():
                unit = "mm" if name in ("knee_travel", "knee_over_foot_bottom") else "deg"
                measures.append(
                    {**row, "measure": name, "value": value, "unit": unit, "lower": np.nan, "upper": np.nan}
                )
            of = {k: v for k, v in row.items() if k not in ("task", "condition")}
            reps.append({**of, "start_s": 0.0, "bottom_s": 0.5, "end_s": 1.0, "cause": cause, "valid": True,
                         "planar_reading": "knee_in" if medial > 30 else "straight",
                         "misread": "yes" if (cause == "with_the_pelvis") == (medial > 30) else "no"})  # fmt: skip
            contributions.append({**of, "measure": "fppa", "source": "hip_adduction", "value": values["hip_adduction_at_bottom"],
                                  "unit": "deg", "lower": np.nan, "upper": np.nan})  # fmt: skip
            curve = {
                **{k: [v] * 101 for k, v in row.items()},
                "valid": [True] * 101,
                "percent": np.arange(101.0),
                **one["angle"],
            }
            curves.append(pd.DataFrame(curve))
    write_csv(folder / "measures.csv", pd.DataFrame(measures))
    write_csv(folder / "repetitions.csv", pd.DataFrame(reps))
    write_csv(folder / "contributions.csv", pd.DataFrame(contributions))
    write_csv(folder / "curves.csv", pd.concat(curves))
    (folder / "manifest.json").write_text(
        '{"condyle": {"version": "0.1.0"}, "settings": {"pipeline": {"lab": {"anterior": "pelvis_at_start"}, '
        '"stages": {"filter": {"cutoff_hz": 6.0, "order": 4}, "calibrate": {"hip_centre": "harrington_2007"}}}}}'
    )
    return folder / "measures.csv"


def two_tables(folder: Path, rows: list[tuple[str, float, float]], unit: str = "l/min") -> tuple[Path, Path]:
    """measures.csv with `large` and a planar table with `mini`, from (participant, planar, reference), repetitions counted."""
    folder.mkdir(parents=True, exist_ok=True)
    frame = pd.DataFrame(rows, columns=["participant", "planar", "reference"])
    frame["repetition"] = frame.groupby("participant").cumcount() + 1
    fixed = {"session": "1", "trial": "a", "side": "right", "unit": unit}
    keys = frame[["participant", "repetition"]].assign(**fixed)
    write_csv(folder / "measures.csv", keys.assign(task="other", measure="large", value=frame["reference"]))
    write_csv(folder / "planar.csv", keys.assign(measure="mini", value=frame["planar"]))
    return folder / "measures.csv", folder / "planar.csv"
