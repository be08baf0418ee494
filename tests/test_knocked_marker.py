"""A marker knocked at any moment between the first and the last standing frames, which stays where it went."""

import re
from functools import lru_cache

import numpy as np
import pytest

from condyle.sample import cohort
from tests.fault_case import Case, Kind, shift
from tests.faults import Sound, injected, sound_trials


@lru_cache(maxsize=1)
def sound() -> Sound:
    return next(sound_trials(cohort(1, 1)))


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_a_plate_marker_knocked_by_8_mm_is_found_whenever_it_happened(share: float) -> None:
    def knock(case: Case, mm: float, _rng: np.random.Generator) -> None:
        column = case.tracking[f"shank_{case.side}"][-1]
        start = round(share * len(case.point))
        shift(case, [column], f"shank_{case.side}", np.array([0.0, -mm, 0.0]), slice(start, None))

    kind = Kind("knocked", knock, (8.0,), "mm")
    found = injected(sound(), sound(), kind, 8.0, np.random.default_rng(0))
    (row,) = [f for f in found.rows if f.check == "marker knocked"]
    assert row.subject == f"shank_{sound().side[0]}"
    label = f"{sound().side[0].upper()}_SHANK_"
    assert f"most likely {label}" in row.advice
    first, last = (float(v) for v in re.findall(r"between ([\d.]+) and ([\d.]+) s", row.advice)[0])
    when = share * sound().trial.sizes["time"] / sound().trial.attrs["rate_hz"]
    assert first - 0.1 <= when <= last + 0.1
    assert row.times_s == (pytest.approx((first, last), abs=0.06),)


def test_nothing_is_knocked_in_a_sound_trial() -> None:
    assert "marker knocked" not in {f.check for f in sound().findings}
