"""What an archive costs and withstands, on real (synthetic) sessions: throughput, memory, kills, a cluster, damaged files.

``python -m tests.benchmarks archive [PART ...] [--sessions 1000] [--files 2000]``; each part prints its figures and
whether it passed. Parts: throughput, kills, cluster, damaged.
"""

import argparse
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pandas as pd

from tests.archives import TABLES, children, tables
from tests.small_sessions import add_mutated, base_recordings, replicate

THREADS = {name: "1" for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")}
START_UP = 8  # sessions until every worker has imported all it needs


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks archive")
    parser.add_argument("parts", nargs="*", default=[*PARTS], help=", ".join(PARTS))
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--files", type=int, default=2000)
    parser.add_argument("--kills", type=int, default=20)
    arguments = parser.parse_args(words)
    passed = True
    with tempfile.TemporaryDirectory(prefix="archive-benchmark-") as place:
        bases = base_recordings(Path(place) / "bases")
        for part in arguments.parts:
            folder = Path(place) / part
            folder.mkdir()
            good = PARTS[part](folder, bases, arguments)
            print(f"{part}: {'passed' if good else 'FAILED'}", flush=True)
            passed &= good
    return 0 if passed else 1


def command(root: Path, out: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "condyle", "archive", str(root), "--out", str(out), *options]


def throughput(place: Path, bases: list[Path], arguments: argparse.Namespace) -> bool:
    """Sessions an hour with 1 and 2 jobs after start-up, and peak memory in both halves of each run."""
    replicate(bases, place / "root", arguments.sessions)
    rates, flat = {}, True
    for jobs in (1, 2):
        started, before = time.perf_counter(), _cpu_seconds()
        ends, memory = _watched(command(place / "root", place / f"out{jobs}", "--jobs", str(jobs)))
        rates[jobs] = (len(ends) - START_UP) / (ends[-1] - ends[START_UP - 1])
        middle = (ends[START_UP - 1] + ends[-1]) / 2
        first = max(size for at, size in memory if ends[START_UP - 1] < at <= middle)
        second = max(size for at, size in memory if middle < at <= ends[-1])
        flat &= second <= 1.05 * first
        print(
            f"{jobs} job(s): {len(ends)} sessions in {time.perf_counter() - started:.0f} s, "
            f"{3600 * rates[jobs]:.0f} an hour after start-up; {(_cpu_seconds() - before) / len(ends):.2f} s of CPU each; "
            f"load {os.getloadavg()[0]:.1f}; peak memory {first:.0f} MB, then {second:.0f} MB",
            flush=True,
        )
    size = sum(path.stat().st_size for path in (place / "out1").rglob("*") if path.is_file()) / arguments.sessions
    pooled = sum((place / "out1" / f"{name}.parquet").stat().st_size for name in TABLES) / arguments.sessions
    same = tables(place / "out1") == tables(place / "out2")
    print(f"2 jobs: {rates[2] / rates[1]:.2f} x as fast; the same tables: {same}")
    print(f"storage: {size / 1000:.0f} kB a session, {pooled / 1000:.1f} kB of it in the study tables")
    started = time.perf_counter()
    subprocess.run(command(place / "root", place / "out1"), check=True, stdout=subprocess.DEVNULL)
    again = (time.perf_counter() - started) / arguments.sessions
    print(f"nothing changed: {1000 * again:.1f} ms a session to find that out and to collect again")
    return same and flat and rates[2] >= 1.8 * rates[1]


def _watched(words: list[str]) -> tuple[list[float], list[tuple[float, float]]]:
    """When each session ended, and the memory of the process and all its children over time, in MB."""
    memory: list[tuple[float, float]] = []
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env={**os.environ, **THREADS}) as process:

        def sample() -> None:
            while process.poll() is None:
                memory.append((time.perf_counter(), _resident_mb(process.pid)))
                time.sleep(0.2)

        threading.Thread(target=sample, daemon=True).start()
        assert process.stdout is not None
        ends = [time.perf_counter() for line in process.stdout if re.match(r"\[ *\d+/", line)]
    assert process.returncode == 0, f"the archive ended with {process.returncode}"
    return ends, memory


def _cpu_seconds() -> float:
    spent = os.times()  # those of children count once they have ended and been waited for
    return spent.children_user + spent.children_system


