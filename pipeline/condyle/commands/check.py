"""``condyle check``: only read and judge - a session, a marker set, or many sessions of participants."""

import argparse
from collections.abc import Iterable
from pathlib import Path

from condyle.findings import Finding, gravity


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument(
        "path", type=Path, metavar="PATH", help="session folder, marker set (YAML), or folder of sessions"
    )
    parser.add_argument("--all", action="store_true", help="print what passed, too")
    parser.add_argument("--out", type=Path, metavar="DIR", help="also write the tables and the picture here")
    parser.add_argument("--strict", action="store_true", help="exit with 1 when anything calls for a review")


def run(arguments: argparse.Namespace) -> int:
    """Judge what PATH is: a marker set, one session, or many."""
    path: Path = arguments.path
    if path.is_file() and _is_marker_set(path):
        from condyle.commands.check_markers import check_markers

        return check_markers(path)
    if path.is_dir() and not (path / "session.yaml").is_file() and any(path.rglob("session.yaml")):
        return _many(path, arguments.out, arguments.strict)
    return _session(path, arguments)


def _is_marker_set(path: Path) -> bool:
    """A marker set has landmarks or tracking; a session file has neither."""
    from condyle.files.yaml_text import read_yaml_text

    tree = read_yaml_text(path).tree
    return "landmarks" in tree or "tracking" in tree


def _session(path: Path, arguments: argparse.Namespace) -> int:
    from condyle.commands.progress import trial_progress
    from condyle.files.atomic import writable_or_raise
    from condyle.session import compute, plan

    planned = plan(path)
    if arguments.out is not None:
        writable_or_raise(arguments.out)
    with trial_progress() as progress:
        result = compute(planned, progress=progress)
    shown = [(n, f) for n, f in result.findings if arguments.all or f.verdict != "pass"]
    print(*sentences(shown), sep="\n")
    if arguments.out is not None:
        from condyle.quality_page import write_quality

        for written in write_quality(result, arguments.out):
            print(f"written: {written}")
    passed = len(result.findings) - len([f for _, f in result.findings if f.verdict != "pass"])
    rejected = ", ".join(result.rejected) or "none"
    print(f"{result.participant} {result.session}: {passed} checks passed; rejected trials: {rejected}")
    return 1 if arguments.strict and result.reviewed else result.exit_status


def _many(root: Path, out: Path | None, strict: bool) -> int:
    from condyle.repeatability import compare_sessions, sentences_of, write_comparison

    found = compare_sessions(root)
    print(*sentences_of(found), sep="\n")
    for written in write_comparison(found, out) if out is not None else ():
        print(f"written: {written}")
    return 1 if found.refused or (strict and found.reviewed) else 0


def sentences(findings: Iterable[tuple[str, Finding]]) -> list[str]:
    """One line per finding, worst first: verdict, trial, subject, check, value against limit, advice."""
    ordered = sorted(findings, key=lambda item: _gravity(item[1]), reverse=True)
    return [line_of(trial, f) for trial, f in ordered] or ["nothing to report"]


def _gravity(f: Finding) -> tuple[float, float]:
    return gravity(f.verdict, f.advice, f.value, f.limit)


def line_of(trial: str, f: Finding) -> str:
    """One finding as a line: verdict, trial, subject, check, value against limit, advice."""
    number = "" if f.value is None else f" {f.value:.4g}{_unit(f.unit)}"
    limit = "" if f.limit is None else f" (limit {f.limit:.4g}{_unit(f.unit)})"
    return f"{f.verdict:<7}{trial}  {f.subject}: {f.check}{number}{limit} - {f.advice}"


def _unit(unit: str) -> str:
    return "" if unit in ("", "1") else f" {unit}"
