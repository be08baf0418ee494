"""One session: the static trial first, then every movement trial with what the static one taught."""

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import Any

import xarray as xr

from condyle.errors import CondyleError, ConfigurationErrors, UsageError
from condyle.files.c3d import C3DReader, Recording
from condyle.files.configuration import load_configuration
from condyle.files.fingerprints import sha256_if_there
from condyle.files.planned import Session, Trial
from condyle.files.privacy import file_findings, folder_findings
from condyle.files.reading_limits import reading_limits
from condyle.files.trial import trial_from
from condyle.files.yaml_text import read_yaml_text, shown
from condyle.findings import Finding, worst
from condyle.identity import correction_findings, identity_of
from condyle.running import Processed, Progress, quiet, run_trial, taught_by
from condyle.session_checks import copied_files, differing_rates, drifting_names, unused_statics
from condyle.session_depths import unlike_depths
from condyle.session_overrides import note_overrides
from condyle.session_result import Plan, SessionResult
from condyle.stages import STAGES
from condyle.stages.check import REJECTED_STANDING
from condyle.stages.checks.subjects import SHOULDERS
from condyle.stages.stage import Stage
from condyle.trial_data import put
from condyle.vocabulary import CALIBRATION, FUNCTIONAL


def plan(session: str | os.PathLike[str], stages: tuple[Stage[Any], ...] = STAGES) -> Plan:
    """Read and check the three files of a session; raises ConfigurationErrors with every mistake found."""
    planned = Plan(load_configuration(session, stages), stages)
    _functional_hips_declared(planned)
    return planned


def _functional_hips_declared(planned: Plan) -> None:
    """A functional hip centre asked for in the pipeline needs a trial that is for a hip, else nothing would come of it."""
    asked = getattr(planned.pipeline.stages.get("calibrate"), "hip_centre", None) == "functional"
    if not asked or any(what.startswith("hip") for what in planned.session.calibrations):
        return
    text = read_yaml_text(planned.session.pipeline)
    path = next((p for p in text.lines if p[-2:] == ("calibrate", "hip_centre")), ("stages",))
    words = (
        f"key `hip_centre` in `calibrate` is functional, but {shown(planned.session.file)} declares no functional trial of a "
        "hip; add `calibration: [{file: ..., for: hip_r}, {file: ..., for: hip_l}]` there, or choose a regression here"
    )
    raise ConfigurationErrors([text.sentence(path, words)])


def compute(planned: Plan, jobs: int = 1, progress: Progress = quiet, reader: C3DReader | None = None) -> SessionResult:
    """Run the pipeline on every trial, in memory; nothing is written. A failing trial never takes the others down.

    ``reader`` is used where one is given, and stays open for sessions to come; else the session has one of its own.
    """
    result = SessionResult(planned)
    session = planned.session
    active = [s for s in planned.stages if s.name in planned.pipeline.stage_names]
    with _read_ahead(planned, reader) as recordings:
        functional = _functional_points(planned, recordings, result)
        taught: dict[Path, Mapping[str, Any]] = {}
        for path in _statics_used(session):
            name = session.name_of(path)
            done = _assembled(planned, recordings, name, path, None, result)
            if not done.rejected:
                done = Processed(put(done.trial, **functional), done.findings, seconds=done.seconds)
                done = run_trial(done, [s for s in active if s.on != "movement"], *_words(planned, progress))
            result.trials[name] = done
            if not done.rejected:
                taught[path] = taught_by(done.trial, CALIBRATION)
        moving = [s for s in active if s.on != "static"]
        with ThreadPoolExecutor(max(1, jobs)) as pool:
            running = [
                pool.submit(_movement, planned, recordings, entry, taught.get(entry.static), moving, progress, result)
                for entry in session.trials
            ]
            for entry, future in zip(session.trials, running, strict=True):
                result.trials[entry.name] = future.result()
        _seen_side_by_side(planned, recordings, result)
    files = [*session.statics, *session.calibrations.values(), *(trial.file for trial in session.trials)]
    once = [*folder_findings(session.folder, files, session.participant.id), *unused_statics(session)]
    _add(result, session.name_of(session.static), once)
    note_overrides(result)
    for done in result.trials.values():
        for stage, spent in done.seconds.items():
            result.seconds[stage] = result.seconds.get(stage, 0.0) + spent
    return result


def _seen_side_by_side(planned: Plan, recordings: "Reading", result: SessionResult) -> None:
    """Add what only shows between the files: copies, drifting names, differing sample rates and depths."""
    session, markers = planned.session, planned.markers
    standing = {session.name_of(path): path for path in _statics_used(session)}
    read = {}
    for name, path in (standing | {entry.name: entry.file for entry in session.trials}).items():
        future = recordings[path]
        if future.done() and not future.cancelled() and future.exception() is None:
            read[name] = future.result()
    statics = frozenset(standing)
    drift = drifting_names(read, frozenset(markers.labels), statics, frozenset(markers.static_only))
    depths = unlike_depths([done.trial for done in result.movements])
    for more in (copied_files(read), drift, differing_rates(read, statics), depths):
        for name, findings in more.items():
            _add(result, name, findings)


def _add(result: SessionResult, name: str, findings: Sequence[Finding]) -> None:
    """Add what was found about a trial after it was done."""
    done = result.trials[name]
    result.trials[name] = replace(done, findings=(*done.findings, *findings))