def _resident_mb(pid: int) -> float:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        below = children(pid)
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6 + sum(map(_resident_mb, below))


def kills(place: Path, bases: list[Path], arguments: argparse.Namespace) -> bool:
    """SIGKILL at random moments of a 40-session run, resumed each time: the tables of an undisturbed run."""
    replicate(bases, place / "root", 40)
    started = time.perf_counter()
    subprocess.run(command(place / "root", place / "undisturbed", "--jobs", "2"), check=True, stdout=subprocess.DEVNULL)
    whole = time.perf_counter() - started
    draw = random.Random(1)
    killed = 0
    for _ in range(arguments.kills):
        with subprocess.Popen(
            command(place / "root", place / "killed", "--jobs", "2"), stdout=subprocess.DEVNULL
        ) as process:
            try:
                process.wait(draw.uniform(0.05, 0.35) * whole)
            except subprocess.TimeoutExpired:
                process.send_signal(signal.SIGKILL)
                killed += 1
    subprocess.run(command(place / "root", place / "killed", "--jobs", "2"), check=True, stdout=subprocess.DEVNULL)
    same = tables(place / "killed") == tables(place / "undisturbed")
    left = [path for path in (place / "killed").rglob("*.part")]
    print(f"killed {killed} of {arguments.kills} times; the same tables: {same}; half-written files left: {len(left)}")
    return same and not left and killed > 0


def cluster(place: Path, bases: list[Path], arguments: argparse.Namespace) -> bool:
    """A Dask scheduler with two workers, one killed when a third is done: the tables of one process."""
    replicate(bases, place / "root", 40)
    subprocess.run(command(place / "root", place / "alone"), check=True, stdout=subprocess.DEVNULL)
    words = [sys.executable, "-m", "tests.cluster_archive", "kill", str(place / "root"), str(place / "cluster")]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    same = tables(place / "cluster") == tables(place / "alone")
    print(f"{done.stdout.strip()}; the same tables: {same}")
    return same and '"killed": true' in done.stdout


def damaged(place: Path, bases: list[Path], arguments: argparse.Namespace) -> bool:
    """Damaged files among good sessions: none crashes or hangs the archive, none is passed over in silence."""
    replicate(bases, place / "root", 20)
    count = add_mutated(bases[0], place / "root", arguments.files // 8, 8, seed=1)
    started = time.perf_counter()
    done = subprocess.run(command(place / "root", place / "out", "--jobs", "2"), stdout=subprocess.DEVNULL, check=False)
    seconds = time.perf_counter() - started
    sessions = pd.read_csv(place / "out" / "sessions.csv", keep_default_na=False)
    good = sessions[sessions["participant"].str.startswith("MR")]
    failed = sessions[sessions["status"] == "failed"]
    silent, processed = unaccounted(place / "root", place / "out")
    print(f"{count} damaged files beside {len(good)} good sessions in {seconds:.0f} s; exit status {done.returncode}")
    print(f"good sessions done: {(good['status'] == 'done').sum()}; sessions failed: {len(failed)}")
    print(
        f"damaged files that were still sound enough: {processed}; passed over in silence: {len(silent)} {silent[:5]}"
    )
    for reason in failed["reason"].head(5):
        print(f"  {reason}")
    return bool((good["status"] == "done").all()) and not silent and failed.empty and done.returncode == 1


def unaccounted(root: Path, out: Path) -> tuple[list[str], int]:
    """Damaged trials with neither results nor a rejecting finding, and how many have results."""
    quality = pd.read_parquet(out / "quality.parquet")
    rejected = quality[quality["verdict"] == "reject"]
    named = {(row.participant, row.trial) for row in rejected.itertuples() if row.advice}
    silent, processed = [], 0
    for path in sorted(root.glob("MX*/*/*.c3d")):
        if path.stem == "static":
            continue
        participant = path.parts[-3]
        if (out / "sessions" / participant / path.parts[-2] / "trials" / f"{path.stem}.nc").exists():
            processed += 1
        elif (participant, path.stem) not in named:
            silent.append(f"{participant} {path.name}")
    return silent, processed


PARTS = {"throughput": throughput, "kills": kills, "cluster": cluster, "damaged": damaged}
