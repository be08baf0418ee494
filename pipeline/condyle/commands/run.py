"""``condyle run``: process one session."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from condyle.session_result import SessionResult


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("session", type=Path, metavar="SESSION", help="session folder, or its session.yaml")
    parser.add_argument("--out", type=Path, metavar="DIR", help="where results go (default: SESSION/results)")
    parser.add_argument(
        "--jobs", type=int, default=1, metavar="N", help="trials processed at the same time (default: 1)"
    )
    parser.add_argument("--strict", action="store_true", help="exit with 1 when anything calls for a review")
    parser.add_argument(
        "--overwrite", action="store_true", help="replace results made with other settings or files; never other files"
    )
    parser.add_argument("--pdf", action="store_true", help="write the report as PDF too, A4 and Letter")
    parser.add_argument("--share", action="store_true", help="write the report without dates, paths and hashes")


def run(arguments: argparse.Namespace) -> int:
    """Process the session and say in one line per trial how it went."""
    from condyle.commands.progress import trial_progress
    from condyle.session import process

    with trial_progress() as progress:
        result = process(
            arguments.session,
            arguments.out,
            jobs=arguments.jobs,
            overwrite=arguments.overwrite,
            pdf=arguments.pdf,
            share=arguments.share,
            progress=progress,
        )
    for line in (*result.complaints(), *result.overrides(), *_not_compared(result)):
        print(line, file=sys.stderr)
    print(result.summary())
    if result.exit_status:
        return result.exit_status
    return 1 if arguments.strict and result.reviewed else 0


def _not_compared(result: "SessionResult") -> list[str]:
    """Why the session that `previous` names is not compared with, where it is not."""
    session = result.plan.session
    if session.previous is None or result.folder is None:
        return []
    from condyle.report.last_session import why_not_compared

    declared = session.declared.model_dump(mode="json", by_alias=True)
    kept_back = {"settings": {"session": declared}, "session_folder": str(session.folder)}
    why = why_not_compared(result.folder, kept_back)
    return [f"{session.declared.previous}: {why[0].lower()}{why[1:]}"] if why else []
