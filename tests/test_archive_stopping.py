"""Nothing is started, and nothing waits, once an archive is being stopped, whichever moment that comes at."""

import contextlib
import io
import signal
import subprocess
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from unittest import mock

import pyarrow.csv as pa_csv
import pytest

from condyle.archive import workers
from condyle.archive.interrupt import heeding_ctrl_c
from condyle.archive.run import _until
from condyle.archive.work import Job
from condyle.archive.workers import Limits, Worker, _as_they_come
from condyle.errors import DataError


def a_job(tmp_path: Path) -> Job:
    return Job("a", str(tmp_path), str(tmp_path / "session.yaml"), str(tmp_path / "out"))


def test_a_worker_that_was_killed_is_not_started_again_after_the_stop(tmp_path: Path) -> None:
    stopping = threading.Event()
    worker = Worker(Limits(), stopped=stopping.is_set)
    gone = subprocess.Popen(["true"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8")
    gone.wait()
    worker.process = gone  # killed between two sessions
    stopping.set()
    with mock.patch.object(workers.subprocess, "Popen") as started:
        assert worker.outcome(a_job(tmp_path)) is None
    started.assert_not_called()
    worker.close()


def test_a_worker_that_is_just_being_started_is_killed(tmp_path: Path) -> None:
    stopping = threading.Event()
    worker = Worker(Limits(), stopped=stopping.is_set)
    really, killed = subprocess.Popen, threading.Event()

    def stopped_meanwhile(*_args: object, **options: object) -> "subprocess.Popen[str]":
        process = really(
            ["sleep", "600"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8", start_new_session=True
        )
        stopping.set()

        def stop() -> None:
            worker.kill()  # waits until the process is known
            killed.set()

        threading.Thread(target=stop).start()
        return process

    with mock.patch.object(workers.subprocess, "Popen", stopped_meanwhile):
        ended = threading.Thread(target=lambda: _quietly(worker, a_job(tmp_path)))
        ended.start()
        ended.join(timeout=120)
    assert killed.wait(timeout=120)
    assert not ended.is_alive()
    assert worker.process is not None
    assert worker.process.wait(timeout=120) == -9
    worker.close()


def _quietly(worker: Worker, job: Job) -> None:
    with contextlib.suppress(DataError):  # it never said that it was ready
        worker.outcome(job)


@pytest.fixture
def heeded() -> Iterator[None]:
    """Ctrl-C as Python starts with it, also where the tests run in the background and have it ignored."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("heeded")
def test_ctrl_c_is_noted_wherever_it_arrives_and_raised_when_it_comes_again() -> None:
    class Tidied:
        def __del__(self) -> None:
            signal.raise_signal(signal.SIGINT)  # Python would drop what is raised here

    with heeding_ctrl_c() as interrupted:
        assert not interrupted()
        tidied = Tidied()
        del tidied
        assert interrupted()
        handled = _until(interrupted, iter([mock.Mock(), mock.Mock()]))
        next(handled)
        with pytest.raises(KeyboardInterrupt):
            next(handled)
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


@pytest.mark.usefixtures("heeded")
def test_ctrl_c_while_a_table_is_read_spoils_neither() -> None:
    class Interrupting(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            if self.tell() == 0:
                signal.raise_signal(signal.SIGINT)
            return super().read(size)

    with heeding_ctrl_c() as interrupted:
        assert pa_csv.read_csv(Interrupting(b"value\n1\n2\n")).num_rows == 2
        assert interrupted()


@pytest.mark.usefixtures("heeded")
@pytest.mark.skipif(not hasattr(signal, "pthread_kill"), reason="signals reach single threads on POSIX systems only")
def test_ctrl_c_that_another_thread_receives_ends_the_waiting(tmp_path: Path) -> None:
    over = threading.Event()
    in_time: list[bool] = []

    def endless(_job: Job) -> None:
        signal.pthread_kill(threading.get_ident(), signal.SIGINT)
        in_time.append(over.wait(timeout=120))

    with ThreadPoolExecutor(1) as threads, heeding_ctrl_c() as interrupted:
        coming = _as_they_come(iter([a_job(tmp_path)]), lambda job: threads.submit(endless, job), 2)
        with pytest.raises(KeyboardInterrupt):
            list(_until(interrupted, coming))
        over.set()
    assert in_time == [True]
