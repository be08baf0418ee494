"""What change between two sessions could measurement error alone bring about?"""

import math
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from condyle.errors import CondyleError
from condyle.files.reference import pipeline_folders
from condyle.files.shipped import configs_folder
from condyle.files.yaml_text import read_yaml_text
from condyle.report.results_read import Results

FILE = "repeatability.yaml"


class Repeatability(NamedTuple):
    """Standard errors of measurement of one measure: of a mean of so many repetitions, and of one; NaN if unknown."""

    sem_mean: float
    repetitions: float
    sem_single: float
    source: str


class Detectable(NamedTuple):
    """The minimal detectable change (95 %), of what it holds, and where it comes from."""

    value: float
    of: str
    source: str


# between sessions, 2D FPPA, several trials averaged: SEM 2.7 to 3.0 degrees; the larger is taken
_MUNRO = Repeatability(
    3.0, 3.0, math.nan, "Munro et al. 2012, for the FPPA in 2D from video (SEM 2.7 to 3.0 degrees), not for this one"
)
PUBLISHED = {"fppa_at_bottom": _MUNRO, "fppa_at_60_knee_flexion": _MUNRO}


def repeatability_of(results: Results, task: str, measure: str) -> Repeatability | None:
    """The lab's own where it has a file, else a published one, else None."""
    own = next((_own(path) for path in _places(results) if path.is_file()), {})
    return own.get(f"{task}.{measure}") or (PUBLISHED.get(measure) if task == "single_leg_squat" else None)


def detectable(known: Repeatability | None, repetitions: int) -> Detectable | None:
    """Minimal detectable change for two sessions of which the smaller holds so many repetitions: 1.96 sqrt(2) SEM."""
    if known is None:
        return None
    many = repetitions >= math.floor(known.repetitions)
    sem = known.sem_mean if many else known.sem_single
    if not math.isfinite(sem) or sem <= 0:
        return None
    of = f"the mean of {known.repetitions:.3g} repetitions" if many else "one repetition"
    return Detectable(1.96 * math.sqrt(2.0) * sem, of, known.source)


def session_folder(results: Results) -> Path:
    """The folder of the session file: where the manifest says, else above the results."""
    said = results.manifest.get("session_folder")
    return (results.folder / said) if isinstance(said, str) else results.folder.parent


def _places(results: Results) -> list[Path]:
    """Beside the pipeline that the session names, then among what is shipped."""
    own = pipeline_folders(results.manifest, results.folder)
    return [*(folder / FILE for folder in own), configs_folder() / FILE]


@lru_cache(maxsize=4)
def _own(path: Path) -> dict[str, Repeatability]:
    """The lab's own values; a file or a line that cannot be read gives none, for a report must not fail for it."""
    try:
        tree = read_yaml_text(path).tree
    except CondyleError:
        return {}
    return {str(name): made for name, entry in tree.items() if (made := _entry(entry)) is not None}


def _entry(entry: Any) -> Repeatability | None:
    if not isinstance(entry, dict):
        return None
    try:
        mean, single, count = (float(str(entry[n])) for n in ("sem_mean", "sem_single", "repetitions"))
    except (KeyError, ValueError):
        return None
    people = entry.get("participants", "")
    return Repeatability(mean, count, single, f"this lab's repeat sessions{f' of {people} people' if people else ''}")
