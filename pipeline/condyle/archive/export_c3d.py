"""A processed trial as a C3D file: filtered points, joint centres, and angles as a group of points (ANGLES)."""

import os
import textwrap
from pathlib import Path
from typing import Any

import numpy as np

from condyle.archive.exported import Exported
from condyle.errors import DataError
from condyle.files.atomic import atomic_path
from condyle.mechanics.arrays import FloatArray

MOST_FRAMES = 65535  # what the header can say; readers disagree on anything longer
_TRIPLES = (  # the point that carries three angles: its name, and the angles that are its x, y and z
    ("hip_angles", ("hip_flexion", "hip_adduction", "hip_internal_rotation")),
    ("knee_angles", ("knee_flexion", "knee_adduction", "knee_internal_rotation")),
    ("ankle_angles", ("ankle_dorsiflexion", "ankle_inversion", "ankle_internal_rotation")),
    ("pelvis_angles", ("pelvis_rotation", "pelvis_obliquity", "pelvis_tilt")),
    ("trunk_angles", ("trunk_rotation", "trunk_lean", "trunk_flexion")),
    ("trunk_to_pelvis_angles", ("trunk_rotation_to_pelvis", "trunk_lean_to_pelvis", "trunk_flexion_to_pelvis")),
    ("shoulder_line_angles", ("shoulder_line_rotation", "shoulder_line_tilt", "")),
    ("trunk_line_angles", ("", "trunk_line_lean", "trunk_line_flexion")),
    ("thigh_angles", ("thigh_axial_rotation", "fppa", "")),
)


def write_c3d(path: Path, trial: Exported) -> None:
    """Write a trial as C3D in the participant frame; a missing sample has residual -1, an angle that no trial has is 0.

    All texts are ours: names of points, and what they are; of the lab's only the reasons for which its session file overrides
    a reject (CONDYLE:OVERRIDDEN). Times count from the first frame, which is frame 1.
    """
    frames = int(trial.trial.sizes["time"])
    if frames > MOST_FRAMES:
        name = ", ".join(trial.identity)
        raise DataError(f"{name} has {frames} frames and C3D holds {MOST_FRAMES}; export it as motion-bids instead.")
    import ezc3d

    angles = _angle_points(trial)
    named = {**trial.points, **{name: values for name, (values, _) in angles.items()}}
    file = ezc3d.c3d()
    parameters = file["parameters"]
    point, missing = _stacked(list(named.values()), frames)
    parameters["POINT"]["RATE"]["value"] = [trial.rate_hz]
    parameters["POINT"]["LABELS"]["value"] = list(named)
    parameters["POINT"]["DESCRIPTIONS"]["value"] = _descriptions(trial, angles)
    parameters["POINT"]["UNITS"]["value"] = ["mm"]
    file["data"]["points"] = point
    file["data"]["meta_points"]["residuals"] = np.where(missing, -1.0, 0.0)[None]
    if angles:
        file.add_parameter("POINT", "ANGLES", list(angles))
        file.add_parameter("POINT", "ANGLE_UNITS", ["deg"])
        file.add_parameter("POINT", "TYPE_GROUPS", ["ANGLES"])
    file.add_parameter("POINT", "X_SCREEN", ["+X"])
    file.add_parameter("POINT", "Y_SCREEN", ["+Y"])
    if trial.overridden:  # in pieces, for an entry has at most 255 bytes
        file.add_parameter(
            "CONDYLE", "OVERRIDDEN", textwrap.wrap(trial.overridden.encode("ascii", "replace").decode(), 120)
        )
    _add_events(file, trial)
    with atomic_path(path) as temporary:
        written = temporary.with_name(f"{temporary.name}.c3d")  # ezc3d adds the ending where it is missing
        try:
            file.write(str(written))
            os.replace(written, temporary)
        finally:
            written.unlink(missing_ok=True)


def _angle_points(trial: Exported) -> dict[str, tuple[FloatArray, str]]:
    points: dict[str, tuple[FloatArray, str]] = {}
    frames = int(trial.trial.sizes["time"])
    for name, parts in _TRIPLES:
        for suffix in ("_l", "_r"):
            columns = [trial.angles.get(f"{part}{suffix}") for part in parts]
            if all(column is None for column in columns):
                continue
            # an angle that is nowhere is 0, so that it does not make its neighbours missing
            values = np.column_stack([np.zeros(frames) if column is None else column for column in columns])
            words = ", ".join(f"{axis} {part}" for axis, part in zip("xyz", parts, strict=True) if part)
            points[f"{name}{suffix}"] = (values, words)
    return points


def _stacked(points: list[FloatArray], frames: int) -> tuple[FloatArray, Any]:
    values = np.stack(points, axis=1) if points else np.empty((frames, 0, 3))
    missing = np.isnan(values.sum(axis=2))
    clean = np.where(missing[..., None], 0.0, values)
    return np.concatenate([clean, np.ones((*clean.shape[:2], 1))], axis=2).transpose(2, 1, 0), missing.T


def _descriptions(trial: Exported, angles: dict[str, tuple[FloatArray, str]]) -> list[str]:
    kinds = ["joint centre" if name.endswith("_centre") else "filtered marker" for name in trial.points]
    return [*kinds, *(words for _, words in angles.values())]


def _add_events(file: Any, trial: Exported) -> None:
    events: list[tuple[float, str, str]] = []
    for repetition in trial.repetitions:
        times = {"start": repetition.start_s, "bottom": repetition.bottom_s, "end": repetition.end_s}
        events += [(time, repetition.side, part) for part, time in times.items()]
    if not events:
        return
    minutes = np.array([[time // 60, time % 60] for time, _, _ in sorted(events)]).T
    file.add_parameter("EVENT", "USED", [len(events)])
    file.add_parameter("EVENT", "CONTEXTS", [side.capitalize() for _, side, _ in sorted(events)])
    file.add_parameter("EVENT", "LABELS", [part for _, _, part in sorted(events)])
    file.add_parameter("EVENT", "TIMES", minutes)
