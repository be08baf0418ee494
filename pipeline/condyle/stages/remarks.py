"""Rows of the quality table for what is remarked beside a cause: the value, the limit and its basis of every remark."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.contributions import MODEL_ANGLES, MODEL_MEASURES
from condyle.stages.accounts import MEASURE_UNITS, SOURCES_ABOVE, Row
from condyle.stages.causes import ALREADY, BY_HEADING, NOT_GIVEN, REBUILT, Limits, headings_apart, rebuilt_factor
from condyle.trial_data import labels_along


class _Case(NamedTuple):
    """A repetition of which something is remarked, and its accounts from above (6, source above) in the heading in use."""

    trial: xr.Dataset
    place: int
    row: Row
    table: FloatArray
    explain: str
    limits: Limits


Numbers = tuple[float, float, str, str]  # value, limit, unit, basis


def remark_findings(
    trial: xr.Dataset,
    rows: Sequence[Row],
    tables: FloatArray,
    remarks: Sequence[Sequence[str]],
    explain: str,
    limits: Limits,
    by: str = "values",
) -> list[Finding]:
    """A row for every remark of every repetition; ``tables`` (heading, repetition, 6, source above) point values.

    ``by``: whether the ``values`` or the ``draws`` brought the remark. What left a cause open has a row of its own to be
    reviewed; these say what the words rest on.
    """
    numbers, out = trial.variables["repetition_number"].values.tolist(), []
    for k, (row, words) in enumerate(zip(rows, remarks, strict=True)):
        for word in words:
            value, limit, unit, basis = REMARKED[word](_Case(trial, k, row, tables[0][k], explain, limits))
            subject = f"repetition {numbers[k]}, {row.side}"
            out.append(Finding(f"cause, by the {by}", subject, value, limit, unit, "pass", f"{word}: {basis}."))
    return out


def _already(case: _Case) -> Numbers:
    """The base from the start less the base from standing."""
    limit = case.limits[f"already_there_{MEASURE_UNITS[case.explain]}"]
    account = MODEL_MEASURES.index(case.explain)
    apart = float(case.table[account, 0] - case.table[account + 3, 0])
    basis = f"{limit.words} ({limit.source}); with draws, their whole interval must lie beyond it"
    return apart, float(np.copysign(limit.value, apart)), limit.unit, basis


def _by_heading(case: _Case) -> Numbers:
    """How far the ways of telling straight ahead lie apart: pelvis and stance foot, or the lab axis in use and both."""
    limit = case.limits["heading_apart_deg"]
    between, off = (float(each[case.row.bout]) for each in headings_apart(case.trial))
    if off > between:
        return (
            off,
            limit.value,
            limit.unit,
            f"the lab axis in use off pelvis and stance foot; {limit.words} ({limit.source})",
        )
    apart = float(case.trial.variables["pelvis_over_foot"].values[case.row.bout])
    return apart, float(np.copysign(limit.value, apart)), limit.unit, f"{limit.words} ({limit.source})"


def _rebuilt(case: _Case) -> Numbers:
    """The rung of the ladder on which the pelvis was rebuilt."""
    basis = "rung 2 of the repair, on two of its own markers; up to rung 1 it rests on three or more (ours)"
    error = case.trial.attrs.get("pelvis_repair_error_deg_2")
    if error is not None:
        factor = rebuilt_factor(case.explain, case.limits)
        basis += f"; hiding the same markers elsewhere turns it by {float(error):.1f} degrees; {factor.words}, {factor.value:g}"
        basis += f" ({factor.source})"
    return 2.0, 1.0, "1", basis


def _not_given(case: _Case) -> Numbers:
    """How many parts of the account are known, of how many a cause needs."""
    known = int(np.isfinite(case.table[MODEL_MEASURES.index(case.explain)]).sum())
    return float(known), float(len(SOURCES_ABOVE)), "1", f"known parts, of which a cause needs all (ours); {_why(case)}"


def _why(case: _Case) -> str:
    """What keeps an account from being given, as far as measures and angles tell."""
    least, words = case.limits["shown_least_percent"], []
    measures = labels_along(case.trial, "measure")
    shown = float(case.trial.variables["measure_value"].values[case.place, measures.index("leg_shown_at_bottom")])
    if case.explain == "fppa" and shown < least.value:
        words.append(
            f"the frontal plane shows {shown:.0f} % of thigh or shank, under {least.value:g} % ({least.source})"
        )
    angle = case.trial.variables["angle"].values[[case.row.start, case.row.bottom], SIDES.index(case.row.side)]
    unknown = [n for n in MODEL_ANGLES if np.isnan(angle[:, JOINT_ANGLES.index(n)]).any()]
    if unknown:
        names = ", ".join(n.replace("_", " ") for n in unknown)
        words.append(f"not known at its start or bottom: {names}")
    return "; ".join(words) or "a joint centre is not known at its start or bottom"


REMARKED: Mapping[str, Callable[[_Case], Numbers]] = {
    ALREADY: _already,
    BY_HEADING: _by_heading,
    REBUILT: _rebuilt,
    NOT_GIVEN: _not_given,
}
