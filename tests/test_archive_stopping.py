"""Nothing is started, and nothing waits, once an archive is being stopped, whichever moment that comes at."""

import contextlib
import subprocess
import threading
from pathlib import Path
from unittest import mock

from condyle.archive import workers
from condyle.archive.work import Job
from condyle.archive.workers import Limits, Worker
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
            ["sleep", "60"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8", start_new_session=True
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
        ended.join(timeout=20)
    assert killed.wait(timeout=20)
    assert not ended.is_alive()
    assert worker.process is not None
    assert worker.process.wait(timeout=20) == -9
    worker.close()


def _quietly(worker: Worker, job: Job) -> None:
    with contextlib.suppress(DataError):  # it never said that it was ready
        worker.outcome(job)
