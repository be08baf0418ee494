"""The same work on a Dask cluster: each of its workers keeps one of our worker processes."""

import threading
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import CancelledError
from pathlib import Path
from typing import Any

from condyle.archive.work import Job, Outcome, given_up
from condyle.archive.workers import Limits, Worker
from condyle.errors import DataError, UsageError
from condyle.files.fingerprints import sha256_of_package

_CONNECT_S = 15
_POLL_S = 1.0
_AHEAD = 3  # sessions in hand for each thread of the cluster: none waits for us, and few are lost with the scheduler

_own = threading.local()


def run_cluster(
    jobs: Iterable[Job], address: str, limits: Limits, places: tuple[Path, Path]
) -> Generator[Outcome | None, None, None]:
    """The outcomes of the jobs in the order they come, computed by the Dask scheduler at ``address``.

    None comes now and then while nothing has ended: whoever iterates can look about, and leave.

    ``places`` are the root and the results folder, which every worker must reach under the same path.
    """
    try:
        import distributed

        Client: Any = distributed.Client  # its types are not declared
    except ImportError as error:
        raise UsageError("--cluster needs the extra `cluster`: pip install 'condyle[cluster]'.") from error
    try:
        client = Client(address, timeout=_CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(f"no Dask scheduler answers at {address}; start one there, or use --jobs.") from error
    try:
        threads = _checked(client, address, places)
        yield from _as_they_come(distributed, client, iter(jobs), limits, _AHEAD * threads, address)
    finally:
        client.close(timeout=2)


def _checked(client: Any, address: str, places: tuple[Path, Path]) -> int:
    """How many threads the cluster has, after each worker has shown that it has our code and reaches our files."""
    threads: dict[str, int] = client.nthreads()
    if not threads:
        raise UsageError(f"the Dask scheduler at {address} has no workers; start some first.")
    try:
        seen: dict[str, tuple[str, str]] = client.run(reaches, *map(str, places))
    except Exception as error:  # a worker without this package fails in its own way
        raise UsageError(f"the workers at {address} cannot run condyle ({error}); install it there too.") from error
    for worker, (version, missing) in sorted(seen.items()):
        if missing:
            raise UsageError(f"the worker {worker} does not reach {missing}; give folders that all workers share.")
        if version != sha256_of_package():
            raise UsageError(f"the worker {worker} has another version of condyle; install the same one everywhere.")
    return sum(threads.values())


def reaches(root: str, out: str) -> tuple[str, str]:
    """On a worker: its version of the code, and which of the two folders it does not reach ('' for neither)."""
    missing = next((place for place in (root, out) if not Path(place).is_dir()), "")
    return sha256_of_package(), missing


def on_worker(job: Job, limits: Limits) -> Outcome | None:
    """On a worker: the job, in a process of its own, so that a crash there does not take the Dask worker with it."""
    if not hasattr(_own, "worker"):
        _own.worker = Worker(limits)
    worker: Worker = _own.worker
    worker.limits = limits
    return worker.outcome(job)


def _as_they_come(
    distributed: Any, client: Any, jobs: Iterator[Job], limits: Limits, window: int, address: str
) -> Iterator[Outcome | None]:
    pending: dict[Any, Job] = {}
    more = True
    while more or pending:
        while more and len(pending) < window:
            job = next(jobs, None)
            if job is None:
                more = False
                break
            try:
                pending[client.submit(on_worker, job, limits, pure=False)] = job
            except Exception as error:
                if client.status == "running":
                    raise
                raise _gone(address) from error
        finished = _finished(distributed, client, [*pending], address)
        for future in finished:
            yield _outcome(distributed, future, pending.pop(future), address)
        if not finished:
            yield None


def _finished(distributed: Any, client: Any, pending: list[Any], address: str) -> list[Any]:
    if not pending:
        return []
    try:
        with client.as_current():
            done = distributed.wait(pending, timeout=_POLL_S, return_when="FIRST_COMPLETED").done
        return [future for future in pending if future in done]  # in order of folder, not in that of a set
    except TimeoutError:
        if client.status != "running":
            raise _gone(address) from None
        return []
    except (CancelledError, OSError) as error:
        raise _gone(address) from error


def _outcome(distributed: Any, future: Any, job: Job, address: str) -> Outcome:
    try:
        outcome: Outcome | None = future.result()
    except distributed.KilledWorker:
        return given_up(job, "the cluster's workers died on it, one after another.", 0.0)
    except (CancelledError, OSError) as error:
        raise _gone(address) from error
    if outcome is None:
        raise _gone(address)
    return outcome


def _gone(address: str) -> DataError:
    return DataError(
        f"the Dask scheduler at {address} went away; what was finished is kept, "
        "the same command without --overwrite goes on from there."
    )
