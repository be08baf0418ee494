"""Many sessions: find them, do what is not done yet, and end with one set of tables."""

import os
import sys
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from condyle.archive.cohort import sessions_of_cohort
from condyle.archive.cohort_session import Described
from condyle.archive.collect import Collector, collecting
from condyle.archive.doubled import Names, doubled
from condyle.archive.found import SESSION_FILE, find, in_order
from condyle.archive.interrupt import heeding_ctrl_c
from condyle.archive.overview import Overview
from condyle.archive.progress import Log, watching
from condyle.archive.record import Record, forget
from condyle.archive.work import Job, Outcome
from condyle.archive.workers import Limits, run_local
from condyle.errors import DataError, UsageError
from condyle.files.atomic import remove_stale, writable_or_raise

SESSIONS_FOLDER = "sessions"
_MARK = "archive.lock"


@dataclass(frozen=True)
class Plan:
    """The sessions of an archive in order of folder; ``described`` are those that a cohort.yaml stands for."""

    root: Path
    folders: tuple[str, ...]
    described: dict[str, Described] = field(repr=False)
    complaints: tuple[str, ...] = ()


@dataclass
class ArchiveResult:
    """What came out of an archive: how many sessions ended how, and what was complained about."""

    folder: Path
    statuses: Counter[str] = field(default_factory=Counter)
    ended: int = 0  # sessions with a record, in whatever order they came
    fresh: int = 0
    partly: int = 0  # done, but for one trial or more
    complaints: tuple[str, ...] = ()

    @property
    def exit_status(self) -> int:
        """0 where every trial of every session is done and nothing was complained about, else 1."""
        bad = self.statuses["failed"] + self.statuses["rejected"] + self.partly
        return 1 if bad or self.complaints else 0

    def summary(self) -> str:
        """One line: how many sessions ended how, and where the results are."""
        counts = ", ".join(f"{self.statuses[s]} {s}" for s in ("done", "rejected", "failed") if self.statuses[s])
        total = sum(self.statuses.values())
        if self.partly:
            counts += f"; {self.partly} with rejected trials"
        return f"{total} sessions: {counts} ({total - self.fresh} unchanged); results in {self.folder}"


class Interrupted(KeyboardInterrupt):
    """Ctrl-C during an archive; the text says how far it came and how to go on."""


def plan_archive(root: str | os.PathLike[str], out: str | os.PathLike[str] | None = None) -> Plan:
    """Find the sessions below ``root``; raises UsageError where there is none."""
    place = Path(root)
    if not place.is_dir():
        raise UsageError(f"{place} is not a folder; give the folder below which the sessions lie.")
    found = find(place, Path(out) if out is not None else None)
    complaints = list(found.complaints)
    described: dict[str, Described] = {}
    for folder in found.cohorts:
        try:
            more = sessions_of_cohort(place, folder, Path(out) if out else None, found.sessions)
        except UsageError as error:
            complaints.append(str(error))
            continue
        described |= {name: one for name, one in more.items() if name not in found.sessions}
    folders = sorted({*found.sessions, *described}, key=in_order)
    if not folders:
        raise UsageError(
            "\n".join([*complaints, f"no session.yaml and no cohort.yaml with sessions lies below {place}."])
        )
    return Plan(place, tuple(folders), described, tuple(complaints))


def archive(
    root: str | os.PathLike[str],
    out: str | os.PathLike[str],
    *,
    jobs: int = 1,
    cluster: str | None = None,
    overwrite: bool = False,
    retry_failed: bool = False,
    as_csv: bool = False,
    limits: Limits | None = None,
    debug: bool = False,
    show: bool = True,
) -> ArchiveResult:
    """Process every session below ``root`` that is not done yet, and collect all of them in ``out``.

    ``jobs`` worker processes, or the Dask scheduler at ``cluster``, do the work; the results are the same bytes.
    Sessions whose inputs, settings and code are unchanged are taken from ``out`` as they are; failed ones too, unless
    ``retry_failed``. Ctrl-C raises Interrupted: what was finished stays, and the same call goes on from there.
    """
    if jobs < 1:
        raise UsageError(f"--jobs is {jobs}; expected a whole number of at least 1.")
    plan = plan_archive(root, out)
    folder = writable_or_raise(Path(out))
    _ours_or_empty(folder)
    limits = limits or Limits()
    with ExitStack() as stack:
        stack.enter_context(_alone(folder))
        remove_stale(folder)
        log = stack.enter_context(closing(Log(folder)))
        log.say("start", sessions=len(plan.folders), jobs=jobs, cluster=cluster is not None)
        outcomes = _outcomes(plan, folder, jobs, cluster, limits, overwrite, retry_failed, debug)
        result = ArchiveResult(folder, complaints=plan.complaints)
        interrupted = stack.enter_context(heeding_ctrl_c())
        try:
            with closing(outcomes):  # its workers end now, not when memory is tidied
                _go_through(plan, _until(interrupted, outcomes), result, log, as_csv, show, overwrite)
        except KeyboardInterrupt:
            log.say("interrupted", sessions=result.ended)
            raise Interrupted(_how_to_go_on(plan, result, overwrite)) from None
        log.say("end", **{status: result.statuses[status] for status in ("done", "rejected", "failed")})
    return result


