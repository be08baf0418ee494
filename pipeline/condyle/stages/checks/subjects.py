"""On which segment does the row of a fault stand that concerns several markers? What it rejects goes with it."""

from collections.abc import Iterable

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.stages.checks.recorded import Recorded

SHOULDERS = "shoulders"  # acromia that track nothing: rejected, they go alone
_LEG = ("thigh", "shank", "foot")


def part_of(seen: Recorded, column: int) -> str:
    """The segment that a marker tracks, else the one it is a landmark of; else its label."""
    tracks = [SEGMENTS[s] for s, own in enumerate(seen.tracking) if column in own]
    name = seen.names[column]
    if not tracks and name.startswith("acromion"):
        return SHOULDERS
    return tracks[0] if tracks else LANDMARK_SEGMENT.get(name, seen.labels[column])


def subjects_of(parts: Iterable[str]) -> list[str]:
    """The upper segment of one leg, one segment alone, trunk and shoulders each for itself; else the file."""
    own = list(dict.fromkeys(parts))
    if set(own) <= {"trunk", SHOULDERS}:
        return own
    for tail in ("_r", "_l"):
        leg = [f"{s}{tail}" for s in _LEG if f"{s}{tail}" in own]
        if leg and all(part.endswith(tail) for part in own):
            return leg[:1]
    return own if len(own) == 1 else ["file"]
