"""Small archives for tests: folders whose sessions are processed by the stand-in, and calls of the command."""

import io
import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from unittest import mock

import pyarrow.parquet as pq

STAND_IN = str(Path(__file__).parent / "stand_in")
TABLES = ("measures", "contributions", "repetitions", "quality")


def make_session(
    folder: Path, participant: str, session: str, trials: Mapping[str, str], static: str = "still"
) -> None:
    """A session folder whose trial files hold these texts."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "static.c3d").write_text(static)
    for name, text in trials.items():
        (folder / f"{name}.c3d").write_text(text)
    files = "".join(f"  - {name}.c3d\n" for name in trials)
    (folder / "session.yaml").write_text(
        f"participant: {{id: {participant}}}\nsession: {session}\nstatic: static.c3d\ntrials:\n{files}"
    )


def make_archive(root: Path, count: int, text: str = "slow 0.0") -> None:
    """An archive of a team's yearly screening."""
    for i in range(count):
        participant, year = f"MR{i // 2 + 1:02d}", 2026 + i % 2
        make_session(root / participant / f"{year}-11-03", participant, f"{year}-11-03", {f"squat_{i}": text})


def command(root: Path, out: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "condyle", "archive", str(root), "--out", str(out), *options]


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join([STAND_IN, os.environ.get("PYTHONPATH", "")])}


def started(root: Path, out: Path, *options: str) -> "subprocess.Popen[str]":
    """The command in a process of its own that heeds SIGINT, also where the tests run in the background."""
    # a process in the background has the signal ignored, and what it starts inherits that
    return subprocess.Popen(
        command(root, out, *options),
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def run(root: Path, out: Path, *options: str) -> "subprocess.CompletedProcess[str]":
    """The command in this process, its workers on the stand-in."""
    from condyle.command import main

    said, complained = io.StringIO(), io.StringIO()
    with mock.patch.dict(os.environ, environment()), redirect_stdout(said), redirect_stderr(complained):
        status = main(["archive", str(root), "--out", str(out), *options])
    return subprocess.CompletedProcess([], status, said.getvalue(), complained.getvalue())


def tables(out: Path) -> dict[str, bytes]:
    """The bytes of the study tables, and of sessions.csv without the seconds, which are never the same twice."""
    found = {name: (out / f"{name}.parquet").read_bytes() for name in TABLES}
    rows = (out / "sessions.csv").read_text().splitlines()
    return {**found, "sessions": "\n".join(row.rpartition(",")[0] for row in rows).encode()}


def children(pid: int) -> list[int]:
    """The processes that a process has started and that still run (Linux)."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return [int(child) for task in tasks for child in (task / "children").read_text().split()]


def runs(pid: int) -> bool:
    """Whether a process still runs; one that only waits for its parent to take note of its end does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def rows_of(out: Path, name: str) -> int:
    return int(pq.ParquetFile(out / f"{name}.parquet").metadata.num_rows)


def statuses(out: Path) -> dict[str, tuple[str, str]]:
    """Folder: (status, reason)."""
    import pandas as pd

    table = pd.read_csv(out / "sessions.csv", keep_default_na=False)
    return {row.folder: (row.status, row.reason) for row in table.itertuples()}
