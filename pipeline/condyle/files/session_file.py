"""What may stand in session.yaml: the keys, their types and their bounds."""

import re
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    Field,
    WithJsonSchema,
    field_validator,
    model_serializer,
    model_validator,
)

from condyle.files.checked import Checked
from condyle.files.short_forms import OrOne, OrText, as_entry, as_list, one_or_many

Side = Literal["right", "left", "both", "auto"]
Task = Literal["single_leg_squat", "step_down", "double_leg_squat", "other"]
Purpose = Literal["hip_r", "hip_l", "knee_axis_r", "knee_axis_l"]

# A name goes into file names and tables on every system, and stands for a person: no spaces, slashes or sentences.
_SAFE = r"[A-Za-z0-9]([A-Za-z0-9._-]{0,62}[A-Za-z0-9])?"


def _safe(value: str, what: str) -> str:
    if not re.fullmatch(_SAFE, value):
        raise ValueError(
            f"`{value}` is no {what}; expected letters, digits, `-`, `_` and `.` only, for file names are made of it"
        )
    return value


Text = Annotated[str, Field(min_length=1)]
Word = Annotated[str, WithJsonSchema({"type": ["string", "number"]})]  # editors take 010 for a number; condyle does not


class Measured(Checked):
    """What was measured on the participant by hand; the bounds only catch wrong units."""

    leg_length_r_mm: float | None = Field(None, ge=300, le=1400, description="right leg length")
    leg_length_l_mm: float | None = Field(None, ge=300, le=1400, description="left leg length")
    knee_width_r_mm: float | None = Field(None, ge=40, le=250, description="right knee, epicondyle to epicondyle")
    knee_width_l_mm: float | None = Field(None, ge=40, le=250, description="left knee, epicondyle to epicondyle")
    ankle_width_r_mm: float | None = Field(None, ge=30, le=180, description="right ankle, malleolus to malleolus")
    ankle_width_l_mm: float | None = Field(None, ge=30, le=180, description="left ankle, malleolus to malleolus")
    inter_asis_mm: float | None = Field(None, ge=100, le=500, description="distance between the ASIS")
    marker_diameter_mm: float | None = Field(None, ge=1, le=60, description="diameter of the markers")


class Participant(Checked):
    """Who was recorded, by pseudonym."""

    id: Word = Field(description="a pseudonym such as MR01, never a name")
    sex: Literal["female", "male"] | None = Field(
        None, description="for segment masses; unknown takes the mean of both"
    )
    age_years: float | None = Field(None, ge=1, le=120, description="age, to choose reference values; no birth date")
    height_mm: float | None = Field(None, ge=500, le=2600, description="body height")
    mass_kg: float | None = Field(None, ge=10, le=400, description="body mass")
    measured: Measured = Field(Measured(), description="widths and lengths measured by hand")

    @field_validator("id")
    @classmethod
    def _pseudonym(cls, value: str) -> str:
        return _safe(value, "pseudonym")


_CALLED = "what the trial is called; left out, the file's stem"


class Standing(Checked):
    """A static trial: which file, and what it is called."""

    file: Text = Field(description="C3D file, relative to this file")
    name: str | None = Field(None, description=_CALLED)

    @field_validator("name")
    @classmethod
    def _is_safe(cls, value: str | None) -> str | None:
        return value if value is None else _safe(value, "trial name")

    @model_serializer
    def _as_written(self) -> Any:
        return self.file if self.name is None else {"file": self.file, "name": self.name}


StandingEntry = Annotated[Standing, BeforeValidator(as_entry), OrText()]


class Calibration(Checked):
    """A functional trial: which file, for which joint."""

    file: Text = Field(description="C3D file, relative to this file")
    name: str | None = Field(None, description=_CALLED)
    purpose: Purpose = Field(alias="for", description="hip_r, hip_l: hip centre; knee_axis_r, knee_axis_l: knee axis")

    @field_validator("name")
    @classmethod
    def _is_safe(cls, value: str | None) -> str | None:
        return value if value is None else _safe(value, "trial name")


class LeaveOut(Checked):
    """What of a trial is not to be used."""

    repetitions: tuple[Annotated[int, Field(ge=1, le=100_000)], ...] = Field(
        (), description="repetitions, counted from 1 through the trial"
    )
    markers: tuple[Text, ...] = Field((), description="labels taken for missing in this trial")
    why: Text | None = Field(None, description="the reason, printed in every output")

    @model_validator(mode="after")
    def _names_something(self) -> "LeaveOut":
        if not self.repetitions and not self.markers:
            raise ValueError("names neither `repetitions` nor `markers`; say what to leave out, or take the key away")
        return self


Moment = Annotated[float, Field(ge=0, le=86_400)]  # seconds from the first frame; no trial lasts a day
Span = tuple[Moment, Moment]
Triple = tuple[Moment, Moment, Moment]


