"""Worker processes: a crash, a kill or an endless loop costs one session, and that is tried once more."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass
from time import perf_counter

from condyle.archive.work import Job, Outcome, given_up
from condyle.archive.worker import ENVIRONMENT
from condyle.errors import DataError

_START_LIMIT_S = 120.0  # imports from a slow network disk
_POLL_S = 0.25  # a signal may reach another thread than the one that waits, and does not wake that one


@dataclass(frozen=True)
class Limits:
    """What one session may take, and after how many sessions a worker is replaced by a new one."""

    seconds: float = 900.0
    memory_gb: float = 6.0
    renew_after: int = 100
    attempts: int = 2


class WorkerDied(Exception):
    """The worker process ended without an answer; the text says how."""


class Worker:
    """One worker process, started when first needed and again after it died or grew old."""

    def __init__(self, limits: Limits, debug: bool = False, stopped: Callable[[], bool] = lambda: False) -> None:
        self.limits = limits
        self.debug = debug
        self.stopped = stopped
        self.done = 0
        self.process: subprocess.Popen[str] | None = None
        self.starting = threading.Lock()  # what is being started is either seen by kill or finds that all was stopped

    def outcome(self, job: Job) -> Outcome | None:
        """What became of the job, after one more attempt where the worker died on it; None where all was stopped."""
        started, why = perf_counter(), ""
        for _ in range(self.limits.attempts):
            try:
                return self._answer(job)
            except WorkerDied as error:
                why = str(error)
                if self.stopped():
                    return None
        return given_up(job, f"{why}, in each of {self.limits.attempts} attempts.", perf_counter() - started)

    def _answer(self, job: Job) -> Outcome:
        if self.process is not None and (self.done >= self.limits.renew_after or self.process.poll() is not None):
            self.close()
        process = self.process or self._started()
        line, late = self._asked(process, job.as_json(), self.limits.seconds)
        try:
            outcome = Outcome.from_json(line)
        except ValueError:
            self.kill()
            status = process.wait()
            raise WorkerDied(_how(status, late, self.limits)) from None
        self.done += 1
        return outcome

    def _started(self) -> "subprocess.Popen[str]":
        with self.starting:
            if self.stopped():
                raise WorkerDied("all was stopped")
            process = subprocess.Popen(
                [sys.executable, "-m", "condyle.archive.worker", str(self.limits.memory_gb)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=None if self.debug else subprocess.DEVNULL,
                encoding="utf-8",
                env={**os.environ, **ENVIRONMENT},
                start_new_session=True,  # Ctrl-C does not reach it, and it is killed together with its own children
            )
            self.process, self.done = process, 0
        line, _ = self._asked(process, None, _START_LIMIT_S)
        if line != "ready\n":
            self.kill()
            raise DataError("a worker process does not start; run one session with `condyle run` to see why.")
        return process

    def _asked(self, process: "subprocess.Popen[str]", question: str | None, seconds: float) -> tuple[str, bool]:
        """One line of answer, '' where the process died or was killed for being late; and whether it was late."""
        late = threading.Event()

        def expire() -> None:
            late.set()
            self.kill()

        watch = threading.Timer(seconds, expire)
        watch.start()
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            if question is not None:
                process.stdin.write(question + "\n")
                process.stdin.flush()
            return process.stdout.readline(), late.is_set()
        except OSError:
            return "", late.is_set()
        finally:
            watch.cancel()

    def kill(self) -> None:
        """End the process and its children at once."""
        with self.starting:
            process = self.process
        if process is None or process.poll() is not None:
            return
        try:
            if sys.platform == "win32":
                process.kill()
            else:
                os.killpg(process.pid, signal.SIGKILL)
        except (OSError, ProcessLookupError):
            process.kill()

    def close(self) -> None:
        """End the process; it has nothing in hand."""
        process, self.process = self.process, None
        if process is None:
            return
        if process.stdin is not None:
            with suppress(OSError):
                process.stdin.close()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        if process.stdout is not None:
            process.stdout.close()


def run_local(
    jobs: Iterable[Job], count: int, limits: Limits, debug: bool = False
) -> Generator[Outcome | None, None, None]:
    """The outcomes of the jobs in the order they come, from ``count`` worker processes; None now and then meanwhile.

    Leaving the iteration, by Ctrl-C too, kills what is in hand; those sessions are done again next time.
    """
    crew: list[Worker] = []
    stopping = threading.Event()
    own = threading.local()

    def one(job: Job) -> Outcome | None:
        if stopping.is_set():
            return None
        if not hasattr(own, "worker"):
            own.worker = Worker(limits, debug, stopping.is_set)
            crew.append(own.worker)
        worker: Worker = own.worker
        return worker.outcome(job)

    waiting = iter(jobs)
    with ThreadPoolExecutor(count, thread_name_prefix="worker") as threads:
        try:
            yield from _as_they_come(waiting, lambda job: threads.submit(one, job), 2 * count)
        finally:
            stopping.set()
            for worker in crew:
                worker.kill()
            threads.shutdown(cancel_futures=True)
            for worker in crew:
                worker.close()


def _as_they_come(
    jobs: Iterator[Job], submit: "Callable[[Job], Future[Outcome | None]]", window: int
) -> Iterator[Outcome | None]:
    # never more than a window of jobs in hand: a million of them must not wait in memory
    pending: list[Future[Outcome | None]] = []
    more = True
    while more or pending:
        while more and len(pending) < window:
            job = next(jobs, None)
            if job is None:
                more = False
            else:
                pending.append(submit(job))
        finished = wait(pending, _POLL_S, FIRST_COMPLETED).done
        here = [future for future in pending if future in finished]  # in order of folder, not in that of a set
        pending = [future for future in pending if future not in finished]
        if not here:
            yield None  # whoever iterates can look about, and leave
        for future in here:
            if (outcome := future.result()) is not None:
                yield outcome


def _how(status: int, late: bool, limits: Limits) -> str:
    if late:
        return f"it took longer than {limits.seconds:g} s and was stopped"
    if status < 0:
        try:
            name = signal.Signals(-status).name
        except ValueError:
            name = str(-status)
        return f"its worker process was ended by signal {name}"
    return f"its worker process ended with exit status {status}"
