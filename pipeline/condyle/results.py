"""Writing a session's results: tables, trials, manifest, report; each file whole or not at all."""

import os
import platform
import sys
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from condyle import __version__
from condyle.errors import UsageError
from condyle.files.atomic import remove_stale, writable_or_raise
from condyle.files.fingerprints import sha256_if_there, sha256_of_package, sha256_of_settings
from condyle.files.kept_back import pipeline_file, recorded_session, session_folder
from condyle.files.manifest import read_manifest, write_manifest
from condyle.files.netcdf import write_trial
from condyle.files.session_plan import RESULTS
from condyle.files.tables import write_csv
from condyle.result_tables import SUMMED, table_names, tables_of
from condyle.session_result import Plan, SessionResult
from condyle.trial_data import described
from condyle.vocabulary import FUNCTIONAL

LIBRARIES = ("ezc3d", "numpy", "scipy", "xarray", "pandas")
MANIFEST = "manifest.json"
REPORTS = ("report.html", "report_a4.pdf", "report_letter.pdf")


def prepare(planned: Plan, out: str | os.PathLike[str] | None, overwrite: bool, pdf: bool = False) -> Path:
    """The folder for the results, writable and free for this run; raises UsageError where it is not.

    Results of other settings or input files are replaced with ``overwrite`` only; a file that no run wrote never is.
    """
    folder = Path(out) if out is not None else planned.session.folder / RESULTS
    before = read_manifest(folder / MANIFEST) or {}
    if before and not overwrite:
        if before.get("settings_sha256") != settings_fingerprint(planned):
            raise UsageError(
                f"{folder} holds results made with other settings; choose another --out, or replace them with --overwrite."
            )
        if other := _other_inputs(planned, before):
            raise UsageError(
                f"{folder} holds results made from other files ({', '.join(other)} changed since); choose another --out, or "
                "replace them with --overwrite."
            )
    if foreign := _foreign(planned, folder, before, pdf):
        raise UsageError(
            f"{folder} holds {' and '.join(foreign)}, which no run of condyle wrote there; it would be overwritten: choose "
            "another --out, or move it away."
        )
    return writable_or_raise(folder)


def _other_inputs(planned: Plan, before: Mapping[str, Any]) -> list[str]:
    """Names of the trials whose files are not those that the results were made from, come and gone ones included."""
    session = planned.session
    statics = {session.static, *(entry.static for entry in session.trials)}
    files = {session.name_of(path): path for path in (*session.calibrations.values(), *statics)}
    files |= {entry.name: entry.file for entry in session.trials}
    then = {str(i.get("trial")): i.get("sha256") for i in before.get("inputs", [])}
    return sorted(n for n in {*files, *then} if n not in files or n not in then or sha256_if_there(files[n]) != then[n])


def _foreign(planned: Plan, folder: Path, before: Mapping[str, Any], pdf: bool) -> list[str]:
    """Files in the way of this run's results that the manifest there does not list: somebody else's."""
    ours = {*before.get("outputs", []), *([MANIFEST] if "settings_sha256" in before else [])}
    names = [MANIFEST, *(f"{name}.csv" for name in table_names(planned.pipeline.stage_names))]
    session = planned.session
    trials = [*map(session.name_of, session.statics), *(entry.name for entry in session.trials)]
    names += [f"trials/{name}.nc" for name in trials]
    names += _reports(planned, pdf)
    return [name for name in names if name not in ours and (folder / name).exists()]


def _reports(planned: Plan, pdf: bool) -> tuple[str, ...]:
    """The report's files that a run writes."""
    return REPORTS if pdf else REPORTS[:1] if planned.pipeline.report is not None else ()


def settings_fingerprint(planned: Plan) -> str:
    """SHA-256 over session file, marker set and resolved pipeline."""
    return sha256_of_settings(_settings(planned))


def _settings(planned: Plan) -> dict[str, Any]:
    return {
        "session": planned.session.declared.model_dump(mode="json", by_alias=True),
        "marker_set": planned.markers.model_dump(mode="json"),
        "pipeline": planned.pipeline.resolved(),
    }


