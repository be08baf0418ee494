"""What one session costs: ``python -m tests.benchmarks run [--repeats 9] [--sessions open sample]``.

Everything is set against the time that ezc3d needs to read the same files in the same process, or, for the whole command,
against a bare process that imports the same libraries and reads the same files. Medians over repeats that take turns, so
that a busy machine weighs on both sides of a ratio; processor time beside the time of the clock.
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from tests.benchmarks.clock import Spent, median, process_cost
from tests.open_sessions import CLUSTERS, write_open_session

REPOSITORY = Path(__file__).parents[2]
SAMPLE = REPOSITORY / "sample_trials" / "MR01" / "2026-11-03"
ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}


@dataclass(frozen=True)
class Target:
    """A figure to reach: what, over what, at most so many times."""

    words: str
    value: float
    limit: float
    unit: str = "x"

    def line(self) -> str:
        """One row of the table of targets."""
        verdict = "reached" if self.value <= self.limit else "MISSED"
        return f"  {self.words:<58}{self.value:8.2f} {self.unit:<3}at most {self.limit:g}   {verdict}"


def main(words: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks run")
    parser.add_argument("--repeats", type=int, default=9)
    parser.add_argument("--sessions", nargs="*", default=["open", "sample"], choices=["open", "sample"])
    parser.add_argument("--stages", action="store_true", help="print every stage by itself")
    arguments = parser.parse_args(words)
    os.environ.update(ONE_THREAD)
    targets: list[Target] = []
    with tempfile.TemporaryDirectory(prefix="run-benchmark-") as place:
        for name in arguments.sessions:
            folder = _sessions(Path(place))[name]()
            if folder is None:
                print("open: OPEN_C3D_DIR is not set, so the real pair is left out\n")
                continue
            targets += session(name, folder, arguments)
    targets.append(Target("condyle --help, processor time", help_seconds(arguments.repeats), 0.3, "s"))
    print("targets")
    print(*(t.line() for t in targets), sep="\n")
    return 0 if all(t.value <= t.limit for t in targets) else 1


def _sessions(place: Path) -> dict[str, Callable[[], Path | None]]:
    def public() -> Path | None:
        if "OPEN_C3D_DIR" not in os.environ:
            return None
        return write_open_session(place / "open", "cluster_walk", "standing_2", ["walking_2"], CLUSTERS)

    def sample() -> Path:
        folder = place / "sample"
        folder.mkdir()
        for file in (*SAMPLE.glob("*.c3d"), SAMPLE / "session.yaml"):
            shutil.copy(file, folder / file.name)
        stated = (folder / "session.yaml").read_text().replace("../../../configs", str(REPOSITORY / "configs"))
        (folder / "session.yaml").write_text(
            stated.replace(str(REPOSITORY / "configs" / "single_leg_squat.yaml"), "pipeline.yaml")
        )
        asked = yaml.safe_load((REPOSITORY / "configs" / "single_leg_squat.yaml").read_text())
        kept = [stage for stage in asked["stages"] if _name(stage) not in ("report", "uncertainty")]
        last = {"uncertainty": {"draws": 200, "seed": 1}}
        (folder / "pipeline.yaml").write_text(yaml.safe_dump({**asked, "stages": [*kept, last]}, sort_keys=False))
        return folder

    return {"open": public, "sample": sample}


def _name(stage: Any) -> str:
    return stage if isinstance(stage, str) else str(next(iter(stage)))


def session(name: str, folder: Path, arguments: argparse.Namespace) -> list[Target]:
    """Measure one session, print its table, return its targets."""
    from condyle.stages import STAGES
    from tests.benchmarks.inside import AFTER_MEASURES, Inside

    inside = Inside(folder)
    files = inside.files
    size = sum(path.stat().st_size for path in files) / 1e6
    rounds = [inside.round() for _ in range(arguments.repeats + 1)][1:]  # the first one warms up
    cost = {part: median([r[part] for r in rounds if part in r]) for part in rounds[-1]}
    reading = cost["ezc3d"]
    inside.finish()
    outside = _outside(folder, files, inside.modules(), max(3, arguments.repeats // 2))

    print(f"{name}: {len(files)} files, {size:.1f} MB, {inside.frames} frames; medians of {arguments.repeats}")
    print(f"  {'':<44}{'CPU ms':>9}{'clock ms':>10}{'x ezc3d':>9}")
    rows = {
        "ezc3d reads the files, in this process": reading,
        "condyle reads and judges them, its own side": cost["reader"],
        "numeric stages, read to measures": cost["numeric"],
        "  of which Datasets, history, merging": cost["bookkeeping"],
        **(
            {
                f"  {s}": cost[s]
                for s in ("read", *(stage.name for stage in STAGES))
                if s in cost and s not in AFTER_MEASURES
            }
            if arguments.stages
            else {}
        ),
        **({"contributions": cost["contributions"]} if "contributions" in cost else {}),
        **({"  of which the attribution itself": cost["attribution"]} if "attribution" in cost else {}),
        **({"uncertainty, 200 draws": cost["uncertainty"]} if "uncertainty" in cost else {}),
        "tables, trials and manifest written": cost["writing"],
    }
    for words, spent in rows.items():
        print(f"  {words:<44}{1e3 * spent.cpu:9.1f}{1e3 * spent.clock:10.1f}{spent.cpu / reading.cpu:9.2f}")
    bare, whole = outside["bare"], outside["command"]
    print(f"  {'':<44}{'CPU ms':>9}{'clock ms':>10}{'x bare':>9}{'peak MB':>9}")
    for words, key in (("bare process: same imports, same files", "bare"), ("condyle run, without report", "command")):
        spent = outside[key]
        print(
            f"  {words:<44}{1e3 * spent.cpu:9.0f}{1e3 * spent.clock:10.0f}{spent.cpu / bare.cpu:9.2f}{spent.peak_mb:9.0f}"
        )
    print()
    found = [
        Target(f"{name}: numeric stages over ezc3d's reading", cost["numeric"].cpu / reading.cpu, 2.5),
        Target(f"{name}: bookkeeping over ezc3d's reading", cost["bookkeeping"].cpu / reading.cpu, 0.5),
        Target(f"{name}: whole command over a bare process, CPU", whole.cpu / bare.cpu, 3.0),
        Target(f"{name}: whole command over a bare process, clock", whole.clock / bare.clock, 3.0),
    ]
    if "contributions" in cost:
        for part in ("contributions", "attribution"):
            each = 1e3 * cost[part].cpu * 1500 / inside.moving_frames
            found.append(Target(f"{name}: {part} per 1,500 frames", each, 25.0, "ms"))
    if "uncertainty" in cost:
        found.append(
            Target(f"{name}: uncertainty over the numeric stages", cost["uncertainty"].cpu / cost["numeric"].cpu, 5.0)
        )
    return found


def _outside(folder: Path, files: list[Path], modules: list[str], repeats: int) -> dict[str, Spent]:
    """The whole command, and a bare process that imports the same libraries and reads the same files, in turn."""
    read = f"import {', '.join(modules)}\nfor path in {[str(f) for f in files]!r}:\n    ezc3d.c3d(path)\n"
    script = folder / "bare.py"
    script.write_text("import ezc3d\n" + read)
    commands = {
        "bare": [sys.executable, str(script)],
        "command": [sys.executable, "-m", "condyle", "run", str(folder), "--overwrite"],
    }
    spent: dict[str, list[Spent]] = {name: [] for name in commands}
    for _ in range(repeats + 1):
        for name, words in commands.items():
            spent[name].append(process_cost(words, {**os.environ, **ONE_THREAD}))
    return {name: median(found[1:]) for name, found in spent.items()}


def help_seconds(repeats: int) -> float:
    """Processor seconds of ``condyle --help``."""
    words = [sys.executable, "-m", "condyle", "--help"]
    return statistics.median(process_cost(words, dict(os.environ)).cpu for _ in range(repeats))
