"""Planning a marker set: which measures does it yield, which not and why, and which single lost marker kills which measure?

Nothing is decided by rule: a synthetic person wearing the set stands and squats on either leg, and the stages themselves say
what comes out, once with all markers, once without each of them, and with what the set lacks.
"""

from collections.abc import Collection
from dataclasses import dataclass, field

from condyle.body_names import SIDES
from condyle.files.marker_set import MarkerSet
from condyle.findings import Finding
from condyle.marker_plan.needs import NotGiven, not_given
from condyle.marker_plan.weak import weak_geometry
from condyle.marker_plan.worn import Outcome, dressed, outcome_of
from condyle.measure_dictionary import MEASURES

__all__ = ["MarkerPlan", "NotGiven", "plan_markers"]


@dataclass(frozen=True)
class MarkerPlan:
    """What a marker set yields.

    ``given`` and ``absent`` are measure names per side (stance side); ``lost_with`` says which measures a single lost
    marker (its label) takes away in the movement trial; ``lost_static`` the same for the standing trial; ``why`` groups
    what is absent by what the set lacks; ``standing`` is what the standing trial said.
    """

    given: dict[str, tuple[str, ...]]
    absent: dict[str, tuple[str, ...]]
    standing: tuple[Finding, ...]
    lost_with: dict[str, tuple[str, ...]]
    lost_static: dict[str, tuple[str, ...]]
    weak: tuple[Finding, ...]
    why: dict[str, tuple[NotGiven, ...]] = field(default_factory=dict)


def plan_markers(
    markers: MarkerSet, single_losses: bool = True, only: Collection[str] | None = None, reasons: bool = True
) -> MarkerPlan:
    """What the set yields on the synthetic person.

    ``single_losses`` also tries it without each marker (or ``only`` these), ``reasons`` with what it lacks.
    """
    wearer = dressed(markers)
    whole = outcome_of(wearer)
    given = {side: tuple(m for m in MEASURES if m in whole.given[side]) for side in SIDES}
    absent = {side: tuple(m for m in MEASURES if m not in whole.given[side]) for side in SIDES}
    moving, standing = {}, {}
    for name in markers.points if single_losses else ():
        label = markers.label_of(name)
        if only is not None and label not in only:
            continue
        if name not in markers.static_points:
            moving[label] = _difference(whole, outcome_of(wearer, (), (name,)))
        standing[label] = _difference(whole, outcome_of(wearer, (name,)))
    why = not_given(markers, whole, lambda larger: outcome_of(dressed(larger))) if reasons else {}
    return MarkerPlan(given, absent, tuple(whole.standing), moving, standing, tuple(weak_geometry(wearer)), why)


def _difference(whole: Outcome, less: Outcome) -> tuple[str, ...]:
    """Measures lost on any side, in the dictionary's order."""
    gone = set().union(*(whole.given[s] - less.given[s] for s in SIDES))
    return tuple(m for m in MEASURES if m in gone)