class TrialEntry(Checked):
    """One movement trial, or all that a glob matches."""

    file: Text = Field(description="C3D file or a glob such as squat_*.c3d, relative to this file")
    name: str | None = Field(None, description=_CALLED)
    task: Task = Field("single_leg_squat", description="what was done; other means angles only")
    side: Side = Field("auto", description="stance side; auto takes the foot that stays still")
    static: StandingEntry | None = Field(
        None, description="this trial's own static trial, a file or a mapping with file and name"
    )
    condition: dict[str, Word] = Field({}, description="free words, carried into tables")
    use_s: Span | None = Field(
        None, description="the part of the trial in which repetitions are looked for, from and to"
    )
    leave_out: LeaveOut | None = Field(None, description="repetitions or markers that are not used")
    repetitions_s: tuple[Triple, ...] | None = Field(
        None, min_length=1, description="start, bottom and end of each repetition, instead of finding them"
    )
    why: Text | None = Field(
        None, description="the reason for use_s, leave_out or repetitions_s, printed in every output"
    )

    @field_validator("name")
    @classmethod
    def _is_safe(cls, value: str | None) -> str | None:
        return value if value is None else _safe(value, "trial name")

    @field_validator("use_s")
    @classmethod
    def _rises(cls, value: Span | None) -> Span | None:
        if value is not None and not 0 <= value[0] < value[1]:
            raise ValueError(f"from {value[0]:g} to {value[1]:g} s is no part of a trial; expected 0 <= from < to")
        return value

    @field_validator("repetitions_s")
    @classmethod
    def _in_order(cls, value: tuple[Triple, ...] | None) -> tuple[Triple, ...] | None:
        for count, (start, bottom, end) in enumerate(value or (), 1):
            if not 0 <= start < bottom < end:
                raise ValueError(f"repetition {count} is not start < bottom < end: {start:g}, {bottom:g}, {end:g}")
            if count > 1 and value is not None and start < value[count - 2][2]:
                raise ValueError(f"repetition {count} starts at {start:g} s, before the one before it ends")
        return value

    @model_validator(mode="after")
    def _gives_reasons(self) -> "TrialEntry":
        unexplained = [key for key in ("use_s", "repetitions_s") if getattr(self, key) is not None and not self.why]
        if self.leave_out is not None and not self.leave_out.why and not self.why:
            unexplained.append("leave_out")
        if unexplained:
            raise ValueError(
                f"{' and '.join(f'`{k}`' for k in unexplained)} corrects the trial; add `why:` with the reason"
            )
        return self


class Accept(Checked):
    """A finding that the lab takes responsibility for."""

    trial: Text = Field(description="name of the trial")
    subject: Text = Field(description="subject of the finding, as in quality.csv")
    check: Text = Field(description="name of the check, as in quality.csv")
    why: Text = Field(description="the reason, printed in every output")


class SessionFile(Checked):
    """One session: who, when, which files, and what is known about them."""

    participant: Participant = Field(description="who was recorded: id (a pseudonym) and what was measured")
    session: Word = Field(description="name of the session, such as its date")
    tester: Word | None = Field(None, description="who placed the markers, by pseudonym")
    affected_side: Literal["right", "left", "both", "none"] | None = Field(None, description="the affected side")
    marker_set: Text = Field(
        "clusters_full_body", description="marker set: a path relative to this file, or the name of a shipped one"
    )
    pipeline: Text = Field(
        "single_leg_squat", description="pipeline: a path relative to this file, or the name of a shipped one"
    )
    static: Annotated[tuple[StandingEntry, ...], Field(min_length=1), BeforeValidator(one_or_many), OrOne()] = Field(
        description="static trial, a file or a mapping with file and name, or a list of these: the first unless a trial "
        "names its own"
    )
    calibration: tuple[Calibration, ...] = Field((), description="functional trials, each with what it is for")
    trials: Annotated[
        tuple[Annotated[TrialEntry, BeforeValidator(as_entry), OrText()], ...],
        Field(min_length=1),
        BeforeValidator(as_list),
        OrText(),
    ] = Field(description="movement trials: files, globs, or mappings with file, task, side, ...")
    accept: tuple[Accept, ...] = Field((), description="findings accepted by name, with a reason")
    previous: Text | None = Field(None, description="folder of the participant's session before this one")

    @field_validator("session", "tester")
    @classmethod
    def _is_safe(cls, value: str | None) -> str | None:
        return value if value is None else _safe(value, "name")

    @field_validator("calibration")
    @classmethod
    def _each_once(cls, value: tuple[Calibration, ...]) -> tuple[Calibration, ...]:
        purposes = [c.purpose for c in value]
        if twice := sorted({p for p in purposes if purposes.count(p) > 1}):
            raise ValueError(f"two files for `{twice[0]}`; expected one")
        return value
