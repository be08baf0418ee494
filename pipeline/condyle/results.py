"""Writing a session's results: tables, trials, manifest, report; each file whole or not at all."""

import os
import platform
import sys
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from condyle import __version__
from condyle.errors import UsageError
from condyle.files.atomic import remove_stale, writable_or_raise
from condyle.files.fingerprints import sha256_of_package, sha256_of_settings
from condyle.files.kept_back import pipeline_file, recorded_session, session_folder
from condyle.files.manifest import read_manifest, write_manifest
from condyle.files.netcdf import write_trial
from condyle.files.session_plan import RESULTS
from condyle.files.tables import write_csv
from condyle.result_tables import tables_of
from condyle.session_result import Plan, SessionResult
from condyle.vocabulary import FUNCTIONAL, described

LIBRARIES = ("ezc3d", "numpy", "scipy", "xarray", "pandas")
MANIFEST = "manifest.json"


def prepare(planned: Plan, out: str | os.PathLike[str] | None, overwrite: bool) -> Path:
    """The folder for the results, writable and free for these settings; raises UsageError where it is not."""
    folder = Path(out) if out is not None else planned.session.folder / RESULTS
    before = read_manifest(folder / MANIFEST)
    if before is not None and not overwrite and before.get("settings_sha256") != settings_fingerprint(planned):
        raise UsageError(
            f"{folder} holds results made with other settings; choose another --out, or replace them with --overwrite."
        )
    return writable_or_raise(folder)


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
    """Write everything, then remove what an earlier run left and this one no longer makes."""
    result.folder = folder
    result.tables = tables_of(result)
    remove_stale(folder)
    written = []
    for name, table in result.tables.items():
        write_csv(folder / f"{name}.csv", table)
        written.append(f"{name}.csv")
    (folder / "trials").mkdir(exist_ok=True)
    for name, done in result.trials.items():
        if done.rejected or done.trial.attrs["task"] == "calibration":
            continue
        keep = done.trial.drop_vars([v for v in done.trial.variables if str(v).startswith(FUNCTIONAL)])
        write_trial(folder / "trials" / f"{name}.nc", described(keep))
        written.append(f"trials/{name}.nc")
    before = read_manifest(folder / MANIFEST) or {}
    write_manifest(folder / MANIFEST, manifest_of(result, written))
    written += _report(result, folder, pdf=pdf, share=share)
    for name in set(before.get("outputs", [])) - set(written):
        stale = folder / name
        if stale.resolve().is_relative_to(folder.resolve()):
            stale.unlink(missing_ok=True)
    write_manifest(folder / MANIFEST, manifest_of(result, written))


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
            {"trial": name, "check": f.check, "subject": f.subject, "verdict": f.verdict, "advice": f.advice}
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
