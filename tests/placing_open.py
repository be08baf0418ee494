"""Landmarks put elsewhere on real bodies: public standing trials, with invented palpation errors on every landmark."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.repeatability.gathering import Gathered
from condyle.repeatability.pair import Pair, compare_pair
from condyle.repeatability.standing import palpation_variance, standing_of
from condyle.session import compute, plan
from condyle.stages.calibrate import CalibrateSettings, calibrate_trial

from .open_sessions import CLUSTERS, SKIN, write_open_session

BODIES = (  # kind, standing trial, a walk, marker set
    ("cluster_walk", "standing_1", "walking_1_1", CLUSTERS),
    ("cluster_walk", "standing_2", "walking_2", CLUSTERS),
    ("skin_walk", "standing", "walk_1", SKIN),
)


@dataclass(frozen=True)
class Body:
    """A real standing trial after its stages, and where its landmarks are."""

    name: str
    static: xr.Dataset

    @property
    def landmarks(self) -> list[str]:
        """Landmarks of pelvis and legs."""
        return [n for n in standing_of(self.static).landmarks if LANDMARK_SEGMENT[n] != "trunk"]

    def placed_anew(
        self, rng: np.random.Generator, scale: float, moved: Mapping[str, np.ndarray] | None = None
    ) -> Gathered:
        """The same body with every landmark mislaid by palpation, and ``moved`` besides, in its segment's axes, mm."""
        base = standing_of(self.static)
        point, names = self.static["point"].values.copy(), self.static["marker"].values.tolist()
        for name in base.landmarks:
            error = scale * rng.normal(size=3) * np.sqrt(palpation_variance(name))
            error = error + (moved or {}).get(name, 0.0)
            point[:, names.index(name)] += base.rotation[SEGMENTS.index(LANDMARK_SEGMENT[name])] @ error
        trial, _ = calibrate_trial(self.static.assign(point=(self.static["point"].dims, point)), CalibrateSettings())
        return Gathered(Path(), self.name, "", "T1", standing_of(trial), pd.DataFrame())

    def two_days(self, rng: np.random.Generator, scale: float, moved: Mapping[str, np.ndarray] | None = None) -> Pair:
        """Two placings of the same body, one landmark of the second moved."""
        pair = compare_pair(self.placed_anew(rng, scale), self.placed_anew(rng, scale, moved))
        assert pair is not None
        return pair


def bodies(folder: Path) -> Iterator[Body]:
    """The public standing trials, by sessions written into ``folder``; skipped where the files are not there."""
    for kind, standing, walk, markers in BODIES:
        result = compute(plan(write_open_session(folder / standing, kind, standing, [walk], markers) / "session.yaml"))
        yield Body(f"{kind} {standing}", result.trials[standing].trial)
