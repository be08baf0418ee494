"""``condyle archive``: many sessions."""

import argparse
import os
import sys
from pathlib import Path

_INTERRUPTED = 130


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("root", type=Path, metavar="ROOT", help="folder below which the session folders lie")
    parser.add_argument("--out", type=Path, metavar="DIR", help="where tables, overview and all results go")
    workers = parser.add_mutually_exclusive_group()
    workers.add_argument(
        "--jobs", type=int, default=1, metavar="N", help="worker processes on this machine (default: 1)"
    )
    workers.add_argument(
        "--cluster", metavar="ADDRESS", help="Dask scheduler that does the work, such as tcp://host:8786"
    )
    parser.add_argument("--overwrite", action="store_true", help="do every session again, changed or not")
    parser.add_argument("--retry-failed", action="store_true", help="try sessions again that failed before")
    parser.add_argument(
        "--dry-run", action="store_true", help="list the sessions that would be done, and write nothing"
    )
    parser.add_argument("--csv", action="store_true", help="write the tables as CSV too")
    parser.add_argument("--time-limit-s", type=float, default=900.0, metavar="S", help="for one session (default: 900)")
    parser.add_argument(
        "--memory-gb", type=float, default=6.0, metavar="GB", help="for one session (default: 6; 0: any)"
    )


def run(arguments: argparse.Namespace) -> int:
    """Run or list the archive; 0 where all is done, 1 where something failed or was rejected, 130 after Ctrl-C."""
    from condyle.archive.worker import ENVIRONMENT
    from condyle.errors import UsageError

    for name, value in ENVIRONMENT.items():  # before NumPy: this process computes little, and its workers inherit it
        os.environ.setdefault(name, value)
    if arguments.dry_run:
        return _list(arguments)
    if arguments.out is None:
        raise UsageError("--out is missing; give a new folder, or that of an earlier archive run to go on with it.")
    if not arguments.time_limit_s > 0 or not arguments.memory_gb >= 0:  # no number at all is neither
        raise UsageError("--time-limit-s must be above 0 and --memory-gb at least 0.")
    from condyle.archive.folder_names import warning_of_names
    from condyle.archive.run import Interrupted, archive
    from condyle.archive.workers import Limits

    try:
        result = archive(
            arguments.root,
            arguments.out,
            jobs=arguments.jobs,
            cluster=arguments.cluster,
            overwrite=arguments.overwrite,
            retry_failed=arguments.retry_failed,
            as_csv=arguments.csv,
            limits=Limits(seconds=arguments.time_limit_s, memory_gb=arguments.memory_gb),
            debug=arguments.debug,
        )
    except Interrupted as interrupted:
        sys.stderr.write(f"Interrupted: {interrupted}\n")
        return _INTERRUPTED
    for complaint in result.complaints:
        sys.stderr.write(f"{complaint}\n")
    if warning := warning_of_names(arguments.out):
        sys.stderr.write(f"{warning}\n")
    sys.stdout.write(f"{result.summary()}\n")
    return result.exit_status


def _list(arguments: argparse.Namespace) -> int:
    from condyle.archive.run import plan_archive
    from condyle.archive.state import states_of

    plan = plan_archive(arguments.root, arguments.out)
    counts: dict[str, int] = {}
    for folder, state in states_of(plan, arguments.out, arguments.overwrite, arguments.retry_failed):
        kind = state.partition(":")[0]
        counts[kind] = counts.get(kind, 0) + 1
        shown = folder.encode("utf-8", "backslashreplace").decode("utf-8")
        sys.stdout.write(f"{shown}: {state}{' (from cohort.yaml)' if folder in plan.described else ''}\n")
    for complaint in plan.complaints:
        sys.stderr.write(f"{complaint}\n")
    sys.stdout.write(f"{len(plan.folders)} sessions: {', '.join(f'{n} {kind}' for kind, n in counts.items())}\n")
    return 1 if plan.complaints or counts.keys() & {"wrong", "doubled"} else 0
