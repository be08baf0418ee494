"""A session before and after: what is planned, and what came out of it."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from condyle.files.configuration import Configuration
from condyle.files.marker_set import MarkerSet
from condyle.files.pipeline_file import Pipeline
from condyle.files.planned import Session
from condyle.findings import ACCEPTED, Finding, worst
from condyle.running import Processed
from condyle.stages import STAGES
from condyle.stages.stage import Stage

_NO_MOVEMENT = ("static", "calibration")


@dataclass(frozen=True)
class Plan:
    """A session with its marker set and pipeline, all checked, nothing read yet."""

    configuration: Configuration
    stages: tuple[Stage[Any], ...] = STAGES

    @property
    def session(self) -> Session:
        """What is to be processed."""
        return self.configuration.session

    @property
    def markers(self) -> MarkerSet:
        """Which label is what."""
        return self.configuration.markers

    @property
    def pipeline(self) -> Pipeline:
        """Which stages, with which settings."""
        return self.configuration.pipeline


@dataclass
class SessionResult:
    """What came out of a session; ``trials`` holds statics and movements by name, ``tables`` what was written."""

    plan: Plan
    trials: dict[str, Processed] = field(default_factory=dict)
    sha256: dict[str, str] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)
    folder: Path | None = None

    @property
    def participant(self) -> str:
        """Pseudonym of the participant."""
        return self.plan.session.participant.id

    @property
    def session(self) -> str:
        """Name of the session."""
        return self.plan.session.name

    @property
    def findings(self) -> tuple[tuple[str, Finding], ...]:
        """(trial, finding), statics first."""
        return tuple((name, f) for name, done in self.trials.items() for f in done.findings)

    @property
    def rejected(self) -> tuple[str, ...]:
        """Names of the trials that were rejected."""
        return tuple(name for name, done in self.trials.items() if done.rejected)

    @property
    def movements(self) -> tuple[Processed, ...]:
        """The movement trials that were not rejected."""
        return tuple(d for d in self.trials.values() if not d.rejected and d.trial.attrs["task"] not in _NO_MOVEMENT)

    @property
    def reviewed(self) -> bool:
        """Whether anything calls for a review."""
        return worst(f for _, f in self.findings) != "pass"

    @property
    def status(self) -> str:
        """``done``, or ``rejected`` where no movement trial is left."""
        return "done" if self.movements else "rejected"

    @property
    def exit_status(self) -> int:
        """0 all processed, 1 something was rejected: a trial, or a leg or the shoulders of one."""
        return 1 if any(f.verdict == "reject" for _, f in self.findings) else 0

    def complaints(self) -> list[str]:
        """One sentence for every rejecting finding."""
        return [f"{n}: {f.check}, {f.subject}: {f.advice}" for n, f in self.findings if f.verdict == "reject"]

    def overrides(self) -> list[str]:
        """One sentence for every finding that the session file lets through, or tries to."""
        words = ((n, f) for n, f in self.findings if f.check == "accepted by hand" or f.advice.startswith(ACCEPTED))
        return [f"{n}: {f.check}, {f.subject}: {f.advice}" for n, f in words]

    def summary(self) -> str:
        """One line: how many trials came through, and where the results are."""
        asked = len(self.plan.session.trials)
        where = f"; results in {self.folder}" if self.folder else ""
        return f"{self.participant} {self.session}: {len(self.movements)} of {asked} trials processed{where}"