def write(result: SessionResult, folder: Path, *, pdf: bool = False, share: bool = False) -> None:
    """Write everything, and remove what an earlier run left and this one no longer makes."""
    result.folder = folder
    result.tables = tables_of(result)
    remove_stale(folder)
    trials = {n: d for n, d in result.trials.items() if not d.rejected and d.trial.attrs["task"] != "calibration"}
    written = [*(f"{name}.csv" for name in result.tables), *(f"trials/{name}.nc" for name in trials)]
    before = read_manifest(folder / MANIFEST) or {}
    # first, so that what a run that is killed leaves behind is known for a run's own, and not taken for somebody else's
    write_manifest(
        folder / MANIFEST,
        manifest_of(result, sorted({*before.get("outputs", []), *written, *_reports(result.plan, pdf)})),
    )
    for name, table in result.tables.items():
        write_csv(folder / f"{name}.csv", table, SUMMED.get(name, ()))
    (folder / "trials").mkdir(exist_ok=True)
    for name, done in trials.items():
        keep = done.trial.drop_vars([v for v in done.trial.variables if str(v).startswith(FUNCTIONAL)])
        write_trial(folder / "trials" / f"{name}.nc", described(keep))
    # before the report is drawn, which reads whatever lies there
    _remove(folder, {*before.get("outputs", [])} - {*written, *_reports(result.plan, pdf)})
    written += _report(result, folder, pdf=pdf, share=share)
    write_manifest(folder / MANIFEST, manifest_of(result, written))


def _remove(folder: Path, names: Iterable[str]) -> None:
    for name in names:
        stale = folder / name
        if stale.resolve().is_relative_to(folder.resolve()):
            stale.unlink(missing_ok=True)


def _report(result: SessionResult, folder: Path, *, pdf: bool, share: bool) -> list[str]:
    settings = result.plan.pipeline.report
    if settings is None and not pdf:
        return []
    from condyle.report import write_report

    session = result.plan.session
    kept_back = {"settings": _settings(result.plan), "session_folder": str(session.folder)}
    paths = write_report(folder, pdf=pdf, share=share, settings=settings, kept_back=kept_back)
    return [path.relative_to(folder).as_posix() for path in paths]


def manifest_of(result: SessionResult, written: list[str]) -> dict[str, Any]:
    """What went in, with which settings and versions, and how long it took."""
    planned = result.plan
    session = planned.session
    return {
        "participant": result.participant,
        "session": result.session,
        "condyle": {"version": __version__, "sources_sha256": sha256_of_package()},
        "versions": {"python": platform.python_version(), **_versions()},
        "platform": sys.platform,
        "session_folder": session_folder(session, result.folder),
        "pipeline_file": pipeline_file(session, result.folder),
        "inputs": [
            {"trial": name, "file": done.trial.attrs.get("file", ""), "sha256": result.sha256.get(name)}
            for name, done in result.trials.items()
        ],
        "settings_sha256": settings_fingerprint(planned),
        "settings": _settings(planned) | {"session": recorded_session(session, result.sha256)},
        "corrections": list(session.corrections),
        "accepted": [a.model_dump(mode="json") for a in session.accept],
        "warnings": [
            {
                **{"trial": name, "check": f.check, "subject": f.subject, "value": f.value, "limit": f.limit},
                **{"unit": f.unit, "verdict": f.verdict, "advice": f.advice},
                "times_s": [[round(a, 6), round(b, 6)] for a, b in f.times_s],
            }
            for name, f in result.findings
            if f.verdict != "pass"
        ],
        "trials": {name: "rejected" if done.rejected else "processed" for name, done in result.trials.items()},
        "outputs": sorted(written),
        "seconds": {name: round(spent, 6) for name, spent in result.seconds.items()},
    }


@cache
def _versions() -> dict[str, str]:
    return {name: version(name) for name in LIBRARIES}
