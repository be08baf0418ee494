"""What a marker set is judged to yield, before it was worn in any recording."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from condyle.command import main
from condyle.commands.check_markers import loss_lines, stance_lines
from condyle.files.marker_set import MarkerSet, load_marker_set
from condyle.marker_plan import MarkerPlan, NotGiven, plan_markers
from condyle.marker_plan.needs import Piece, enlarged, lacking, not_given
from condyle.marker_plan.weak import WEAK_MM
from condyle.marker_plan.worn import Outcome, dressed, joint_centre, outcome_of, places
from condyle.measure_dictionary import MEASURES
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
    plan = plan_markers(load_marker_set(path), single_losses=False, reasons=False)
    assert not [f for f in (*plan.standing, *plan.weak) if f.verdict == "reject" or f.check == "collinear cluster"]
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
        place_of = places(markers, person)
        for segment in ("thigh_r", "shank_l"):
            names = markers.tracking_points(segment)
            centres = {n: joint_centre(person, segment, n) for n in names}
            points = np.array([place_of[n][1] if c is None else c for n, c in centres.items()])
            assert second_spread(points) > WEAK_MM / 2.0, (segment, names)


FULL = Path(__file__).parents[1] / "configs" / "markers" / "clusters_full_body.yaml"


def without(markers: MarkerSet, landmark: str) -> MarkerSet:
    """The set as if it had never had this landmark, all others left on."""
    return MarkerSet.model_validate(
        {
            "landmarks": {n: x for n, x in markers.landmarks.items() if n != landmark},
            "tracking": {s: t.model_dump() for s, t in markers.tracking.items()},
        }
    )


def test_the_landmark_that_is_named_gives_what_is_missing_and_on_its_side_only() -> None:
    less = without(load_marker_set(FULL), "medial_malleolus_r")
    plan = plan_markers(less, single_losses=False)
    (group,) = (n for n in plan.why["right"] if n.add)
    assert [p.name for p in group.add] == ["medial_malleolus_r"]
    assert {"knee_adduction_at_bottom", "ankle_inversion_change", "fppa_max"} <= set(group.measures)
    assert set(group.measures) <= outcome_of(dressed(enlarged(less, group.add))).given["right"]
    assert not [n for n in plan.why["left"] if n.add]
    assert sum(len(n.measures) for n in plan.why["right"]) == len(plan.absent["right"])
    for unmarked in plan.why["left"]:  # what no marker would add has a reason of its own each
        assert unmarked.why.endswith(("only there", "force plates in the file"))
    assert {m for n in plan.why["left"] for m in n.measures} == set(plan.absent["left"])


def lacks(markers: MarkerSet, name: str) -> bool:
    return name not in markers.landmarks and name not in markers.tracking


def made_up(markers: MarkerSet) -> Outcome:
    """A world in which these measures need these pieces, so that what is found can be compared with what is so."""
    given: dict[str, set[str]] = {"left": set(), "right": set()}
    for side, tail in (("left", "_l"), ("right", "_r")):
        if lacks(markers, f"lateral_epicondyle{tail}") or lacks(markers, f"thigh{tail}"):
            continue
        given[side].add("hip_flexion_at_bottom")
        if not lacks(markers, f"medial_epicondyle{tail}"):
            given[side].add("hip_adduction_at_bottom")
        frame = ("acromion_r", "acromion_l"), ("t10", "jugular_notch", "xiphoid")
        if not lacks(markers, "c7") and any(not any(lacks(markers, n) for n in names) for names in frame):
            given[side].add("trunk_lean_at_bottom")
        if not any(lacks(markers, f"lateral_malleolus{t}") for t in ("_l", "_r")):
            given[side].add("com_offset_bottom")
        if f"patella{tail}" in markers.landmarks and f"patella{tail}" not in markers.static_points:
            given[side].add("patella_travel")
    return Outcome(given, [], {})


def test_needs_are_the_least_that_suffices_and_alternatives_are_not_asked_for_together() -> None:
    little = MarkerSet.model_validate(
        {
            "landmarks": {
                "asis_r": "RA",
                "asis_l": "LA",
                "sacrum": "S",
                "lateral_epicondyle_r": "RK",
                "patella_r": "RP",
            },
            "tracking": {"pelvis": ["RA", "LA", "S"], "thigh_r": ["RT1", "RT2", "RT3"]},
            "static_only": ["RP"],
        }
    )
    found = not_given(little, made_up(little), made_up)
    needs = {side: {m: {p.name for p in n.add} for n in found[side] for m in n.measures} for side in ("left", "right")}
    assert "hip_flexion_at_bottom" not in needs["right"]
    assert needs["right"]["hip_adduction_at_bottom"] == {"medial_epicondyle_r"}
    assert needs["right"]["trunk_lean_at_bottom"] == {"c7", "acromion_r", "acromion_l"}
    assert needs["right"]["com_offset_bottom"] == {"lateral_malleolus_l", "lateral_malleolus_r"}
    assert needs["right"]["patella_travel"] == {"patella_r (left on after the standing trial)"}
    base = {"lateral_epicondyle_l", "3 tracking points of thigh_l"}
    assert needs["left"]["hip_flexion_at_bottom"] == base
    assert needs["left"]["hip_adduction_at_bottom"] == base | {"medial_epicondyle_l"}
    assert needs["left"]["patella_travel"] == base | {"patella_l"}
    for side in ("left", "right"):
        assert sorted(needs[side]) == sorted(set(MEASURES) - made_up(little).given[side])
    assert not [p for p in lacking(little) if "psis" in p.name]  # the sacrum stands in for them


def test_a_set_that_yields_nothing_is_not_told_that_markers_can_be_spared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "markers.yaml"
    path.write_text("landmarks: {asis_r: RA, asis_l: LA}\ntracking: {pelvis: [RA, LA, S]}\n")
    monkeypatch.setattr("condyle.marker_plan.not_given", lambda *_: {"left": (), "right": ()})  # tried elsewhere
    assert main(["check", str(path)]) == 1
    said = capsys.readouterr().out
    assert "0 measures given" in said
    assert "no measure is given, so no single marker can be lost or spared" in said
    assert "can be spared" not in said.replace("lost or spared", "")
    assert "reject markers  pelvis: calibration" in said


def test_each_side_says_what_it_lacks_and_a_reason_is_given_once() -> None:
    knee, ankle = (Piece(f"medial_{n}_r", (f"medial_{n}_r",), "", f"why {n}") for n in ("epicondyle", "malleolus"))
    hip = tuple(m for m in MEASURES if m.startswith("hip_adduction_") and "_by_" not in m)
    force = NotGiven(("cop_offset_start",), (), "force plates")
    right = (NotGiven(hip, (knee,)), NotGiven(("shank_tilt",), (knee, ankle)), force)

    def plan(left: tuple[NotGiven, ...], given: tuple[str, ...] = ("depth",)) -> MarkerPlan:
        both = {"left": given, "right": ("depth",)}
        return MarkerPlan(both, {"left": (), "right": ()}, (), {}, {}, (), {"left": left, "right": right})

    assert stance_lines(plan((force,))) == [
        "right stance: 1 measures given, 0 not",
        *("  not given: hip_adduction_*", "    add medial_epicondyle_r (why epicondyle)"),
        *("  not given: shank_tilt", "    add medial_epicondyle_r, medial_malleolus_r (why malleolus)"),
        *("  not given: cop_offset_start", "    force plates"),
        "left stance: 1 measures given, 0 not",
        *("  not given: cop_offset_start", "    force plates"),
    ]
    left = tuple(
        NotGiven(n.measures, tuple(Piece(p.name[:-1] + "l", (p.name[:-1] + "l",), "", p.why) for p in n.add), n.why)
        for n in right
    )
    assert stance_lines(plan(left))[0] == "right stance, and the left one likewise: 1 measures given, 0 not"
    assert len(stance_lines(plan(left))) == 7
    assert stance_lines(plan(left, ()))[-6:] == [
        "left stance: 0 measures given, 0 not",
        "  no measure at all: add medial_epicondyle_l (why epicondyle)",
        *("  not given: shank_tilt", "    also add medial_malleolus_l (why malleolus)"),
        *("  not given: cop_offset_start", "    force plates"),
    ]


def test_a_loss_of_all_that_is_given_is_every_measure() -> None:
    given = ("depth", "ascent_time")
    lines = loss_lines({"A": given, "B": (), "C": given, "D": ("depth",)}, given)
    assert lines == ["  A, C: every measure", "  D: depth"]
    assert loss_lines({"A": ()}, given) == ["  nothing: every single marker can be spared"]
