"""Randomly damaged files: none may crash or hang the reader, and none may be silently wrong.

    python -m tests.damage [--files 2000] [--seed 1]

Each file is a sound one with one wound: bytes overwritten, a run of zeros, a bit flipped, a piece cut out, put in or
moved, or the end cut off, in the header, the parameters or the data. A wounded file must be refused, or flagged, or still
read as the sound one does. In the data that is asked of every sample that now leaves both its neighbours by more than
20 mm.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from condyle.errors import DataError
from condyle.files.c3d import C3DReader, Recording
from tests.c3d_bytes import BLOCK, C3DFile, real, text, walking_body, word

LEAP_MM = 20.0
REGIONS = ("header", "parameters", "data")
WOUNDS = ("byte", "bytes", "bit", "zeros", "noise", "cut", "insert", "swap", "truncate")


@dataclass
class Report:
    """How many files ended how; ``wrong`` = silently wrong, ``failed`` = ended in something that is no refusal."""

    outcomes: Counter[tuple[str, str]] = field(default_factory=Counter)
    reasons: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    leaps: int = 0
    slowest_s: float = 0.0


def sound_files() -> list[C3DFile]:
    """Files of every storage, with and without analogue channels, events and frames before the first."""
    files = []
    for k, storage in enumerate(("real", "integer")):
        for with_analogue in (False, True):
            points, labels = walking_body(frames=80, rate=120.0, seed=k)
            points += np.random.default_rng(k).normal(0, 0.2, points.shape)
            points = points.astype(np.float32).astype(float)
            residual = np.zeros(points.shape[:2])
            residual[20:30, 3] = -1
            points[50:55, 4] = 0.0
            samples = np.random.default_rng(2).integers(-900, 900, (80, 4, 6)).astype(float) if with_analogue else None
            events = [
                word("EVENT", "USED", 2),
                real("EVENT", "TIMES", [0.0, 0.2, 0.0, 0.4], dims=(2, 2)),
                text("EVENT", "LABELS", ["start", "bottom"]),
            ]
            subject = [text("SUBJECTS", "NAMES", ["Someone"]), real("SUBJECTS", "MASS", 70.0)]
            files.append(
                C3DFile(
                    points,
                    residual,
                    labels=labels,
                    rate=120.0,
                    storage=storage,
                    analogue=samples,
                    first_frame=1 if with_analogue else 201,
                    add=[*events, *subject] if with_analogue else [],
                )
            )
    return files


def wound(sound: bytes, region: tuple[int, int], kind: str, rng: np.random.Generator) -> bytes:
    """The file with one wound inside the region."""
    first, last = region
    out = bytearray(sound)
    at = int(rng.integers(first, last))
    length = int(rng.integers(1, 24))
    if kind == "byte":
        out[at] = int(rng.integers(256))
    elif kind == "bytes":
        for place in rng.integers(first, last, 3):
            out[place] = int(rng.integers(256))
    elif kind == "bit":
        out[at] ^= 1 << int(rng.integers(8))
    elif kind == "zeros":
        out[at : at + length] = bytes(len(out[at : at + length]))
    elif kind == "noise":
        out[at : at + length] = rng.bytes(len(out[at : at + length]))
    elif kind == "cut":
        del out[at : at + length]
    elif kind == "insert":
        out[at:at] = rng.bytes(length)
    elif kind == "swap":
        other = int(rng.integers(first, last))
        out[at : at + 8], out[other : other + 8] = out[other : other + 8], out[at : at + 8]
    else:
        del out[at:]
    return bytes(out)


def run(files: int = 2000, seed: int = 1, folder: Path | None = None) -> Report:
    """Wound, read and judge so many files."""
    rng = np.random.default_rng(seed)
    report = Report()
    with tempfile.TemporaryDirectory(dir=folder) as temporary, C3DReader() as reader:
        path = Path(temporary, "wounded.c3d")
        truths = []
        for file in sound_files():
            path.write_bytes(file.tobytes())
            data = len(path.read_bytes()) - (len(file.data_section()) + (-len(file.data_section()) % BLOCK))
            regions = dict(zip(REGIONS, ((0, 24), (BLOCK, data), (data, data + len(file.data_section()))), strict=True))
            truths.append((path.read_bytes(), regions, reader.read(path)))
        for number in range(files):
            sound, regions, truth = truths[number % len(truths)]
            region = REGIONS[number // len(truths) % len(REGIONS)]
            kind = WOUNDS[int(rng.integers(len(WOUNDS)))]
            path.write_bytes(wound(sound, regions[region], kind, rng))
            _judge(reader, path, truth, region, f"file {number}: {kind} in the {region}", report)
    return report


def _judge(reader: C3DReader, path: Path, truth: Recording, region: str, name: str, report: Report) -> None:
    started = time.perf_counter()
    try:
        read = reader.read(path)
    except DataError as error:
        report.outcomes[region, "refused"] += 1
        if (lost := getattr(error, "kind", "")) in ("crash", "time", "memory"):
            report.reasons[f"{lost} in the reading process"] += 1
        read = None
    except Exception as error:
        report.failed.append(f"{name}: {type(error).__name__}: {error}")
        read = None
    report.slowest_s = max(report.slowest_s, time.perf_counter() - started)
    if read is None:
        return
    new = set(read.findings) - set(truth.findings)
    flagged = {f for f in new if f.verdict != "pass"}
    if region == "data":
        missed = _unflagged_leaps(read, truth, flagged, report)
        if missed:
            report.wrong.append(f"{name}: {missed}")
        report.outcomes[region, "silently wrong" if missed else "flagged" if flagged else "no leap"] += 1
        return
    difference = _difference(read, truth)
    outcome = "same" if not difference and not flagged else "flagged" if flagged else "silently wrong"
    if outcome == "silently wrong" and difference == "labels":
        outcome = "another label"  # a letter is a letter; the marker set misses the marker then
    if outcome == "silently wrong":
        report.wrong.append(f"{name}: {difference}")
    report.outcomes[region, outcome] += 1


def _difference(read: Recording, truth: Recording) -> str:
    """What is not as in the sound file; empty where everything is."""
    if read.points.shape != truth.points.shape or not np.array_equal(read.points, truth.points, equal_nan=True):
        return "points"
    if read.rate_hz != truth.rate_hz:
        return "rate"
    if read.first_frame != truth.first_frame:
        return "first frame"
    return "labels" if read.labels != truth.labels else ""


def _unflagged_leaps(read: Recording, truth: Recording, flagged: set[object], report: Report) -> str:
    """Samples that the wound moved, that leave both neighbours by more than 20 mm, and of which nothing was said."""
    if read.points.shape != truth.points.shape:
        return "" if flagged else "points of another shape"
    named = {f.subject: f.advice for f in read.findings if f.check == "leap of a sample"}
    for frame, marker in zip(*np.nonzero(np.isfinite(read.points[..., 0])), strict=True):
        here, before = read.points[frame, marker], truth.points[frame, marker]
        if np.array_equal(here, before):
            continue
        if np.isfinite(before).all() and np.linalg.norm(here - before) <= LEAP_MM:
            continue
        sides = [read.points[f, marker] for f in (frame - 1, frame + 1) if 0 <= f < len(read.points)]
        apart = [float(np.linalg.norm(here - side)) for side in sides if np.isfinite(side).all()]
        if apart and min(apart) > LEAP_MM:
            report.leaps += 1
            if read.labels[marker] not in named:
                return f"{read.labels[marker]} leaps {min(apart):.1f} mm in frame {frame}"
    return ""


def main() -> int:
    """Print what became of the files."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    report = run(arguments.files, arguments.seed)
    for (region, outcome), count in sorted(report.outcomes.items()):
        print(f"{region:<12} {outcome:<16} {count:6d}")
    print(
        f"leaps of a sample in the data: {report.leaps}; slowest file {report.slowest_s:.2f} s; {dict(report.reasons)}"
    )
    for line in [*report.failed, *report.wrong]:
        print(line)
    print(f"{len(report.failed)} failures, {len(report.wrong)} silently wrong")
    return 1 if report.failed or report.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
