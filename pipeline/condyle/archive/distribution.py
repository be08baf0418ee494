"""How are the values of a measure spread, over an archive of any size?"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from condyle.mechanics.arrays import FloatArray

_KEPT = 2000
_AT_ONCE = 500


@dataclass
class Distribution:
    """Values as they come; beyond 2,000 a random sample of 2,000 is kept, the same one every time."""

    unit: str
    count: int = 0
    kept: FloatArray = field(default_factory=lambda: np.empty(0))
    keys: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    fresh: list[float] = field(default_factory=list, repr=False)
    random: np.random.Generator = field(default_factory=lambda: np.random.default_rng(1), repr=False)

    def add(self, values: Iterable[float]) -> None:
        """Take these values in; missing ones are left out."""
        before = len(self.fresh)
        self.fresh.extend(value for value in values if math.isfinite(value))
        self.count += len(self.fresh) - before
        if len(self.fresh) >= _AT_ONCE:
            self._sample()

    @property
    def values(self) -> FloatArray:
        """All values, or the sample of them."""
        self._sample()
        return self.kept

    def _sample(self) -> None:
        if not self.fresh:
            return
        self.kept = np.concatenate([self.kept, self.fresh])
        self.keys = np.concatenate([self.keys, self.random.random(len(self.fresh))])
        self.fresh.clear()
        if self.kept.size > _KEPT:  # the smallest random keys are a uniform sample of all there was
            chosen = np.sort(np.argpartition(self.keys, _KEPT)[:_KEPT])
            self.kept, self.keys = self.kept[chosen], self.keys[chosen]

    def percentiles(self, *percent: float) -> list[float]:
        """The values below which these shares lie; NaN without values."""
        if not self.values.size:
            return [float("nan")] * len(percent)
        return [float(value) for value in np.percentile(self.values, percent)]

    def bars(self, low: float, high: float, count: int) -> list[float]:
        """Heights from 0 to 1 of a histogram between two values; what lies outside is not drawn."""
        heights, _ = np.histogram(self.values, bins=count, range=(low, high if high > low else low + 1.0))
        return [float(height) for height in heights / max(1, heights.max())]
