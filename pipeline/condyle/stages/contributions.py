"""contributions: which part moved the knee in every repetition, and what else was seen beside it."""

from typing import Annotated, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import SEGMENTS
from condyle.files.limits import KnownLimits, load_limits, overlaid
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.stages.accounts import (
    ACCOUNT_UNITS,
    ACCOUNTS,
    COURSES,
    SOURCES,
    SOURCES_BELOW,
    Row,
    account_courses,
    account_values,
    leg_through,
    repetition_rows,
)
from condyle.stages.causes import (
    REMARKS,
    Causes,
    Limits,
    bottom_tables,
    headings_to_try,
    leave_shallow_open,
    named_causes,
    open_where_rebuilt,
)
from condyle.stages.observations import observe
from condyle.stages.planar_findings import planar_findings
from condyle.stages.planar_reading import misread
from condyle.stages.remarks import remark_findings
from condyle.stages.stage import Settings
from condyle.trial_data import noted, put

CONTRIBUTIONS = frozenset(
    {"contribution", "contribution_course"}
    | {f"repetition_{n}" for n in ("cause", "explains", "confidence", "from_below")}
    | {f"repetition_{n}" for n in ("direction", "planar_reading", "misread", "findings", "valid")}
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
    """Accounts over time and at the bottom, the cause that the point values name, and what was seen beside it."""
    limits = settings.finding_limits()
    rows = repetition_rows(trial)
    sides = sorted({r.side for r in rows})
    least_shown = limits["shown_least_percent"].value / 100.0
    legs = {side: leg_through(trial, side) for side in sides}
    courses = account_courses(trial, legs, least_shown)
    value = account_values(trial, courses)
    tables = bottom_tables(trial, legs, headings_to_try(trial, limits), least_shown)
    causes = named_causes(tables, below_table(value), settings.explain, limits)
    open_where_rebuilt(trial, rows, tables[0], settings.explain, causes, limits)
    leave_shallow_open(trial, rows, causes, limits)
    together = value[:, 0, [SOURCES.index(n) for n in ("hip_internal_rotation", "knee_adduction")]].sum(axis=-1)
    observed = observe(trial, rows, together, limits, settings.planar_limits())
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
        measure_value=observed.value + 0.0,
        repetition_direction=np.array(observed.direction, dtype="U"),
        repetition_planar_reading=np.array(observed.reading, dtype="U"),
        repetition_valid=np.array(observed.valid, dtype=bool),
        repetition_findings=np.array(
            [";".join([*b, *w]) for b, w in zip(said_of(trial), observed.words, strict=True)], dtype="U"
        ),
    )
    findings = [
        *observed.findings,
        *remark_findings(done, rows, tables, causes.remarks, settings.explain, limits),
        *planar_findings(done, rows, limits),
        *_hung(trial, sides),
        *_without_foot(trial, rows),
    ]
    return noted(with_causes(done, causes), **{_SETTINGS: settings.model_dump_json()}), findings


def said_of(trial: xr.Dataset) -> list[list[str]]:
    """The words said of every repetition so far."""
    return [[w for w in text.split(";") if w] for text in trial.variables["repetition_findings"].values.tolist()]


def _hung(trial: xr.Dataset, sides: list[str]) -> list[Finding]:
    """Legs whose thigh or shank rests on a joint centre carried by the segment above."""
    out = []
    for side in sides:
        names = [
            n for n in (f"thigh_{side[0]}", f"shank_{side[0]}") if trial.variables["hung"].values[SEGMENTS.index(n)]
        ]
        if names:
            advice = (
                "this segment hangs on a joint centre carried by the one above: it has no residual of its own, and errors of "
                "the pelvis go into the contributions of the hip."
            )
            out += [Finding("contributions", n, None, None, "", "review", advice) for n in names]
    return out


def _without_foot(trial: xr.Dataset, rows: list[Row]) -> list[Finding]:
    """Bouts in which the pelvis cannot be laid on the stance foot: no account from standing."""
    lost = sorted({r.bout for r in rows if np.isnan(trial.variables["heading_by_foot"].values[r.bout])})
    advice = (
        "the stance foot has no frame, so there is no account from standing or from below, and a posture that was there before "
        "the squat is not seen."
    )
    return [Finding("contributions", f"bout {b + 1}", None, None, "", "review", advice) for b in lost]


def contributions_settings_of(trial: xr.Dataset) -> ContributionsSettings:
    """The settings with which this stage ran, for the stage that repeats its verdict with draws."""
    return ContributionsSettings.model_validate_json(str(trial.attrs[_SETTINGS]))


def below_table(value: FloatArray) -> FloatArray:
    """(repetition, 2, 4): foot on floor, ankle, knee, remainder of the two accounts from below."""
    return value[:, 9:, _BELOW_COLUMNS]


def with_causes(trial: xr.Dataset, causes: Causes) -> xr.Dataset:
    """The trial with what is said of each repetition; remarks of an earlier verdict make way for those of this one."""
    readings = trial.variables["repetition_planar_reading"].values.tolist()
    words = [[w for w in said if w not in REMARKS] for said in said_of(trial)]
    together = [";".join([*w, *r]) for w, r in zip(words, causes.remarks, strict=True)]
    wrong = [misread(reading, cause) for reading, cause in zip(readings, causes.cause, strict=True)]
    return put(
        trial,
        repetition_cause=np.array(causes.cause, dtype="U"),
        repetition_explains=np.array(causes.explains, dtype="U"),
        repetition_confidence=np.array(causes.confidence, dtype=float),
        repetition_from_below=np.array(causes.from_below, dtype="U"),
        repetition_misread=np.array(wrong, dtype="U"),
        repetition_findings=np.array(together, dtype="U"),
    )
