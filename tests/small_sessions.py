"""Small real sessions in any number: a standing trial and one short squat each, for archives that must be fast."""

import os
import random
from collections.abc import Iterable
from pathlib import Path

from condyle.sample.cohort import participant_name
from condyle.sample.options import Errors, Options
from condyle.sample.person import check_person
from condyle.sample.sessions import simulate_session
from condyle.sample.timing import Timing
from condyle.sample.writing import write_c3d

PIPELINE = "stages: [read, check, fill, filter, calibrate, pose, angles, repetitions, measures, contributions]\n"
_SESSION = """\
participant: {{id: {participant}, sex: female, height_mm: 1720, mass_kg: 68}}
session: 2026-11-03
pipeline: {pipeline}
static: static.c3d
trials:
{trials}"""


def base_recordings(folder: Path, kinds: Iterable[str] = ("controlled", "hip_in", "pelvis_turn")) -> list[Path]:
    """Folders with static.c3d and squat.c3d, one for each kind of movement; 2 squats at 50 Hz."""
    folders = []
    for number, kind in enumerate(kinds, 1):
        timing = Timing(repetitions=2, squat_s=1.6, before_s=1.0, after_s=0.6)
        options = Options(rate_hz=50.0, seed=number, timing=timing, static_s=1.0, errors=Errors(gaps=0.0))
        session = simulate_session(check_person(participant_name(number)), {"squat": [("right", kind)]}, options)
        place = folder / kind
        place.mkdir(parents=True, exist_ok=True)
        for trial in (session.static, *session.trials):
            write_c3d(place / f"{trial.name}.c3d", trial)
        folders.append(place)
    return folders


def replicate(bases: list[Path], root: Path, count: int, prefix: str = "MR") -> None:
    """So many sessions of as many participants, whose files are links to the base recordings."""
    root.mkdir(parents=True, exist_ok=True)
    (root / "squat.yaml").write_text(PIPELINE)
    for number in range(count):
        folder = root / f"{prefix}{number:05d}" / "2026-11-03"
        folder.mkdir(parents=True)
        for name in ("static.c3d", "squat.c3d"):
            os.link(bases[number % len(bases)] / name, folder / name)
        write_session_file(folder, f"{prefix}{number:05d}", ["squat"])


def write_session_file(folder: Path, participant: str, trials: list[str]) -> None:
    lines = "".join(f"  - {{file: {name}.c3d, side: right}}\n" for name in trials)
    text = _SESSION.format(participant=participant, pipeline="../../squat.yaml", trials=lines)
    (folder / "session.yaml").write_text(text)


def mutated(content: bytes, draw: random.Random) -> tuple[str, bytes]:
    """The file's bytes, damaged in one of four ways, and which: cut short, or random bytes in a section."""
    kind = draw.choice(("truncated", "header", "parameters", "data"))
    if kind == "truncated":
        return kind, content[: draw.randrange(len(content))]
    parameters = 512 * (content[0] - 1)
    data = parameters + 512 * content[parameters + 2]
    start, end = {"header": (0, 512), "parameters": (parameters, data), "data": (data, len(content))}[kind]
    damaged = bytearray(content)
    for _ in range(draw.choice((1, 3, 30))):
        damaged[draw.randrange(start, end)] = draw.randrange(256)
    return kind, bytes(damaged)


def add_mutated(base: Path, root: Path, sessions: int, files: int, seed: int, prefix: str = "MX") -> int:
    """Sessions of ``files`` damaged squats each beside their sound standing trial; returns how many files there are."""
    draw = random.Random(seed)
    content = (base / "squat.c3d").read_bytes()
    for number in range(sessions):
        folder = root / f"{prefix}{number:05d}" / "2026-11-03"
        folder.mkdir(parents=True)
        os.link(base / "static.c3d", folder / "static.c3d")
        names = []
        for i in range(files):
            kind, damaged = mutated(content, draw)
            names.append(f"{kind}_{i}")
            (folder / f"{names[-1]}.c3d").write_bytes(damaged)
        write_session_file(folder, f"{prefix}{number:05d}", names)
    return sessions * files
