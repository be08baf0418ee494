"""What an export says of a trial: names of our own for everything, never a text that came with the recording."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, LANDMARKS, SEGMENTS, SIDES, SUFFIX
from condyle.errors import DataError, UsageError
from condyle.files.netcdf import read_trial
from condyle.mechanics.arrays import FloatArray

TRIALS = "trials"


class Repetition(NamedTuple):
    """When a squat took place."""

    side: str
    number: int
    start_s: float
    bottom_s: float
    end_s: float


@dataclass(frozen=True)
class Exported:
    """A processed trial, ready to be written in an open format."""

    trial: xr.Dataset

    @cached_property
    def identity(self) -> tuple[str, str, str]:
        """Participant, session, trial."""
        attrs = self.trial.attrs
        return str(attrs["participant"]), str(attrs["session"]), str(attrs["trial"])

    @property
    def task(self) -> str:
        """The task; ``static`` for a standing trial."""
        return str(self.trial.attrs["task"])

    @property
    def rate_hz(self) -> float:
        """Samples a second."""
        return float(self.trial.attrs["rate_hz"])

    @property
    def overridden(self) -> str:
        """Rejects that the lab's session file lets through, with the reasons; empty where there are none."""
        return str(self.trial.attrs.get("accepted", ""))

    @cached_property
    def points(self) -> dict[str, FloatArray]:
        """Position by name, markers first, then joint centres; (time, 3) in mm in the participant frame.

        A marker without an anatomical name is called by its segment and a number: its label is the lab's own text.
        Markers that are missing throughout are left out.
        """
        named: dict[str, FloatArray] = {}
        counts: dict[str, int] = {}
        segments = self._segments()
        values = self.trial["point"].values
        for i, marker in enumerate(map(str, self.trial["marker"].values)):
            name = marker
            if marker not in LANDMARKS:
                segment = segments.get(marker, "marker")
                counts[segment] = counts.get(segment, 0) + 1
                name = f"{segment}_{counts[segment]}"
            if np.isfinite(values[:, i]).any():
                named[name] = values[:, i]
        if "joint_centre" in self.trial:
            centres = self.trial["joint_centre"].sel(joint=list(JOINTS)).values
            named |= {f"{joint}_centre": centres[:, i] for i, joint in enumerate(JOINTS)}
        return named

    def _segments(self) -> dict[str, str]:
        if "tracking" not in self.trial:
            return {}
        tracking = self.trial["tracking"].sel(segment=list(SEGMENTS)).values
        names = self.trial["body_point"].values
        return {
            str(name): SEGMENTS[int(np.argmax(moves))]
            for name, moves in zip(names, tracking.T, strict=True)
            if moves.any()
        }

    @cached_property
    def angles(self) -> dict[str, FloatArray]:
        """Angle by name and side, such as ``hip_flexion_r``; (time,) in degrees. Empty for a trial without angles."""
        if "angle" not in self.trial:
            return {}
        values = self.trial["angle"].sel(side=list(SIDES)).values
        names = map(str, self.trial["joint_angle"].values)
        every = {
            f"{name}{SUFFIX[side]}": values[:, s, a] for a, name in enumerate(names) for s, side in enumerate(SIDES)
        }
        return {name: angle for name, angle in every.items() if np.isfinite(angle).any()}

    @cached_property
    def repetitions(self) -> list[Repetition]:
        """The repetitions of each side; none where the task has none."""
        if "repetition_number" not in self.trial:
            return []
        columns = (self.trial[f"repetition_{name}"].values.tolist() for name in Repetition._fields)
        return [Repetition(*row) for row in zip(*columns, strict=True)]

    @cached_property
    def made_by(self) -> list[str]:
        """The stages that made the trial, with their settings, a line each."""
        steps = json.loads(str(self.trial.attrs.get("history", "[]")))
        return [f"{name}: {json.dumps(settings)}" for step in steps for name, settings in step.items()]


def results_folders(places: list[Path]) -> list[Path]:
    """Every folder with a ``trials`` folder at or below the places: results, a session, an archive."""
    found: list[Path] = []
    for place in places:
        if not place.is_dir():
            raise UsageError(f"{place} is not a folder; give a results folder, a session folder or an archive.")
        here = sorted(path.parent for path in place.rglob(TRIALS) if any(path.glob("*.nc")))
        if not here:
            raise UsageError(f"no results lie below {place}; process its sessions first.")
        found.extend(here)
    return list(dict.fromkeys(found))


def exported_trials(folders: list[Path]) -> Iterator[Exported]:
    """The trials in these results folders, one after another; raises DataError where two have one identity."""
    seen: dict[tuple[str, str, str], Path] = {}
    for folder in folders:
        for path in sorted((folder / TRIALS).glob("*.nc")):
            trial = Exported(read_trial(path))
            if missing := [
                key for key in ("participant", "session", "trial", "task", "rate_hz") if key not in trial.trial.attrs
            ]:
                raise DataError(f"{path} does not say its {missing[0]}; it is no trial of condyle's.")
            if (other := seen.setdefault(trial.identity, path)) != path:
                words = ", ".join(trial.identity)
                raise DataError(f"{path} and {other} are both {words}; export them separately.")
            yield trial


def label(text: str) -> str:
    """The text in letters and digits only, words joined by capitals: ``squat_right`` is ``squatRight``."""
    words = re.findall(r"[A-Za-z0-9]+", text)
    return "".join([*words[:1], *(word[:1].upper() + word[1:] for word in words[1:])]) or "x"
