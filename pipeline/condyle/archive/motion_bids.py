"""The Motion extension of the BIDS standard (Jeung et al. 2024, Sci Data 11:716): a folder that other tools read."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from condyle import __version__
from condyle.archive.exported import Exported, label
from condyle.body_names import ANGLE_WORDS
from condyle.errors import DataError
from condyle.files.atomic import write_text
from condyle.files.tables import number

BIDS_VERSION = "1.10.0"
_AXES = ("x", "y", "z")
_FRAME = "participant"
_README = """\
Optical marker recordings of single-leg squats and similar tasks, processed and exported by condyle {version}.

Positions (type POS) are filtered, in mm, in the participant frame: x anterior, y superior, z to the right.
Angles (type JNTANG) are in degrees; positive is the same for both sides of the body. A missing sample is n/a.
sub-*/ses-*/motion/*_events.tsv lists the repetitions. Not a medical device: no diagnosis, no risk of injury.
Recordings of people are personal data and fall under local privacy law. Names of participants are pseudonyms.
"""
_PARTICIPANTS = {
    "participant_id": {"Description": "pseudonym"},
    "sex": {"Description": "sex", "Levels": {"F": "female", "M": "male"}},
    "height": {"Description": "body height", "Units": "cm"},
    "weight": {"Description": "body mass", "Units": "kg"},
}
_FRAMES = {
    "reference_frame": {
        "Description": "frame of the positions and of the segment angles",
        "Levels": {
            _FRAME: {
                "SpatialAxes": "ASR",
                "RotationRule": "right-hand",
                "RotationOrder": "ZXY",
                "Description": "participant frame: x anterior, y superior, z right; turned by the heading of the bout",
            }
        },
    }
}
_EVENTS = {
    "trial_type": {
        "LongName": "part of a repetition",
        "Description": "descent from the start to the bottom, ascent from the bottom to the end",
        "Levels": {"descent": "start to bottom", "ascent": "bottom to end"},
    },
    "side": {"Description": "measured side", "Levels": {"left": "left", "right": "right"}},
    "repetition": {"Description": "repetition, counted from 1 through the trial"},
}


def write_motion_bids(out: Path, trials: Iterable[Exported]) -> int:
    """Write the data set into ``out``; returns the number of trials."""
    people: dict[str, dict[str, str]] = {}
    names: dict[str, tuple[str, str, str]] = {}
    for trial in trials:
        stem = _stem(trial)
        other = names.setdefault(stem.casefold(), trial.identity)
        if other != trial.identity:
            words = f"{', '.join(trial.identity)} and {', '.join(other)}"
            raise DataError(
                f"{words} become one name in BIDS ({stem}), which knows letters and digits only; rename one."
            )
        people.setdefault(f"sub-{label(trial.identity[0])}", _person(trial))
        _write_trial(out, stem, trial)
    _write_dataset(out, people)
    return len(names)


def _stem(trial: Exported) -> str:
    participant, session, name = map(label, trial.identity)
    return f"sub-{participant}_ses-{session}_task-{label(trial.task)}_tracksys-optical_acq-{name}"


def _person(trial: Exported) -> dict[str, str]:
    attrs = trial.trial.attrs
    sex = {"female": "F", "male": "M"}.get(str(attrs.get("participant_sex", "")), "n/a")
    height, mass = attrs.get("participant_height_mm"), attrs.get("participant_mass_kg")
    return {
        "sex": sex,
        "height": number(float(height) / 10) if height is not None else "n/a",
        "weight": number(float(mass)) if mass is not None else "n/a",
    }


def _write_trial(out: Path, stem: str, trial: Exported) -> None:
    folder = out / stem.split("_")[0] / stem.split("_")[1] / "motion"
    folder.mkdir(parents=True, exist_ok=True)
    channels = _channels(trial)
    values = np.column_stack([*(position for position in trial.points.values()), *trial.angles.values()])
    write_text(folder / f"{stem}_motion.tsv", _numbers(values))
    write_text(folder / f"{stem}_channels.tsv", _table(channels))
    write_text(folder / f"{stem}_channels.json", _json(_FRAMES))
    write_text(folder / f"{stem}_motion.json", _json(_sidecar(trial, channels, values)))
    if trial.repetitions:
        events = f"{stem.replace('_tracksys-optical', '')}_events"
        write_text(folder / f"{events}.tsv", _table(_events(trial)))
        write_text(folder / f"{events}.json", _json(_EVENTS))


def _channels(trial: Exported) -> pd.DataFrame:
    rows = [(f"{name}_{axis}", axis, "POS", name, "mm", _FRAME, "filtered position")
            for name in trial.points for axis in _AXES]  # fmt: skip
    for name in trial.angles:
        words = ANGLE_WORDS.get(name[:-2], "angle").replace("\t", " ")
        rows.append((name, "n/a", "JNTANG", name, "deg", "n/a", words))
    columns = ("name", "component", "type", "tracked_point", "units", "reference_frame", "description")
    return pd.DataFrame(rows, columns=list(columns))


def _events(trial: Exported) -> pd.DataFrame:
    rows = []
    for repetition in trial.repetitions:
        start, bottom, end = repetition.start_s, repetition.bottom_s, repetition.end_s
        rows.append((start, bottom - start, "descent", repetition.side, repetition.number))
        rows.append((bottom, end - bottom, "ascent", repetition.side, repetition.number))
    return pd.DataFrame(sorted(rows), columns=["onset", "duration", "trial_type", "side", "repetition"])


def _sidecar(trial: Exported, channels: pd.DataFrame, values: Any) -> dict[str, Any]:
    attrs = trial.trial.attrs
    samples = len(values)
    return {
        "TaskName": trial.task.replace("_", " "),
        "TaskDescription": f"{trial.task.replace('_', ' ')}, side {attrs.get('side', 'n/a')}",
        "SamplingFrequency": trial.rate_hz,
        "SamplingFrequencyEffective": trial.rate_hz,
        "TrackingSystemName": "optical",
        "RecordingDuration": samples / trial.rate_hz,
        "MotionChannelCount": len(channels),
        "POSChannelCount": int((channels["type"] == "POS").sum()),
        "JNTANGChannelCount": int((channels["type"] == "JNTANG").sum()),
        **{
            f"{kind}ChannelCount": 0 for kind in ("ACCEL", "ANGACCEL", "GYRO", "LATENCY", "MAGN", "ORNT", "VEL", "MISC")
        },
        "TrackedPointsCount": len(trial.points),
        "MissingValues": "n/a",
        "SoftwareVersions": f"condyle {__version__}",
        "SourceSHA256": str(attrs.get("sha256", "n/a")),
        "ProcessingSteps": trial.made_by,
        **({"OverriddenRejects": trial.overridden} if trial.overridden else {}),
    }


def _write_dataset(out: Path, people: dict[str, dict[str, str]]) -> None:
    description = {
        "Name": "Single-leg squats, marker-based 3D kinematics",
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "derivative",
        "GeneratedBy": [{"Name": "condyle", "Version": __version__}],
    }
    write_text(out / "dataset_description.json", _json(description))
    write_text(out / "README", _README.format(version=__version__))
    rows = [(person, facts["sex"], facts["height"], facts["weight"]) for person, facts in sorted(people.items())]
    write_text(
        out / "participants.tsv", _table(pd.DataFrame(rows, columns=["participant_id", "sex", "height", "weight"]))
    )
    write_text(out / "participants.json", _json(_PARTICIPANTS))


def _numbers(values: Any) -> str:
    row = "\t".join(["%.9g"] * values.shape[1]) + "\n"
    return (row * len(values) % tuple((values + 0.0).ravel())).replace("nan", "n/a")


def _table(frame: pd.DataFrame) -> str:
    def cell(value: Any) -> str:
        text = number(value) if isinstance(value, float) else str(value)
        return " ".join(text.split()) or "n/a"

    lines = ["\t".join(frame.columns), *("\t".join(map(cell, row)) for row in frame.itertuples(index=False, name=None))]
    return "\n".join(lines) + "\n"


def _json(content: Any) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"
