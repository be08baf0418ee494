"""What is said of the flat views: where a segment is too short in its own view, and what a kneecap-only view cannot read."""

from collections.abc import Iterator, Sequence

import numpy as np
import xarray as xr

from condyle.findings import Finding, Verdict
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits
from condyle.stages.planar_view import SHOWN_IN
from condyle.trial_data import labels_along

_VIEW = {
    "pelvis_plane": "the pelvis' own frontal plane, from which a thigh turns away with every flexion of the hip",
    "asis": "the participant's frontal plane (from the ASIS)",
    "camera": "the virtual camera's picture",
}


def planar_findings(trial: xr.Dataset, rows: Sequence[Row], limits: Limits) -> list[Finding]:
    """A row for every side and view that shows too little of thigh or shank, and for every side that is not read."""
    value, names = trial.variables["measure_value"].values, labels_along(trial, "measure")
    numbers = trial.variables["repetition_number"].values
    readings = trial.variables["repetition_planar_reading"].values
    out: list[Finding] = []
    for side in sorted({r.side for r in rows}):
        mine = np.array([k for k, r in enumerate(rows) if r.side == side])
        for view, shown in SHOWN_IN.items():
            out += _foreshortened(view, side, value[mine, names.index(shown)], numbers[mine], limits)
        out += _not_read(side, numbers[mine][readings[mine] == ""])
    return out


def _foreshortened(view: str, side: str, shown: np.ndarray, numbers: np.ndarray, limits: Limits) -> Iterator[Finding]:
    """Under the limit of the frontal FPPA the angle of this view is unreliable, under the least it is not given."""
    review, least = limits["shown_review_percent"], limits["shown_least_percent"]
    short, lost = shown < review.value, shown < least.value
    if not short.any():
        return
    measure = f"fppa_{view}_at_bottom"
    words = (
        f"thigh or shank shows less than {review.value:g} % of its length in {_VIEW[view]}, in {_these(numbers[short])}"
    )
    given = f"it is not given in {_these(numbers[lost])}, under {least.value:g} %" if lost.any() else "it is given"
    advice = f"{words}: {measure} is unreliable there; {given} ({review.source})."
    # in the pelvis' plane every deep squat is short: said, but nothing to look after
    verdict: Verdict = "pass" if view == "pelvis_plane" else "review"
    worst = float(np.nanmin(shown))
    yield Finding("planar view", f"{measure}, {side}", worst, review.value, review.unit, verdict, advice)


def _not_read(side: str, numbers: np.ndarray) -> Iterator[Finding]:
    if len(numbers):
        advice = (
            f"a kneecap-only view is not read in {_these(numbers)}: its travel, path angle or projection angle is not given, "
            "and what is given does not decide."
        )
        yield Finding("planar reading", f"not read, {side}", float(len(numbers)), 0.0, "1", "review", advice)


def _these(numbers: np.ndarray) -> str:
    return f"repetition{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers.tolist()))}"
