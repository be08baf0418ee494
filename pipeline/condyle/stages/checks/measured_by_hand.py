"""Do the markers of the standing trial agree with what was measured on the participant by hand?"""

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from condyle.body_names import LANDMARKS
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.stages.checks.judging import Limits, judged
from condyle.stages.checks.recorded import Recorded
from condyle.stages.checks.standing import stillest_places

_SHANK_OF_HEIGHT = 0.246  # knee to ankle over stature: Drillis & Contini 1966, in Winter 2009, fig. 4.1 (from memory)
_BY_HAND = "the measured value is used"
_BY_MARKERS = "the markers are used, for both sides of the joint have one"


class _Pair(NamedTuple):
    """Something measured by hand, the limit's name, and the two landmarks whose distance tells it too."""

    key: str
    limit: str
    ends: tuple[str, str]
    markers_wide: float  # marker diameters by which the markers' centres are further apart than the bone
    used: str  # which of the two the calibration goes by


_PAIRS = (
    _Pair("inter_asis_mm", "measured_asis", ("asis_l", "asis_r"), 0.0, _BY_HAND),
    *(
        _Pair(
            f"{joint}_width_{t}_mm", "measured_width", (f"lateral_{bone}_{t}", f"medial_{bone}_{t}"), 1.0, _BY_MARKERS
        )
        for joint, bone in (("knee", "epicondyle"), ("ankle", "malleolus"))
        for t in "rl"
    ),
    *(_Pair(f"leg_length_{t}_mm", "measured_leg", (f"asis_{t}", f"medial_malleolus_{t}"), 0.0, _BY_HAND) for t in "rl"),
)


def measured_findings(seen: Recorded, attrs: dict[str, Any], limits: Limits) -> list[Finding]:
    """A row for each measured value that the markers of a standing trial contradict; ``attrs`` are the trial's."""
    place = stillest_places(seen)
    at = {n: place[k] for k, n in enumerate(seen.names) if n in LANDMARKS and np.isfinite(place[k]).all()}
    return [*_distances(at, attrs, limits), *_height(at, attrs, limits)]


def _distances(at: dict[str, FloatArray], attrs: dict[str, Any], limits: Limits) -> Iterator[Finding]:
    diameter = float(attrs.get("measured_marker_diameter_mm", limits["measured_marker_diameter"].value))
    for pair in _PAIRS:
        given = attrs.get(f"measured_{pair.key}")
        if given is None or not all(name in at for name in pair.ends):
            continue
        first, second = (at[name] for name in pair.ends)
        shown = float(np.linalg.norm(first - second)) - pair.markers_wide * diameter
        apart = abs(shown - float(given))
        verdict, limit = judged(limits, pair.limit, apart)
        if verdict != "pass":
            advice = (
                f"{pair.key} is {float(given):.0f}, by the markers {' and '.join(pair.ends)} it is {shown:.0f}: measure again, "
                f"correct the session file, or see whether a marker is misplaced; {pair.used}."
            )
            yield Finding("measured by hand", pair.key, apart, limit, "mm", verdict, advice)


def _height(at: dict[str, FloatArray], attrs: dict[str, Any], limits: Limits) -> Iterator[Finding]:
    """Stature against the shanks, the longest distance that every marker set's landmarks give between two joints."""
    height = attrs.get("participant_height_mm")
    ends = [(f"lateral_epicondyle{t}", f"lateral_malleolus{t}") for t in ("_r", "_l")]
    shanks = [float(np.linalg.norm(at[a] - at[b])) for a, b in ends if a in at and b in at]
    if height is None or not shanks:
        return
    shank = float(np.mean(shanks))
    apart = 100.0 * abs(shank / (_SHANK_OF_HEIGHT * float(height)) - 1.0)
    verdict, limit = judged(limits, "measured_height", apart)
    if verdict != "pass":
        expected = _SHANK_OF_HEIGHT * float(height)
        advice = (
            f"height_mm is {float(height):.0f}, of which a shank is about {expected:.0f} mm, and by the markers it is {shank:.0f}"
            ": wrong units or scale in the file, another person's file, or a wrong height."
        )
        yield Finding("measured by hand", "height_mm", apart, limit, "%", verdict, advice)
