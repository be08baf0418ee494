"""Is the trial a mirror image of its standing trial, so that its axes are left-handed? Other names would not mend that."""

from typing import NamedTuple

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.relabelling import misfit_as_named
from condyle.mechanics.rigidity import carried
from condyle.stages.checks.candidates import sides_exchanged
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_MIRROR = np.array([1.0, 1.0, -1.0])


class Mirrored(NamedTuple):
    """The body's misfit as recorded and in the mirror."""

    before: float  # [mm]
    after: float  # [mm]


def mirrored(seen: Recorded, limits: Limits) -> Mirrored | None:
    """Whether the markers make the body of the standing trial only when one axis is turned round; None where they do not.

    Exchanged names make a mirror image of a person whose two sides are marked alike fit passably: the mirror must fit better
    than they do.
    """
    if seen.rig is None or seen.told is None:
        return None
    before = misfit_as_named(seen.told)
    n = len(seen.rig.columns)
    skin, joint = limits["swap_screen_skin"].value, limits["swap_screen_joint"].value
    if before[:n].max() <= skin and before[n:].max() <= joint:  # a body in the mirror fits nowhere near as well
        return None
    after = misfit_as_named(carried(seen.some() * _MIRROR, seen.rig))
    if not _far_better(before, after, limits):
        return None
    order = sides_exchanged(seen, seen.rig)
    if order is not None:
        renamed = misfit_as_named(carried(seen.some()[:, order], seen.rig))
        if renamed.sum() <= after.sum():
            return None
    return Mirrored(float(before.sum()), float(after.sum()))


def all_sides_exchanged(seen: Recorded, limits: Limits) -> bool:
    """Whether the markers make the body of the standing trial under each other's side."""
    if seen.rig is None or seen.told is None:
        return False
    order = sides_exchanged(seen, seen.rig)
    if order is None:
        return False
    renamed = misfit_as_named(carried(seen.some()[:, order], seen.rig))
    return _far_better(misfit_as_named(seen.told), renamed, limits)


def mirror_finding(found: Mirrored, limits: Limits) -> Finding:
    """The one row of such a trial."""
    advice = (
        "this file is a mirror image of the standing trial, whose left and right are in order: its axes are left-handed. "
        f"Export it again with right-handed axes (mirrored, the body's misfit falls from {found.before:.0f} to "
        f"{found.after:.0f} mm)."
    )
    limit = limits["swap_gain"].value
    return Finding("left and right", "file", found.before - found.after, limit, "mm", "reject", advice)


def _far_better(before: FloatArray, after: FloatArray, limits: Limits) -> bool:
    b, a = float(before.sum()), float(after.sum())
    return b - a >= limits["swap_gain"].value and a < limits["swap_share"].value * b
