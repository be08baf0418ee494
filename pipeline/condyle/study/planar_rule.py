"""The rule by which a kneecap-only view calls a repetition, with limits that can be swept."""

from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from condyle.files.limits import load_limits
from condyle.mechanics.arrays import BoolArray
from condyle.study.settings import ReadingSetting

HIP, PELVIS = "at_the_hip", "with_the_pelvis"
_LIMITS = ("travel_mm", "path_angle_deg", "fppa_deg", "signs_needed")
_WAVERING = ("wavering_reversals", "straight_path_deg", "wavering_path_ratio")


@dataclass(frozen=True)
class Rule:
    """Limits from which travel, path angle and projection angle are marked, how many must be, and when a path wavers."""

    travel_mm: float
    path_angle_deg: float
    fppa_deg: float
    signs_needed: int
    wavering: tuple[float, float, float]  # reversals, straight path, path ratio
    swept: bool = True

    @property
    def words(self) -> str:
        """The rule in a sentence, to stand beside every count."""
        signs = f"travel {self.travel_mm:g} mm, path angle {self.path_angle_deg:g} deg, FPPA {self.fppa_deg:g} deg"
        return (
            f"the hip is blamed where at least {self.signs_needed} of these are reached, all inward or all "
            f"outward: {signs}"
        )

    def blames_the_hip(self, seen: pd.DataFrame) -> tuple[BoolArray, BoolArray]:
        """Which rows the rule calls, inward or outward, and for which it decides; a wavering path is not called.

        A row with a sign missing is decided where the others decide; without its travel a kneecap was not followed.
        """
        limits = {"travel": self.travel_mm, "path_angle": self.path_angle_deg, "fppa": self.fppa_deg}
        inward, outward = (
            np.sum([(way * seen[n] >= limit).to_numpy(dtype=bool) for n, limit in limits.items()], axis=0)
            for way in (1, -1)
        )
        most, unknown = np.maximum(inward, outward), seen[list(limits)].isna().to_numpy().sum(axis=1)
        reversals, straight, ratio = self.wavering
        wavering = (seen["path_angle"].abs() < straight) | (seen["path_ratio"] >= ratio)
        wavers = (wavering & (seen["reversals"] >= reversals)).to_numpy(dtype=bool)
        called = (most >= self.signs_needed) & ~wavers
        decided = (called | wavers | (most + unknown < self.signs_needed)) & seen["travel"].notna().to_numpy()
        return np.asarray(called & decided), np.asarray(decided)


def shipped_rule() -> Rule:
    """The rule of configs/planar_reading.yaml."""
    limits = load_limits("planar_reading")
    travel, angle, fppa, needed = (limits[name].value for name in _LIMITS)
    reversals, straight, ratio = (limits[name].value for name in _WAVERING)
    return Rule(travel, angle, fppa, int(needed), (reversals, straight, ratio), swept=False)


def sweep(setting: ReadingSetting, shipped: Rule) -> list[Rule]:
    """The shipped rule first, then every combination of the limits to be swept."""
    grid = product(setting.fppa_deg, setting.path_angle_deg, setting.travel_mm)
    return [shipped, *(Rule(t, a, f, shipped.signs_needed, shipped.wavering) for f, a, t in grid)]
