"""What change between two sessions could measurement error alone bring about?"""

import math
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from condyle.errors import CondyleError
from condyle.files.shipped import configs_folder
from condyle.files.yaml_text import read_yaml_text
from condyle.report.results_read import Results

FILE = "repeatability.yaml"


class Detectable(NamedTuple):
    """The minimal detectable change of a measure (95 %), of what it holds, and where it comes from."""

    value: float
    of: str  # `one repetition`, `the mean of 5 repetitions`
    source: str


# Munro et al. 2012: between-session SEM of the 2D FPPA 2.7 to 3.0 degrees; 1.96 sqrt(2) times the larger
_PUBLISHED = Detectable(
    1.96 * math.sqrt(2.0) * 3.0,
    "the 2D angle from video, mean of several repetitions",
    "Munro et al. 2012 (SEM 2.7 to 3.0 degrees; for FPPA in 2D, not for this one)",
)
PUBLISHED = {"fppa_at_bottom": _PUBLISHED, "fppa_at_60_knee_flexion": _PUBLISHED}


def detectable_changes(results: Results) -> dict[str, Detectable]:
    """By measure: the lab's own where it wrote a file, else a published one; a measure without either is absent."""
    own: dict[str, Detectable] = {}
    for path in _places(results):
        if path.is_file():
            own = _own(path)
            break
    return {**PUBLISHED, **own}


def _places(results: Results) -> list[Path]:
    """Beside the pipeline that the session names, then among what is shipped."""
    places = [configs_folder() / FILE]
    pipeline, session = results.declared.get("pipeline"), session_folder(results)
    if isinstance(pipeline, str) and session is not None:
        places.insert(0, (session / pipeline).parent / FILE)
    return places


def session_folder(results: Results) -> Path | None:
    """The folder of the session file: where the manifest says, else above the results."""
    said = results.manifest.get("session_folder")
    return (results.folder / said) if isinstance(said, str) else results.folder.parent


@lru_cache(maxsize=4)
def _own(path: Path) -> dict[str, Detectable]:
    """The lab's own values; none where the file cannot be read as one: a report must not fail for it."""
    try:
        tree = read_yaml_text(path).tree
    except CondyleError:
        return {}
    rows = tree.get("measures")
    entries = rows.items() if isinstance(rows, dict) else []
    found = {str(name): made for name, entry in entries if (made := _entry(entry, tree)) is not None}
    return found


def _entry(entry: object, tree: dict[str, object]) -> Detectable | None:
    if not isinstance(entry, dict):
        return None
    try:
        value = float(str(entry["mdc95"]))
        count = int(str(entry.get("repetitions", tree.get("repetitions", 1))))
    except (KeyError, ValueError):
        return None
    if not math.isfinite(value) or value <= 0:
        return None
    of = "one repetition" if count <= 1 else f"the mean of {count} repetitions"
    people = entry.get("participants", tree.get("participants", ""))
    return Detectable(value, of, f"this lab's repeat sessions{f', {people} participants' if people else ''}")
