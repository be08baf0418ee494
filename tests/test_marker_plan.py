"""What a marker set is judged to yield, before it was worn in any recording."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from condyle.files.marker_set import MarkerSet, load_marker_set
from condyle.marker_plan import WEAK_MM, _joint_centre, _places, plan_markers
from condyle.mechanics.rigid_fit import second_spread
from condyle.sample import build_person
from tests.open_sessions import SKIN

LANDMARKS = {
    f"{name}_{side}": f"{side}_{name}"
    for side in "rl"
    for name in (
        *("lateral_epicondyle", "medial_epicondyle", "greater_trochanter"),
        *("lateral_malleolus", "medial_malleolus", "tibial_tuberosity"),
    )
}


def test_a_sparse_set_hung_on_joint_centres_is_not_called_collinear(tmp_path: Path) -> None:
    path = tmp_path / "markers.yaml"
    path.write_text(SKIN)
    plan = plan_markers(load_marker_set(path), single_losses=False)
    assert not [f for f in (*plan.reasons, *plan.weak) if f.verdict == "reject" or f.check == "collinear cluster"]
    assert {"knee_flexion_at_bottom", "hip_flexion_at_bottom", "depth"} <= set(plan.given["right"])
    assert plan.given["right"] == plan.given["left"]
    assert "knee_adduction_at_bottom" not in plan.given["right"]  # no medial marker, no width


_OWN = ("{0}_own1", "{0}_own2", "{0}_own3")
_THIGH = ("hip_{0}", "knee_{0}", "{0}_lateral_epicondyle", "{0}_greater_trochanter", "{0}_medial_epicondyle", *_OWN)
_SHANK = ("knee_{0}", "ankle_{0}", "{0}_tibial_tuberosity", "{0}_lateral_malleolus", "{0}_medial_malleolus", *_OWN)


@pytest.mark.parametrize("own", [1, 2, 3])
def test_markers_of_unknown_place_are_off_every_line_of_the_others(tmp_path: Path, own: int) -> None:
    person = build_person()
    for known in combinations(range(5), 3 - own):
        thigh, shank = (", ".join([*(n[k] for k in known), *n[5 : 5 + own]]) for n in (_THIGH, _SHANK))
        markers = MarkerSet.model_validate(
            {
                "landmarks": LANDMARKS,
                "tracking": {"thigh_r": thigh.format("r").split(", "), "shank_l": shank.format("l").split(", ")},
            }
        )
        places = _places(markers, person)
        for segment in ("thigh_r", "shank_l"):
            names = markers.tracking_points(segment)
            centres = {n: _joint_centre(person, segment, n) for n in names}
            points = np.array([places[n][1] if c is None else c for n, c in centres.items()])
            assert second_spread(points) > WEAK_MM / 2.0, (segment, names)
