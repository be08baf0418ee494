"""From stretches with one and the same exchange to the exchange itself: gaps of other markers do not cut it into pieces."""

from dataclasses import replace

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.gaps import runs_of
from condyle.mechanics.relabelling import misfit_of_frames
from condyle.mechanics.rigidity import Carried, Rig, carried
from condyle.stages.checks.exchanges import Swap
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded


def whole_exchanges(seen: Recorded, rig: Rig, told: Carried, swaps: list[Swap], limits: Limits) -> list[Swap]:
    """The exchanges in their full length, in the order of their first frames.

    ``told`` is every frame under the names as they are. A frame outside the stretches found belongs to an exchange where the
    exchange makes it better too, or where it says nothing (its markers are hidden, say) and lies between two such frames or
    between one and an end of the trial.
    """
    orders: dict[bytes, list[Swap]] = {}
    for swap in swaps:
        orders.setdefault(swap.order.tobytes(), []).append(swap)
    free = np.ones(len(seen.point), dtype=np.bool_)
    for swap in swaps:
        free[swap.start : swap.stop] = False
    as_named = misfit_of_frames(told)
    out: list[Swap] = []
    for own in sorted(orders.values(), key=lambda alike: sum(s.start - s.stop for s in alike)):
        order = own[0].order
        gain = _gain(as_named, misfit_of_frames(carried(seen.point[:, order], rig)))
        found = np.zeros(len(free), dtype=np.bool_)
        for swap in own:
            found[swap.start : swap.stop] = True
        found |= free & (gain >= limits["swap_gain"].value)
        found |= _between(found, free & (np.abs(gain) < limits["swap_changed"].value))
        free &= ~found
        most = max(own, key=lambda s: s.stop - s.start)
        out += [replace(most, start=int(start), stop=int(stop)) for start, stop in runs_of(found)]
    return sorted(out, key=lambda swap: swap.start)


def _gain(before: FloatArray, after: FloatArray) -> FloatArray:
    """(T,) how much of the misfit the exchange takes away in each frame, of what both names tell."""
    return np.asarray(np.nansum(before - after, axis=-1))


def _between(found: BoolArray, silent: BoolArray) -> BoolArray:
    """Silent frames between two found ones, or between a found one and an end of the trial."""
    out = np.zeros(len(found), dtype=np.bool_)
    for start, stop in runs_of(silent):
        if (start == 0 or found[start - 1]) and (stop == len(found) or found[stop]):
            out[start:stop] = True
    return out
