"""contributions: which part moved the knee in every repetition, and what else was seen beside it."""

from typing import Annotated, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.files.limits import KnownLimits, load_limits, overlaid
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.stages.accounts import (
    ACCOUNT_UNITS,
    ACCOUNTS,
    COURSES,
    SOURCES,
    SOURCES_BELOW,
    account_courses,
    account_values,
    leg_through,
)
from condyle.stages.causes import Causes, Limits, bottom_tables, headings_to_try, named_causes
from condyle.stages.stage import Settings
from condyle.vocabulary import put

CAUTION = (
    "'Cause' says where the motion happened, not why: strength, pain, a stiff ankle or torsion of bone are not seen."
)
CONTRIBUTIONS = frozenset(
    {"contribution", "contribution_course"}
    | {f"repetition_{n}" for n in ("cause", "explains", "confidence", "from_below")}
)
_SETTINGS = "contributions_settings"
_BELOW_COLUMNS = [SOURCES.index(n) for n in SOURCES_BELOW]


class ContributionsSettings(Settings):
    """Which measure the cause explains, and the limits of verdict, findings and planar reading."""

    explain: Literal["fppa", "knee_relative_to_hip", "thigh_axial_rotation"] = Field(
        "fppa",
        description="what the cause explains: what a 2D screen reads, where the thigh points, or its apparent rotation",
    )
    limits: Annotated[dict[str, float], KnownLimits("findings")] = Field(
        {}, description="limits of the verdict and the findings that differ from configs/findings.yaml"
    )
    planar: Annotated[dict[str, float], KnownLimits("planar_reading")] = Field(
        {}, description="values of the kneecap-only view that differ from configs/planar_reading.yaml"
    )

    def finding_limits(self) -> Limits:
        """The limits of verdict and findings in force."""
        return overlaid(load_limits("findings"), self.limits)

    def planar_limits(self) -> Limits:
        """The limits of the planar reading in force."""
        return overlaid(load_limits("planar_reading"), self.planar)


def contributions_trial(trial: xr.Dataset, settings: ContributionsSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Accounts over time and at the bottom, and the cause that the point values name."""
    limits = settings.finding_limits()
    least_shown = limits["shown_least_percent"].value / 100.0
    sides = sorted({str(s) for s in trial["repetition_side"].values})
    legs = {side: leg_through(trial, side) for side in sides}
    courses = account_courses(trial, legs, least_shown)
    value = account_values(trial, courses)
    tables = bottom_tables(trial, legs, headings_to_try(trial, limits), least_shown)
    causes = named_causes(tables, below_table(value), settings.explain, limits)
    done = put(
        trial,
        {
            "account": np.array(ACCOUNTS),
            "account_unit": np.array(ACCOUNT_UNITS),
            "course": np.array(COURSES),
            "source": np.array(SOURCES),
        },
        contribution=value + 0.0,
        contribution_course=courses,
    )
    return with_causes(done, causes).assign_attrs({_SETTINGS: settings.model_dump_json()}), []


def contributions_settings_of(trial: xr.Dataset) -> ContributionsSettings:
    """The settings with which this stage ran, for the stage that repeats its verdict with draws."""
    return ContributionsSettings.model_validate_json(str(trial.attrs[_SETTINGS]))


def below_table(value: FloatArray) -> FloatArray:
    """(repetition, 2, 4): foot on floor, ankle, knee, remainder of the two accounts from below."""
    return value[:, 9:, _BELOW_COLUMNS]


def with_causes(trial: xr.Dataset, causes: Causes) -> xr.Dataset:
    """The trial with what is said of each repetition."""
    return put(
        trial,
        repetition_cause=np.array(causes.cause, dtype="U"),
        repetition_explains=np.array(causes.explains, dtype="U"),
        repetition_confidence=np.array(causes.confidence, dtype=float),
        repetition_from_below=np.array(causes.from_below, dtype="U"),
    )