def _outcomes(
    plan: Plan,
    folder: Path,
    jobs: int,
    cluster: str | None,
    limits: Limits,
    overwrite: bool,
    retry_failed: bool,
    debug: bool,
) -> Generator[Outcome | None, None, None]:
    waiting = _jobs(plan, folder, overwrite, retry_failed)
    if cluster is None:
        return run_local(waiting, min(jobs, len(plan.folders)), limits, debug)
    from condyle.archive.cluster import run_cluster

    return run_cluster(waiting, cluster, limits, (plan.root.resolve(), folder.resolve()))


def _jobs(plan: Plan, folder: Path, overwrite: bool, retry_failed: bool) -> Iterator[Job]:
    root, out = str(plan.root.resolve()), folder.resolve() / SESSIONS_FOLDER
    if overwrite:  # all before the first: what an interruption leaves undone is then done by the next run
        for name in plan.folders:
            forget(out / name)
    for name in plan.folders:
        told = plan.described.get(name)
        home = Path(root, name) if told is None else out / name
        text, mistake = (None, "") if told is None else (told.text, told.mistake)
        yield Job(name, root, str(home / SESSION_FILE), str(out / name), text, mistake, overwrite, retry_failed)


def _go_through(
    plan: Plan,
    outcomes: Iterator[Outcome],
    result: ArchiveResult,
    log: Log,
    as_csv: bool,
    show: bool,
    overwrite: bool,
) -> None:
    """Take the outcomes as they come, and hand them to the tables in order of folder."""
    rows = {name: row for row, name in enumerate(plan.folders)}
    early: dict[int, Record] = {}
    overview = Overview(result.folder / SESSIONS_FOLDER, plan.complaints)
    following = 0
    with ExitStack() as stack:
        collector: Collector = stack.enter_context(
            collecting(result.folder / SESSIONS_FOLDER, result.folder, as_csv, overview, sessions=len(rows))
        )
        watch = stack.enter_context(watching(len(plan.folders))) if show else lambda *_: None
        for outcome in outcomes:
            if outcome.stop:
                raise DataError(f"{outcome.stop.rstrip('.')}. {_how_to_go_on(plan, result, overwrite)}")
            result.ended += 1
            row = rows[outcome.record.folder]
            early[row] = outcome.record
            for known, instead_of in _news(outcome, collector.names, lambda name: early[rows[name]]):
                log.session(rows[known.record.folder] + 1, known)
                watch(known, instead_of)
            result.fresh += outcome.fresh
            while following in early:
                record = collector.add(early.pop(following))
                result.statuses[record.status] += 1
                result.partly += record.status == "done" and bool(record.reason)
                following += 1
    overview.write(result.folder / "overview.html")


def _news(outcome: Outcome, names: Names, record_of: Callable[[str], Record]) -> Iterator[tuple[Outcome, str | None]]:
    """The outcome as it stands beside the others, and what it makes of one told before: that, and as what it was told."""
    record, displaced = names.met(outcome.record)
    yield replace(outcome, record=record), None
    if displaced:
        before = record_of(displaced)
        yield replace(outcome, record=doubled(before, record.folder)), before.status


def _until(interrupted: Callable[[], bool], outcomes: Iterator[Outcome | None]) -> Iterator[Outcome]:
    for outcome in outcomes:
        if outcome is not None:
            yield outcome
        if interrupted():
            raise KeyboardInterrupt


def _how_to_go_on(plan: Plan, result: ArchiveResult, overwrite: bool) -> str:
    # with --overwrite the same command would do the finished ones once more
    command = "the same command without --overwrite" if overwrite else "the same command again"
    return (
        f"{result.ended} of {len(plan.folders)} sessions are finished and kept; "
        f"give {command} to go on with the rest and to get the tables."
    )


def _ours_or_empty(folder: Path) -> None:
    if not (folder / _MARK).exists() and any(not path.name.startswith(".") for path in folder.iterdir()):
        raise UsageError(f"{folder} holds files that are no archive's results; name an empty or new folder with --out.")


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; the system releases it when the process ends, however it ends."""
    with open(folder / _MARK, "a", encoding="utf-8") as lock:
        if sys.platform != "win32":
            import fcntl

            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError as error:
                raise UsageError(
                    f"another archive run is working in {folder}; wait for it, or stop it first."
                ) from error
            except OSError:
                pass  # a file system without locks: as good as without
        yield
