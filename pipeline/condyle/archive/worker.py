"""A worker process: one job a line on its standard input, one outcome a line on its standard output.

Started as ``python -m condyle.archive.worker`` with one thread for linear algebra: the threads of several workers would
only wait for each other. It ends when its input ends, that is also when the process that started it is killed.
"""

import json
import os
import signal
import sys
import threading
from collections.abc import Iterator
from queue import SimpleQueue

ENVIRONMENT = {
    **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMEXPR_NUM_THREADS"), "1"),
    "MPLBACKEND": "Agg",
    "PYTHONIOENCODING": "utf-8",
}


def main() -> None:
    """Work until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that started this one
    limit_memory(float(sys.argv[1]) if len(sys.argv) > 1 else 0.0)
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever a library prints must not be taken for an answer
    from condyle.archive.work import Job, work  # NumPy and the rest: after the limit is set
    from condyle.files.c3d import C3DReader

    reader = C3DReader()  # one for all sessions: starting it costs more than a small session's mathematics
    answers.write("ready\n")
    answers.flush()
    for line in _lines():
        job = Job(**json.loads(line))
        os.chdir(job.root)  # errors name files from here, wherever the archive was started
        outcome = work(job, reader)
        answers.write(outcome.as_json() + "\n")
        answers.flush()


def limit_memory(gigabytes: float) -> None:
    """Let this process and its children have no more address space than this; 0 is no limit, nor is one on Windows."""
    if gigabytes > 0 and sys.platform != "win32":
        import resource

        size = int(gigabytes * 2**30)
        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        resource.setrlimit(resource.RLIMIT_AS, (size if hard == resource.RLIM_INFINITY else min(size, hard), hard))


def _lines() -> Iterator[str]:
    # a thread of its own reads, so that the end of the input ends a session half-way: nobody waits for it any more,
    # and a second archive may have begun
    queue: SimpleQueue[str] = SimpleQueue()

    def listen() -> None:
        for line in sys.stdin:
            queue.put(line)
        _end()

    threading.Thread(target=listen, daemon=True).start()
    while True:
        yield queue.get()


def _end() -> None:
    if hasattr(os, "killpg") and os.getpgrp() == os.getpid():
        os.killpg(os.getpgrp(), signal.SIGKILL)  # the reading process too
    os._exit(0)


if __name__ == "__main__":
    main()
