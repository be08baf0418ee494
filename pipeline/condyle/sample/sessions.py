"""A whole session: one person, one set of session errors in all its trials; written as a folder with its truth."""

import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from condyle.files.atomic import write_bytes, write_text
from condyle.sample.accounts import account_of
from condyle.sample.disturb import SessionErrors, draw_errors
from condyle.sample.force_plate import plate_under
from condyle.sample.movements import Movement
from condyle.sample.options import NO_ERRORS, Options
from condyle.sample.person import Person
from condyle.sample.simulate import SimulatedTrial, simulate_bouts, simulate_static
from condyle.sample.truth import ANGLES, faced
from condyle.sample.turning import SIDES, SUFFIX
from condyle.sample.writing import write_c3d

Planned = Sequence[tuple[str, Movement | str]]  # the bouts of a trial: stance side, movement


@dataclass(frozen=True)
class SimulatedSession:
    """The static trial and the movement trials of one person on one day."""

    person: Person
    static: SimulatedTrial
    trials: tuple[SimulatedTrial, ...]
    date: str = "2026-11-03"


def simulate_session(
    person: Person,
    trials: Mapping[str, Planned] | None = None,
    options: Options | None = None,
    *,
    date: str = "2026-11-03",
    trial_options: Mapping[str, Options] | None = None,
    errors: SessionErrors | None = None,
) -> SimulatedSession:
    """A session in memory. ``trials`` maps a trial's name to its bouts; ``trial_options`` replaces options by trial.

    ``errors`` are drawn with the options' seed where they are not given.
    """
    chosen = options or Options.ideal()
    planned = trials or {"squat_right": [("right", "controlled")], "squat_left": [("left", "controlled")]}
    if errors is None and chosen.errors != NO_ERRORS:
        errors = draw_errors(person, chosen.errors, np.random.default_rng([chosen.seed, *b"session"]))
    static = simulate_static(person, chosen, errors)
    recorded = [
        simulate_bouts(person, list(bouts), (trial_options or {}).get(name, chosen), errors=errors, name=name)
        for name, bouts in planned.items()
    ]
    return SimulatedSession(person, static, tuple(recorded), date)


def truth_arrays(trial: SimulatedTrial) -> dict[str, Any]:
    """The frame-by-frame truth of a trial: angles, centres, poses and marker places in the true participant's frame.

    ``angle`` (T, side, joint_angle) has true forward as its heading, ``angle_at_start`` the pelvis' heading before the
    first squat. ``centre`` (T, joint, 3), ``axes`` (T, segment, 3, 3) and ``origin`` (T, segment, 3): true forward.
    """
    motion = faced(trial.motion, 0.0)
    centres = trial.centres()
    segments = sorted(motion.axes)
    single = np.float32  # seven digits: 1e-4 mm, 1e-5 degrees
    return {
        "time": trial.time,
        "side": np.array(SIDES),
        "joint_angle": np.array(ANGLES),
        "angle": trial.angles().astype(single),
        "angle_at_start": trial.angles(trial.heading_at_start()).astype(single),
        "joint": np.array(list(centres)),
        "centre": np.stack(list(centres.values()), axis=1).astype(single),
        "segment": np.array(segments),
        "axes": np.stack([motion.axes[name] for name in segments], axis=1).astype(single),
        "origin": np.stack([motion.origin[name] for name in segments], axis=1).astype(single),
        "patella": np.stack(
            [trial.marker_truth[:, trial.markers.index(f"patella{SUFFIX[s]}")] for s in SIDES], axis=1
        ).astype(single),
    }


