"""The rule by which a kneecap-only view calls a repetition, with limits that can be swept."""

from dataclasses import dataclass
from importlib import resources
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd

from condyle.files.yaml_text import read_yaml_text
from condyle.mechanics.arrays import BoolArray
from condyle.study.settings import ReadingSetting

HIP, PELVIS = "at_the_hip", "with_the_pelvis"
_LIMITS = ("travel_mm", "path_angle_deg", "fppa_deg", "signs_needed")


@dataclass(frozen=True)
class Rule:
    """Limits from which travel, path angle and projection angle are marked, and how many must be."""

    travel_mm: float
    path_angle_deg: float
    fppa_deg: float
    signs_needed: int
    swept: bool = True

    @property
    def words(self) -> str:
        """The rule in a sentence, to stand beside every count."""
        signs = (
            f"travel from {self.travel_mm:g} mm, path angle from {self.path_angle_deg:g} deg, FPPA from "
            f"{self.fppa_deg:g} deg"
        )
        return f"the hip is blamed where at least {self.signs_needed} of {signs} are medial"

    def blames_the_hip(self, seen: pd.DataFrame) -> BoolArray:
        """Which rows of travel, path_angle and fppa the rule calls; what is missing is no sign."""
        limits = {"travel": self.travel_mm, "path_angle": self.path_angle_deg, "fppa": self.fppa_deg}
        signs = [(seen[name] >= limit).to_numpy(dtype=bool) for name, limit in limits.items()]
        return np.asarray(np.sum(signs, axis=0) >= self.signs_needed)


def shipped_rule() -> Rule:
    """The rule of configs/planar_reading.yaml."""
    tree = read_yaml_text(Path(str(resources.files("condyle"))) / "configs" / "planar_reading.yaml").tree
    travel, angle, fppa, needed = (float(tree[name]["value"]) for name in _LIMITS)
    return Rule(travel, angle, fppa, int(needed), swept=False)


def sweep(setting: ReadingSetting, shipped: Rule) -> list[Rule]:
    """The shipped rule first, then every combination of the limits to be swept."""
    grid = product(setting.fppa_deg, setting.path_angle_deg, setting.travel_mm)
    return [shipped, *(Rule(t, a, f, shipped.signs_needed) for f, a, t in grid)]
