"""What a C3D file holds, once it is read and judged."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from condyle.files.c3d_events import Event
from condyle.files.samples import SampleCounts
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True)
class ForcePlate:
    """One plate as ezc3d extracts it, a row per analogue sample; positions in mm, forces in the file's unit."""

    force: FloatArray
    moment: FloatArray
    centre_of_pressure: FloatArray
    corners: FloatArray
    force_unit: str
    rate_hz: float


@dataclass(frozen=True, slots=True)
class Recording:
    """One C3D file: every point in it, in millimetres, NaN where it was not seen.

    ``kinds`` says of each point whether it is a `marker`, `unlabelled`, `modelled`, an `angle`, a `force` ...; only
    positions
    are in millimetres, the others stay as they stand in the file. Names and dates of birth are not held here.
    """

    path: Path
    size: int
    sha256: str
    labels: tuple[str, ...]
    kinds: tuple[str, ...]
    points: FloatArray
    rate_hz: float
    first_frame: int
    unit: str
    said_unit: str | None
    unit_factor: float
    counts: SampleCounts
    events: tuple[Event, ...] = ()
    analogue_rate_hz: float = 0.0
    analogue_labels: tuple[str, ...] = ()
    analogue: FloatArray | None = None
    force_plates: int = 0
    forces: tuple[ForcePlate, ...] | None = None
    prefixes: tuple[str, ...] = ()
    subjects: int = 0
    storage: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def file(self) -> str:
        """The file's name without its folder."""
        return self.path.name

    @property
    def n_frames(self) -> int:
        """Frames in the file."""
        return int(self.points.shape[0])

    @property
    def duration_s(self) -> float:
        """From the first frame to the last."""
        return (self.n_frames - 1) / self.rate_hz

    @property
    def is_marker(self) -> BoolArray:
        """Which points are markers with a name."""
        return np.array([kind == "marker" for kind in self.kinds], dtype=bool)
