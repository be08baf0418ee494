"""Drives an archive on a Dask cluster in a process of its own: ``python -m tests.cluster_archive MODE ROOT OUT``.

Modes: ``plain``; ``kill`` (one of the two Dask workers is killed once a third of the sessions is recorded);
``scheduler`` (the scheduler is killed then).
"""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import ExitStack
from pathlib import Path


def main(mode: str, root: Path, out: Path) -> None:
    from condyle.archive import archive
    from condyle.errors import CondyleError

    with ExitStack() as stack:
        start = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--no-dashboard", "--no-show"]
        file = out.parent / f"{out.name}-scheduler.json"
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        scheduler = _started(
            [*start, "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file)], stack, quiet
        )
        while not file.exists() or not file.read_text().strip():
            time.sleep(0.05)
        address = json.loads(file.read_text())["address"]
        worker = [sys.executable, "-m", "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny"]
        worker += ["--no-dashboard", "--local-directory", str(out.parent / "dask")]
        workers = [_started(worker, stack, quiet) for _ in range(2)]
        victim = {"kill": workers[0], "scheduler": scheduler}.get(mode)
        if victim is not None:
            threading.Thread(target=_kill_half_way, args=(victim, out, root), daemon=True).start()
        _wait_for_workers(address, 2)
        try:
            result = archive(root, out, cluster=address, show=False)
            print(json.dumps({"status": result.exit_status, "summary": result.summary(), "killed": _dead(victim)}))
        except CondyleError as error:
            print(
                json.dumps(
                    {
                        "status": error.status,
                        "summary": str(error),
                        "cause": repr(error.__cause__),
                        "killed": _dead(victim),
                    }
                )
            )


def _started(command: list[str], stack: ExitStack, quiet: dict[str, int]) -> "subprocess.Popen[bytes]":
    process = subprocess.Popen(command, **quiet)  # type: ignore[call-overload]
    stack.callback(process.wait)
    stack.callback(process.kill)
    return process


def _wait_for_workers(address: str, count: int) -> None:
    import distributed

    with distributed.Client(address, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=300)


def _kill_half_way(victim: "subprocess.Popen[bytes]", out: Path, root: Path) -> None:
    sessions = len(list(root.rglob("session.yaml")))
    while sum(1 for path in out.rglob("record.json") if '"done"' in path.read_text()) < sessions // 3:
        time.sleep(0.02)
    os.kill(victim.pid, signal.SIGKILL)


def _dead(victim: "subprocess.Popen[bytes] | None") -> bool:
    return victim is not None and victim.poll() is not None


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
