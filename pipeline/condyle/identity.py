"""Who and what a trial is: the attributes that travel with it, and the corrections made by hand."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import xarray as xr

from condyle.files.pipeline_file import Pipeline
from condyle.files.planned import Session, Trial
from condyle.files.suggestion import nearest
from condyle.findings import Finding
from condyle.stages.corrections import not_there


def identity_of(session: Session, pipeline: Pipeline, name: str, path: Path, entry: Trial | None) -> dict[str, Any]:
    """The attributes of a trial; None where not known, so that a file leaves them out.

    ``entry`` is None for a standing or calibration trial. The file's own name is kept only where the trial is called by
    it: a name given in the session file may be there to hide what the file is called.
    """
    person = session.participant
    out: dict[str, Any] = {
        "participant": person.id,
        "session": session.name,
        "trial": name,
        "file": path.name if path.stem == name else "",
        "task": "static" if entry is None else entry.task,
        "side": "both" if entry is None else entry.side,
        "condition": "" if entry is None else "; ".join(f"{k}={v}" for k, v in sorted(entry.condition.items())),
        "tester": session.tester,
        "affected_side": session.affected_side,
        "vertical": pipeline.lab.vertical,
        "anterior": pipeline.lab.anterior,
        # `check` must not end a trial whose exchanged markers the next stage puts back
        "repair_swaps": 1 if getattr(pipeline.stages.get("repair"), "swaps", False) else None,
        "participant_sex": person.sex,
        "participant_age_years": person.age_years,
        "participant_height_mm": person.height_mm,
        "participant_mass_kg": person.mass_kg,
        **{f"measured_{key}": value for key, value in person.measured.model_dump().items()},
    }
    if entry is not None:
        if entry.use_s is not None:
            out["use_s"] = list(entry.use_s)
        if entry.leave_out is not None and entry.leave_out.markers:
            out["leave_out_markers"] = json.dumps(list(entry.leave_out.markers))
        if entry.leave_out is not None and entry.leave_out.repetitions:
            out["leave_out_repetitions"] = list(entry.leave_out.repetitions)
        if entry.repetitions_s is not None:
            out["repetitions_s"] = [seconds for triple in entry.repetitions_s for seconds in triple]
        if reasons := list(dict.fromkeys(str(c["why"]) for c in entry.corrections)):
            out["correction_why"] = "; ".join(reasons)
    return {key: value for key, value in out.items() if value is not None}


def correction_findings(entry: Trial | None, trial: xr.Dataset, pipeline: Pipeline) -> list[Finding]:
    """One row per correction made by hand; one that names what is not there may be meant for another trial: it rejects."""
    if entry is None:
        return []
    out = []
    reason = "the task is other" if entry.task == "other" else ""
    if not reason and "repetitions" not in pipeline.stage_names:
        reason = "the pipeline has no stage `repetitions`"
    for correction in entry.corrections:
        what, value, why = correction["correction"], correction["value"], correction["why"]
        words = f"{what}: {', '.join(str(v) for v in value)}; by hand, because {why}."
        out.append(Finding("correction by hand", "file", None, None, "", "review", words))
        if what == "leave_out markers":
            out += _unknown_markers(value, [str(label) for label in trial["label"].values])
        elif what == "use_s" and reason:
            advice = f"use_s limits where repetitions are looked for, but {reason}, so it takes no frame away."
            out.append(Finding("correction by hand", "file", None, None, "", "review", advice))
        elif reason:
            advice = f"{what} names repetitions, but {reason}, so none are looked for; correct the session file."
            out.append(Finding("correction by hand", "file", None, None, "", "reject", advice))
    return [*out, *not_there(trial)]


def _unknown_markers(named: Sequence[str], labels: list[str]) -> list[Finding]:
    """A rejecting row for every label that the marker set does not have."""
    out = []
    for label in named:
        if label not in labels:
            near = nearest(label, labels)
            meant = f" (nearest: {near})" if near else ""
            words = f"leave_out names {label}, which is not a label of the marker set{meant}; correct the session file."
            out.append(Finding("correction by hand", "file", None, None, "", "reject", words))
    return out