def process(
    session: str | os.PathLike[str],
    out: str | os.PathLike[str] | None = None,
    *,
    jobs: int = 1,
    overwrite: bool = False,
    pdf: bool = False,
    share: bool = False,
    progress: Progress | None = None,
    reader: C3DReader | None = None,
) -> SessionResult:
    """Process one session folder (or its session.yaml) and write its results.

    ``out`` is where results go (default: ``results`` beside the session file). Raises UsageError (wrong configuration,
    unwritable place, results of other settings there) before anything is computed.
    """
    from condyle.results import prepare, write

    if jobs < 1:
        raise UsageError(f"--jobs is {jobs}; expected a whole number of at least 1.")
    planned = plan(session)
    folder = prepare(planned, out, overwrite, pdf)
    result = compute(planned, jobs, progress or quiet, reader)
    write(result, folder, pdf=pdf, share=share)
    return result


def _words(planned: Plan, progress: Progress) -> tuple[Any, Any, Progress]:
    return planned.pipeline.settings_of, planned.session.accept, progress


def _statics_used(session: Session) -> list[Path]:
    """The statics that a trial asks for, in the order of the session file; the first one always."""
    wanted = {session.static, *(t.static for t in session.trials)}
    return [path for path in session.statics if path in wanted]


Reading = Mapping[Path, "Future[Recording]"]


@contextmanager
def _read_ahead(planned: Plan, reader: C3DReader | None) -> Iterator[Reading]:
    """All files of the session, read one after another by one reading process while this one computes."""
    session = planned.session
    files = [*session.calibrations.values(), *_statics_used(session), *(t.file for t in session.trials)]
    options = planned.pipeline.read.model_dump()
    with nullcontext(reader) if reader else C3DReader() as own, ThreadPoolExecutor(1) as thread:
        futures = {path: thread.submit(own.read, path, **options) for path in dict.fromkeys(files)}
        try:
            yield futures
        finally:
            for future in futures.values():
                future.cancel()


def _assembled(
    planned: Plan, recordings: Reading, name: str, path: Path, entry: Trial | None, result: SessionResult
) -> Processed:
    """The trial as it was recorded; where the file cannot be read, an empty trial with its rejecting finding."""
    identity = identity_of(planned.session, planned.pipeline, name, path, entry)
    started = perf_counter()
    try:
        recording = recordings[path].result()
    except CondyleError as error:
        if sha256 := sha256_if_there(path):
            result.sha256[name] = sha256
        refused = Finding("file readable", "file", None, None, "", "reject", _without_path(str(error), path, name))
        return Processed(xr.Dataset(attrs=identity), (refused,), rejected=True)
    waited = perf_counter() - started
    result.sha256[name] = recording.sha256
    started = perf_counter()
    left_out = tuple(entry.leave_out.markers) if entry is not None and entry.leave_out is not None else ()
    identity["sha256"] = recording.sha256
    read = planned.pipeline.read
    identity["history"] = json.dumps([{"read": read.model_dump(mode="json")}])
    lab, limits = planned.pipeline.lab, reading_limits(read.limits)
    trial, findings = trial_from(recording, planned.markers, identity, lab.vertical, left_out, limits)
    findings += correction_findings(entry, trial, planned.pipeline)
    findings += file_findings(path, name, recording.prefixes, planned.session.participant.id)
    seconds = {"waiting for files": waited, "read": perf_counter() - started}
    return Processed(trial, tuple(findings), worst(findings) == "reject", seconds)


def _without_path(sentence: str, path: Path, name: str) -> str:
    """A sentence on a file for results: without its folder, and by the trial's name, which may be there to hide the file's."""
    called = path.name if path.stem == name else name
    return sentence.replace(str(path), called).replace(path.name, called)


def _movement(
    planned: Plan,
    recordings: Reading,
    entry: Trial,
    taught: Mapping[str, Any] | None,
    stages: Sequence[Stage[Any]],
    progress: Progress,
    result: SessionResult,
) -> Processed:
    done = _assembled(planned, recordings, entry.name, entry.file, entry, result)
    if done.rejected:
        return done
    if taught is None:
        standing = planned.session.name_of(entry.static)
        advice = f"its standing trial {standing} was rejected, so nothing can be measured."
        refused = Finding("standing trial", "file", None, None, "", "reject", advice)
        return Processed(done.trial, (*done.findings, refused), True, done.seconds)
    trial = put(done.trial, **taught)
    found = result.trials[planned.session.name_of(entry.static)].findings
    gone = [s for s in ("trunk", SHOULDERS) if any((f.subject, f.verdict) == (s, "reject") for f in found)]
    trial = trial.assign_attrs({REJECTED_STANDING: " ".join(gone)}) if gone else trial
    ready = Processed(trial, done.findings, seconds=done.seconds)
    return run_trial(ready, stages, *_words(planned, progress))


def _functional_points(planned: Plan, recordings: Reading, result: SessionResult) -> dict[str, Any]:
    """Markers of the calibration trials as variables for the standing trial; a file that cannot be read is reported."""
    out: dict[str, Any] = {}
    calibrations = planned.session.calibrations
    for path in dict.fromkeys(calibrations.values()):  # one recording may serve several joints
        name = planned.session.name_of(path)
        done = _assembled(planned, recordings, name, path, None, result)
        result.trials[name] = Processed(
            done.trial.assign_attrs(task="calibration"), done.findings, done.rejected, done.seconds
        )
        if not done.rejected:
            for what in (w for w, p in calibrations.items() if p == path):
                out[f"{FUNCTIONAL}{what}"] = done.trial["point"].values
    return out