def session_truth(session: SimulatedSession) -> dict[str, Any]:
    """What is true of a session as a table: sizes, squats, their causes."""
    person, static_angles = session.person, session.static.angles()[0]
    trials = []
    for trial in session.trials:
        lab = trial.options.lab
        trials.append(
            {
                "trial": trial.name,
                "task": trial.task,
                "rate_hz": trial.options.rate_hz,
                "frames": len(trial.time),
                "lab": asdict(lab),
                "lab_from_participant": lab.from_participant().tolist(),
                "lab_origin_mm": lab.origin_mm().tolist(),
                "bouts": [account_of(trial, session.static, number) for number in range(len(trial.bouts))],
            }
        )
    return {
        "participant": person.name,
        "session": session.date,
        "sizes_mm": {
            "thigh": person.thigh_mm,
            "shank": person.shank_mm,
            "pelvis_width": person.pelvis_width_mm,
            "pelvis_depth": person.pelvis_depth_mm,
        },
        "static_angle": {
            side: dict(zip(ANGLES, static_angles[column].tolist(), strict=True)) for column, side in enumerate(SIDES)
        },
        "errors": asdict(session.static.options.errors),
        "trials": trials,
    }


def write_session(
    folder: str | Path,
    session: SimulatedSession,
    *,
    marker_set: str = "../../../configs/markers/clusters_full_body.yaml",
    pipeline: str = "../../../configs/single_leg_squat.yaml",
    declared_sides: Mapping[str, str] | None = None,
    force_plate: bool = False,
) -> Path:
    """Write static.c3d, the trials, session.yaml and the truth into ``folder``; returns the folder.

    ``marker_set`` and ``pipeline`` go into session.yaml as they are. ``declared_sides`` puts another side into
    session.yaml for a trial than the one it was made on. With ``force_plate`` the movement trials have a plate.
    """
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    for trial in (session.static, *session.trials):
        plate = plate_under(trial) if force_plate and trial.bouts else None
        write_c3d(place / f"{trial.name}.c3d", trial, plate)
        write_bytes(place / f"truth_{trial.name}.npz", _packed(truth_arrays(trial)))
    write_text(place / "truth.json", json.dumps(_rounded(session_truth(session)), indent=1) + "\n")
    write_text(place / "session.yaml", session_yaml(session, marker_set, pipeline, declared_sides or {}))
    return place


def session_yaml(session: SimulatedSession, marker_set: str, pipeline: str, sides: Mapping[str, str]) -> str:
    """The session file's text."""
    person = session.person
    mass = f"mass_kg: {person.mass_kg:.1f}"
    lines = [
        "# Synthetic: made by `condyle sample`. The yearly knee screening of a mountain-rescue team.",
        f"participant: {{id: {person.name}, sex: {person.sex}, height_mm: {person.height_mm:.0f}, {mass}}}",
        f"session: {session.date}",
        "tester: T1",
        f"marker_set: {marker_set}",
        f"pipeline: {pipeline}",
        "static: static.c3d",
        "trials:",
    ]
    for trial in session.trials:
        made = {bout.side for bout in trial.bouts}
        name = trial.name
        side = "both" if trial.task == "double_leg_squat" else made.pop() if len(made) == 1 else "auto"
        free = trial.bouts[0].movement.free_leg if trial.bouts else "behind"
        condition = f"{{shoes: none, arms: crossed, free_leg: {free}}}"
        lines.append(
            f"  - {{file: {name}.c3d, task: {trial.task}, side: {sides.get(name, side)}, condition: {condition}}}"
        )
    return "\n".join(lines) + "\n"


def _packed(arrays: Mapping[str, Any]) -> bytes:
    """The bytes of an .npz file; NumPy's own writer packs tighter and takes four times as long."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as pack:
        for name, values in arrays.items():
            with pack.open(f"{name}.npy", "w") as entry:
                np.lib.format.write_array(entry, np.asarray(values), allow_pickle=False)
    return buffer.getvalue()


def _rounded(value: Any) -> Any:
    """Numbers at seven decimals, so that rounding noise does not show; -0.0 as 0.0."""
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    if isinstance(value, float):
        return round(value, 7) + 0.0
    return value
