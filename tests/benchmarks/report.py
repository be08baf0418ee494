"""What the report costs: ``python -m tests.benchmarks report [--repeats 5]``.

A session of two squat trials (the sample's): wall time that the report adds to ``condyle run``, as a multiple of the run
without it, both as processes of their own that take turns; and the size of the page.
"""

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

import yaml

from condyle.files.shipped import configs_folder
from tests.benchmarks.clock import Spent, median, process_cost

SAMPLE = Path(__file__).parents[2] / "sample_trials" / "MR01" / "2026-11-03"
MOST_TIMES, MOST_BYTES = 2.5, 3_000_000
ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}


def main(words: list[str]) -> int:
    """Print both figures against their limits; 1 where one is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks report")
    parser.add_argument("--repeats", type=int, default=5)
    arguments = parser.parse_args(words)
    with tempfile.TemporaryDirectory(prefix="report-benchmark-") as place:
        sessions = {name: _session(Path(place) / name, report=name == "with") for name in ("without", "with")}
        environment = {**os.environ, **ONE_THREAD}
        rounds = {
            name: [_run(folder, environment) for _ in range(arguments.repeats + 1)][1:]
            for name, folder in sessions.items()
        }
        size = (sessions["with"] / "results" / "report.html").stat().st_size
    plain, full = median(rounds["without"]), median(rounds["with"])
    times, work = (full.clock - plain.clock) / plain.clock, (full.cpu - plain.cpu) / plain.cpu
    print(
        f"run without report {plain.clock:.2f} s ({plain.cpu:.2f} s of processor), with it {full.clock:.2f} s ({full.cpu:.2f} s)"
    )
    print(
        f"the report adds {times:.2f} x the run (processor {work:.2f} x), at most {MOST_TIMES:g}: {_verdict(times <= MOST_TIMES)}"
    )
    print(f"report.html {size / 1e6:.2f} MB, at most {MOST_BYTES / 1e6:g}: {_verdict(size <= MOST_BYTES)}")
    return 0 if times <= MOST_TIMES and size <= MOST_BYTES else 1


def _verdict(reached: bool) -> str:
    return "reached" if reached else "MISSED"


def _session(folder: Path, report: bool) -> Path:
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("results"))
    pipeline = yaml.safe_load((configs_folder() / "single_leg_squat.yaml").read_text(encoding="utf-8"))
    named = [next(iter(s)) if isinstance(s, dict) else s for s in pipeline["stages"]]
    stages = [s for s, name in zip(pipeline["stages"], named, strict=True) if name != "report"]
    pipeline["stages"] = [*stages, "report"] if report else stages
    (folder / "pipeline.yaml").write_text(yaml.safe_dump(pipeline), encoding="utf-8")
    session = yaml.safe_load((folder / "session.yaml").read_text(encoding="utf-8"))
    session["session"] = str(session["session"])
    session |= {
        "marker_set": str(configs_folder() / "markers" / "clusters_full_body.yaml"),
        "pipeline": "pipeline.yaml",
    }
    (folder / "session.yaml").write_text(yaml.safe_dump(session), encoding="utf-8")
    return folder


def _run(folder: Path, environment: dict[str, str]) -> Spent:
    return process_cost([sys.executable, "-m", "condyle", "run", str(folder), "--overwrite"], environment)
