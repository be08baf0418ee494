"""One session's share of the comparison: its landmarks, its standing angles, the means of its measures."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.errors import CondyleError
from condyle.files.pipeline_file import Pipeline
from condyle.overridden import Overridden, overridden_in
from condyle.repeatability.standing import Standing, standing_of
from condyle.session import compute, plan
from condyle.session_result import Plan, SessionResult

_NOT_NEEDED = ("contributions", "uncertainty", "report")


@dataclass(frozen=True)
class Gathered:
    """Of one session: where the markers were in the standing trial, and a row per repetition and measure.

    ``static`` is the standing trial's name; ``overridden`` tells what was let through of it and of the trials.
    """

    folder: Path
    participant: str
    session: str
    tester: str
    standing: Standing
    measures: pd.DataFrame
    static: str = ""
    overridden: Overridden = field(default_factory=Overridden)
    sha256: str = ""  # of the standing trial's file

    @property
    def standing_trial(self) -> tuple[str, str, str]:
        """Participant, session and name of the standing trial."""
        return self.participant, self.session, self.static


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
            refused.append(f"{path.parent}: {' '.join(str(error).splitlines())}")
            continue
        static = result.trials[planned.session.name_of(planned.session.static)]
        if static.rejected or "calibrated_point" not in static.trial:
            why = [f.advice for f in static.findings if f.verdict == "reject"]
            more = f" ({len(why) - 1} more: condyle check {path.parent})" if len(why) > 1 else ""
            named = f"{path.parent} ({result.participant} {result.session})"
            refused.append(f"{named}: its standing trial was rejected: {' '.join(why[:1]) or 'no pelvis frame.'}{more}")
        else:
            out.append(_gathered(path.parent, result))
            refused += _not_measured(result)
    return out, refused


def _not_measured(result: SessionResult) -> list[str]:
    """A sentence for each movement trial of a session whose standing trial is sound that is in no measure."""
    out = []
    for entry in result.plan.session.trials:
        done = result.trials[entry.name]
        if done.rejected:
            why = next((f.advice for f in done.findings if f.verdict == "reject"), "")
            out.append(f"{result.participant} {result.session}: {entry.name} was rejected and is in no measure: {why}")
    return out


def one_of_each_name(sessions: list[Gathered]) -> tuple[list[Gathered], list[str]]:
    """The first of a participant's sessions of one name, and a sentence for each further one."""
    first: dict[tuple[str, str], Gathered] = {}
    for g in sessions:
        first.setdefault((g.participant, g.session), g)
    kept = list(first.values())
    doubled = [
        f"{g.folder} ({g.participant} {g.session}): {first[g.participant, g.session].folder} holds a session of the same name; "
        "give each its own with session: in its session file."
        for g in sessions
        if first[g.participant, g.session] is not g
    ]
    return kept, doubled


def without_copies(sessions: list[Gathered]) -> tuple[list[Gathered], list[str]]:
    """Sessions whose standing trial is no copy of another session's, and a sentence for each that is left out for it."""
    first: dict[str, Gathered] = {}
    for g in sorted(sessions, key=lambda g: (g.session, g.participant)):
        first.setdefault(g.sha256, g)
    kept = [g for g in sessions if not g.sha256 or first[g.sha256] is g]
    copies = [
        f"{g.participant} {g.session}: the file of its standing trial is, byte for byte, that of "
        f"{first[g.sha256].participant} {first[g.sha256].session}; give each session its own recording."
        for g in sessions
        if g.sha256 and first[g.sha256] is not g
    ]
    return kept, copies


def _without(planned: Plan) -> Plan:
    """The same plan without the stages that take long and are not compared."""
    from dataclasses import replace

    p = planned.pipeline
    stages = {name: settings for name, settings in p.stages.items() if name not in _NOT_NEEDED}
    lean = Pipeline(p.lab, p.read, None, stages, p.file)
    return replace(planned, configuration=replace(planned.configuration, pipeline=lean))


def _gathered(folder: Path, result: SessionResult) -> Gathered:
    from condyle.curve_table import accepted_of
    from condyle.result_tables import measures_table

    session = result.plan.session
    name = session.name_of(session.static)
    standing = result.trials[name].trial
    measures = measures_table([d.trial for d in result.movements])
    words = overridden_in(measures).words
    if said := accepted_of(standing):
        words = {**words, (result.participant, result.session, name): said}
    return Gathered(
        folder,
        result.participant,
        result.session,
        session.tester or "",
        standing_of(standing),
        measures,
        name,
        Overridden(words),
        result.sha256.get(name, ""),
    )


def angle_rows(gathered: Gathered) -> list[dict[str, object]]:
    """Standing angles as rows of the comparison."""
    return [
        {"side": side, "measure": f"{angle}_standing", "value": gathered.standing.angle[s, k]}
        for s, side in enumerate(SIDES)
        for k, angle in enumerate(JOINT_ANGLES)
        if not np.isnan(gathered.standing.angle[s, k])
    ]
