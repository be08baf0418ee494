"""Where the lab puts its axes, and which way the participant faces in it."""

from dataclasses import dataclass

import numpy as np

from condyle.errors import UsageError
from condyle.sample.turning import Array

UNITS = {"mm": 1.0, "cm": 0.1, "m": 0.001}


@dataclass(frozen=True)
class Lab:
    """``vertical`` is the file's axis that points up; ``facing_deg`` turns the participant about it.

    ``offset_mm`` moves the participant's origin along the two horizontal axes of the lab, in the order of their names.
    """

    vertical: str = "+Z"
    facing_deg: float = 0.0
    offset_mm: tuple[float, float] = (0.0, 0.0)
    units: str = "mm"

    def from_participant(self) -> Array:
        """Axes of the participant (forward, up, right) in the lab's frame, as columns."""
        axis = {"X": 0, "Y": 1, "Z": 2}.get(self.vertical[1:])
        if axis is None or self.vertical[0] not in "+-":
            raise UsageError(f"vertical {self.vertical!r} is not an axis of the lab; give one such as +Z or +Y")
        up = np.zeros(3)
        up[axis] = 1.0 if self.vertical[0] == "+" else -1.0
        level = np.zeros(3)
        level[(axis + 1) % 3] = 1.0
        across = np.cross(up, level)
        facing = np.radians(self.facing_deg)
        forward = np.cos(facing) * level + np.sin(facing) * across
        return np.stack([forward, up, np.cross(forward, up)], axis=-1)

    def origin_mm(self) -> Array:
        """The participant's origin in the lab's frame, mm."""
        axis = "XYZ".index(self.vertical[1:])
        place = np.zeros(3)
        place[[i for i in range(3) if i != axis]] = self.offset_mm
        return place

    def to_lab(self, points: Array) -> Array:
        """Points (..., 3) of the participant's frame, in the lab's frame and unit."""
        placed: Array = (points @ self.from_participant().T + self.origin_mm()) * UNITS[self.units]
        return placed
