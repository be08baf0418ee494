"""A session as it will be processed: its trials with everything that the session file declares of them."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from condyle.files.session_file import Accept, LeaveOut, Participant, SessionFile, Side, Task, Triple


@dataclass(frozen=True)
class Trial:
    """One movement trial as the session file asks for it; the file itself may be missing."""

    name: str
    file: Path
    exists: bool
    task: Task
    side: Side
    static: Path
    condition: Mapping[str, str]
    use_s: tuple[float, float] | None = None
    leave_out: LeaveOut | None = None
    repetitions_s: tuple[Triple, ...] | None = None
    why: str | None = None

    @property
    def corrections(self) -> tuple[dict[str, Any], ...]:
        """Every correction by hand with its reason, for report, quality table and manifest."""
        out: list[dict[str, Any]] = []
        if self.use_s is not None:
            out.append({"trial": self.name, "correction": "use_s", "value": list(self.use_s), "why": self.why})
        if self.leave_out is not None:
            why = self.leave_out.why or self.why
            for key in ("repetitions", "markers"):
                if value := list(getattr(self.leave_out, key)):
                    out.append({"trial": self.name, "correction": f"leave_out {key}", "value": value, "why": why})
        if self.repetitions_s is not None:
            value = [list(triple) for triple in self.repetitions_s]
            out.append({"trial": self.name, "correction": "repetitions_s", "value": value, "why": self.why})
        return tuple(out)


@dataclass(frozen=True)
class Session:
    """One session, ready to be processed. ``names`` holds what static and calibration files are called, where it is said."""

    file: Path
    participant: Participant
    name: str
    tester: str | None
    affected_side: str | None
    marker_set: Path
    pipeline: Path
    statics: tuple[Path, ...]
    calibrations: Mapping[str, Path]
    trials: tuple[Trial, ...]
    accept: tuple[Accept, ...]
    previous: Path | None
    declared: SessionFile = field(repr=False)
    names: Mapping[Path, str] = field(default_factory=dict)

    @property
    def folder(self) -> Path:
        """Where the session file stands."""
        return self.file.parent

    @property
    def static(self) -> Path:
        """The static trial of every movement trial that names none of its own."""
        return self.statics[0]

    def name_of(self, path: Path) -> str:
        """What the trial in a static or calibration file is called: its ``name:``, else the file's stem."""
        return self.names.get(path, path.stem)

    @property
    def corrections(self) -> tuple[dict[str, Any], ...]:
        """Every correction by hand, trial by trial."""
        return tuple(c for trial in self.trials for c in trial.corrections)
