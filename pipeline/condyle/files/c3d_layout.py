"""Where every number of a C3D file stands."""

from dataclasses import dataclass
from pathlib import Path

from condyle.findings import Finding


@dataclass(frozen=True, slots=True)
class Layout:
    """Where every number of the file stands and what it is worth; ``plain`` = a library may be shown the file as it
    is.
    """

    path: Path
    size: int
    processor: str
    real: bool
    points: int
    channels: int
    samples_per_frame: int
    frames: int
    declared_frames: int
    data_start: int
    first_frame: int = 1
    rate_hz: float = 0.0
    scale: float = 1.0
    plain: bool = True
    findings: tuple[Finding, ...] = ()

    @property
    def analogue_per_frame(self) -> int:
        """Analogue values in one frame."""
        return self.channels * self.samples_per_frame

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame: four numbers a point, one an analogue value, of four bytes or two."""
        return (4 * self.points + self.analogue_per_frame) * (4 if self.real else 2)

    @property
    def left(self) -> int:
        """Bytes of the file behind the last frame; negative where frames are missing."""
        return self.size - self.data_start - self.frames * self.frame_bytes
