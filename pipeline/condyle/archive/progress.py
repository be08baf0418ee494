"""Watching an archive: a display on a terminal, a line a session in a pipe, and a log that names nobody."""

import json
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter

from condyle.archive.work import Outcome

LOG = "log.jsonl"

Watch = Callable[[Outcome, str | None], None]


@contextmanager
def watching(total: int) -> Iterator[Watch]:
    """A callback ``(outcome, instead_of)`` that shows each session as it ends, on standard output.

    ``instead_of`` is the status that a session was shown with before, where another one came later and took its name.
    """
    with _bar(total) if sys.stdout.isatty() else _lines(total) as watch:
        yield watch


@contextmanager
def _lines(total: int) -> Iterator[Watch]:
    count = 0
    width = len(str(total))

    def watch(outcome: Outcome, instead_of: str | None) -> None:
        nonlocal count
        count += instead_of is None
        record = outcome.record
        how = (
            f"after all, not {instead_of}"
            if instead_of
            else f"{record.seconds:.1f} s"
            if outcome.fresh
            else "unchanged"
        )
        reason = f": {record.reason}" if record.reason else ""
        sys.stdout.write(f"[{count:>{width}}/{total}] {_shown(record.folder)} {record.status} ({how}){reason}\n")
        sys.stdout.flush()

    yield watch


@contextmanager
def _bar(total: int) -> Iterator[Watch]:
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(), MofNCompleteColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    started = perf_counter()
    ended: Counter[str] = Counter()
    fresh = 0
    with Progress(*columns) as bar:
        task = bar.add_task("starting workers", total=total)

        def watch(outcome: Outcome, instead_of: str | None) -> None:
            nonlocal fresh
            record = outcome.record
            ended[record.status] += 1
            if instead_of:
                ended[instead_of] -= 1
            fresh += outcome.fresh and not instead_of
            bar.update(
                task,
                advance=0 if instead_of else 1,
                description=summary(ended, fresh, total, perf_counter() - started),
            )
            if record.reason and (outcome.fresh or _kind(record.reason) == "doubled"):
                bar.console.print(f"{_shown(record.folder)}: {record.reason}", markup=False)

        yield watch


def summary(ended: Counter[str], fresh: int, total: int, seconds: float) -> str:
    """Counts by status, sessions an hour, and the time left, by what the fresh ones took."""
    counts = ", ".join(f"{ended[status]} {status}" for status in ("done", "rejected", "failed") if ended[status])
    if not fresh or seconds <= 0:
        return counts
    left = (total - sum(ended.values())) * seconds / fresh
    return f"{counts}; {3600 * fresh / seconds:.0f} an hour; {_duration(left)} left"


def _duration(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{seconds:.0f} s" if seconds < 90 else f"{minutes} min" if minutes < 90 else f"{seconds / 3600:.1f} h"


def _shown(folder: str) -> str:
    return folder.encode("utf-8", "backslashreplace").decode("utf-8")


class Log:
    """A structured log, a JSON object a line, added to by every run.

    It names no person, no marker prefix and no place: a session is its row in this run's plan, which is its row in
    sessions.csv, and a reason is only its kind.
    """

    def __init__(self, out: Path) -> None:
        self.stream = open(out / LOG, "a", encoding="utf-8")  # noqa: SIM115 - closed by close()

    def say(self, event: str, **facts: str | int | float | bool) -> None:
        """Add one line."""
        now = datetime.now(UTC).isoformat(timespec="milliseconds")
        self.stream.write(json.dumps({"at": now, "event": event, **facts}) + "\n")
        self.stream.flush()

    def session(self, row: int, outcome: Outcome) -> None:
        """Add the line of a session that ended."""
        record = outcome.record
        kind = _kind(record.reason) if record.status == "failed" else ""
        self.say("session", row=row, status=record.status, fresh=outcome.fresh, seconds=record.seconds, kind=kind)

    def close(self) -> None:
        """Close the file."""
        self.stream.close()


def _kind(reason: str) -> str:
    kinds = {
        "worker process was ended": "crash",
        "worker process ended": "crash",
        "workers died": "crash",
        "took longer": "time",
        "more memory": "memory",
        "error of condyle's own": "bug",
        "same participant and session": "doubled",
    }
    return next((kind for words, kind in kinds.items() if words in reason), "input")
