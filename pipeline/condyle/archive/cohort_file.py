"""What may stand in cohort.yaml: the keys, their types and what they must hold."""

import re
from typing import Annotated

from pydantic import Field, field_validator

from condyle.files.checked import Checked
from condyle.files.session_file import Purpose, Side, Task

_WORDS = ("participant", "session", "trial")

Text = Annotated[str, Field(min_length=1)]


class CohortTrial(Checked):
    """Which files are a kind of trial, by the {trial} part of their names."""

    name: Text = Field(description="trial name or a glob such as squat_right*")
    task: Task = Field("single_leg_squat", description="what was done; other means angles only")
    side: Side = Field("auto", description="stance side; auto takes the foot that stays still")
    condition: dict[str, Text] = Field({}, description="free words, carried into tables")


class CohortCalibration(Checked):
    """Which files are a kind of functional trial."""

    name: Text = Field(description="trial name or a glob such as hip_right*")
    purpose: Purpose = Field(alias="for", description="hip_r, hip_l: hip centre; knee_axis_r, knee_axis_l: knee axis")


class Cohort(Checked):
    """How a cohort's files are named, and what its sessions share."""

    pattern: Text = Field(description="path of a C3D file below this one, such as {participant}/{session}/{trial}.c3d")
    static: Text = Field(description="trial name or a glob of the static trial, such as static*")
    trials: tuple[CohortTrial, ...] = Field(min_length=1, description="kinds of trials; the first that fits decides")
    calibration: tuple[CohortCalibration, ...] = Field((), description="functional trials")
    defaults: Text | None = Field(None, description="a YAML file of facts that all the sessions share")
    marker_set: Text | None = Field(None, description="marker set of all the sessions")
    pipeline: Text | None = Field(None, description="pipeline of all the sessions")
    participants: Text | None = Field(None, description="CSV file: id, and any of sex, age_years, height_mm, mass_kg")

    @field_validator("pattern")
    @classmethod
    def _has_the_words(cls, value: str) -> str:
        words = re.findall(r"\{(\w*)\}", value)
        if sorted(words) != sorted(_WORDS):
            raise ValueError(
                f"the pattern must hold each of {{participant}}, {{session}} and {{trial}} once; found {value}"
            )
        return value
