"""One session's share of the comparison: its landmarks, its standing angles, the means of its measures."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from condyle.errors import CondyleError
from condyle.files.pipeline_file import Pipeline
from condyle.mechanics.arrays import FloatArray
from condyle.session import compute, plan
from condyle.session_result import Plan, SessionResult
from condyle.vocabulary import JOINT_ANGLES, SEGMENTS, SIDES

_NOT_NEEDED = ("contributions", "uncertainty", "report")


@dataclass(frozen=True)
class Gathered:
    """Of one session: calibrated points by segment, standing angles (2, angles), and a row per repetition and measure."""

    folder: Path
    participant: str
    session: str
    tester: str
    points: dict[str, dict[str, FloatArray]]
    static_angle: FloatArray
    measures: pd.DataFrame


def session_files(root: Path) -> list[Path]:
    """Every session.yaml below a folder, in order; results folders are passed over."""
    return sorted(p for p in root.rglob("session.yaml") if "results" not in p.relative_to(root).parts)


def gather(root: Path) -> tuple[list[Gathered], list[str]]:
    """Compute every session below ``root`` without contributions; sentences for those that could not be."""
    out, refused = [], []
    for path in session_files(root):
        try:
            planned = plan(path)
            result = compute(_without(planned))
        except CondyleError as error:
            refused.append(f"{path.parent}: {error}")
            continue
        gathered = _gathered(path.parent, result)
        if gathered is None:
            refused.append(f"{path.parent}: the standing trial was rejected; see condyle check on this session.")
        else:
            out.append(gathered)
    return out, refused


def _without(planned: Plan) -> Plan:
    """The same plan without the stages that take long and are not compared."""
    from dataclasses import replace

    p = planned.pipeline
    stages = {name: settings for name, settings in p.stages.items() if name not in _NOT_NEEDED}
    lean = Pipeline(p.lab, p.read, None, stages, p.file)
    return replace(planned, configuration=replace(planned.configuration, pipeline=lean))


def _gathered(folder: Path, result: SessionResult) -> Gathered | None:
    from condyle.result_tables import measures_table

    session = result.plan.session
    static = result.trials[session.name_of(session.static)]
    if static.rejected or "calibrated_point" not in static.trial:
        return None
    names = [str(n) for n in static.trial["body_point"].values]
    table = static.trial["calibrated_point"].values
    landmarks = set(result.plan.markers.landmarks)
    points = {
        segment: {
            n: table[i, k]
            for k, n in enumerate(names)
            if not np.isnan(table[i, k]).any() and (n in landmarks or n[:-2] in ("hip", "knee", "ankle"))
        }
        for i, segment in enumerate(SEGMENTS)
    }
    return Gathered(
        folder,
        result.participant,
        result.session,
        session.tester or "",
        {s: p for s, p in points.items() if len(p) >= 4},
        static.trial["static_angle"].values,
        measures_table([d.trial for d in result.movements]),
    )


def angle_rows(gathered: Gathered) -> list[dict[str, object]]:
    """Standing angles as rows of the comparison."""
    return [
        {"side": side, "measure": f"{angle}_standing", "value": gathered.static_angle[s, k]}
        for s, side in enumerate(SIDES)
        for k, angle in enumerate(JOINT_ANGLES)
        if not np.isnan(gathered.static_angle[s, k])
    ]
