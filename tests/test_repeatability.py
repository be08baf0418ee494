"""Across sessions: a landmark placed elsewhere is named with its direction; repeat sessions give SEM and MDC."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.command import main
from condyle.errors import DataError, UsageError
from condyle.mechanics.reliability import intraclass_intervals
from condyle.mechanics.standing_body import Sizes
from condyle.repeatability import Comparison, compare_sessions, sentences_of
from condyle.repeatability.comparing import repeatability_yaml
from condyle.repeatability.gathering import Gathered, gather
from condyle.repeatability.pair import Pair, pairs_of
from condyle.repeatability.placing_tables import landmarks_table
from condyle.repeatability.reliability_table import reliability_table
from condyle.repeatability.sentences import _left_of_the_named
from condyle.repeatability.standing import Standing
from condyle.sample import Options, Person, build_person, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.stages.calibration_choices import Choices

# Shrout & Fleiss 1979, Psychol Bull 86:420, table 2: six targets by four judges
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=float
)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sessions of two people; in the second of MR01 the right tuberosity marker sits 40 mm lower.

    In that of MR02 the right lateral epicondyle sits 1 mm further forward: far within palpation, but angles vary.
    """
    place = tmp_path_factory.mktemp("lab")
    options = Options.ideal(timing=Timing(repetitions=2), rate_hz=50.0)
    squat = {"squat_right": [("right", "controlled")]}
    names = {"marker_set": "clusters_full_body", "pipeline": "single_leg_squat"}
    for k, name in enumerate(("MR01", "MR02")):
        person = build_person(name, height_mm=1700 + 60 * k)
        moved, by = ("tibial_tuberosity_r", (0, -40.0, 0)) if name == "MR01" else ("lateral_epicondyle_r", (1.0, 0, 0))
        segment, where = person.points[moved]
        later = replace(person, points=dict(person.points) | {moved: (segment, where + np.array(by))})
        for date, who in (("2026-11-03", person), ("2026-11-10", later)):
            write_session(place / name / date, simulate_session(who, squat, options, date=date), **names)
    return place


@pytest.fixture(scope="module")
def pairs(root: Path) -> list[Pair]:
    sessions, refused = gather(root)
    assert refused == []
    found, apart = pairs_of(sessions)
    assert apart == []
    return found


def test_the_landmark_placed_elsewhere_is_named_with_its_direction(pairs: list[Pair]) -> None:
    table = landmarks_table(pairs)
    worst = table.iloc[0]
    assert (worst.participant, worst.landmark, worst.verdict) == ("MR01", "tibial_tuberosity_r", "review")
    assert worst.superior_mm == pytest.approx(-40, abs=1.0)
    assert (worst.anterior_mm, worst.right_mm) == (pytest.approx(0, abs=1.0), pytest.approx(0, abs=1.0))
    assert worst.limit_mm < 40
    assert set(table[table.verdict == "review"].landmark) == {"tibial_tuberosity_r"}


def test_sem_of_session_means_is_the_root_of_the_mean_square_within_people(root: Path) -> None:
    sessions, _ = gather(root)
    measures = sessions[1].measures.copy()
    at = measures.measure == "knee_flexion_at_bottom"
    measures.loc[at, "value"] += 2.0  # one session of four reads 2 degrees more
    sessions[1] = replace(sessions[1], measures=measures)
    row = reliability_table(sessions).set_index("measure").loc["knee_flexion_at_bottom"]
    # (2/2)^2 * 2 / 2 degrees of freedom (Weir 2005): mean square within 1.0
    assert row.sem_mean == pytest.approx(1.0, abs=0.02)
    assert row.mdc95_mean == pytest.approx(1.96 * np.sqrt(2) * row.sem_mean)


def test_a_session_with_a_copied_standing_trial_is_not_compared(root: Path, tmp_path: Path) -> None:
    for date in ("2026-11-03", "2026-11-10", "2026-11-17"):
        shutil.copytree(root / "MR02" / min(date, "2026-11-10"), tmp_path / date)
    text = (tmp_path / "2026-11-17" / "session.yaml").read_text()
    (tmp_path / "2026-11-17" / "session.yaml").write_text(text.replace("2026-11-10", "2026-11-17"))
    found = compare_sessions(tmp_path)
    assert [pair.second.session for pair in found.pairs] == ["2026-11-10"]
    (refused,) = found.refused
    assert refused.startswith(
        "MR02 2026-11-17: the file of its standing trial is, byte for byte, that of MR02 2026-11-10;"
    )
    shutil.rmtree(tmp_path / "2026-11-03")
    with pytest.raises(DataError, match=r"no participant below .* has two sessions left"):
        compare_sessions(tmp_path)


def test_trials_that_are_in_no_measure_and_sessions_of_one_name_are_said(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for date in ("2026-11-03", "2026-11-10"):
        shutil.copytree(root / "MR01" / date, tmp_path / date)
    (tmp_path / "2026-11-10" / "squat_right.c3d").unlink()
    shutil.copytree(root / "MR02" / "2026-11-03", tmp_path / "again")
    text = (tmp_path / "again" / "session.yaml").read_text()
    (tmp_path / "again" / "session.yaml").write_text(text.replace("MR02", "MR01"))
    found = compare_sessions(tmp_path)
    lost, doubled = found.refused
    assert lost.startswith("MR01 2026-11-10: squat_right was rejected and is in no measure: ")
    assert doubled.startswith(f"{tmp_path / 'again'} (MR01 2026-11-03): ") or doubled.startswith(
        f"{tmp_path / '2026-11-03'} "
    )
    assert len(found.pairs) == 1
    assert main(["check", str(tmp_path)]) == 1
    assert "squat_right was rejected" in capsys.readouterr().out


def test_what_is_left_of_a_shift_is_without_the_landmarks_that_are_named(pairs: list[Pair]) -> None:
    (pair,) = (p for p in pairs if p.first.participant == "MR02")
    k = pair.names.index("lateral_epicondyle_r")
    pair = replace(pair, found=pair.found._replace(moved=(k,)))
    np.testing.assert_allclose(_left_of_the_named(pair), pair.effects.angle_without[k], atol=1e-9)
    assert np.nanmax(np.abs(pair.effects.angle - pair.effects.angle_without[k])) > 0.1
    none = replace(pair, found=pair.found._replace(moved=()))
    np.testing.assert_array_equal(_left_of_the_named(none), pair.effects.angle)


def repeats(scores: np.ndarray, sides: tuple[str, ...] = ("right", "left"), constant: float = 0.0) -> list[Gathered]:
    """Sessions of people (rows) at different times (columns), one squat a leg, all legs of a person alike."""
    out = []
    for i, person in enumerate(scores):
        for j, score in enumerate(person):
            rows = [("single_leg_squat", side, "fppa_change", score) for side in sides]
            rows += [("single_leg_squat", side, "depth", constant + 1e-14 * i * j) for side in sides]
            measures = pd.DataFrame(rows, columns=["task", "side", "measure", "value"])
            standing = np.full((len(SIDES), len(JOINT_ANGLES)), np.nan)
            nothing = Choices({}, Sizes(), None, np.zeros((2, 3)), "malleoli", {})
            nowhere = Standing({}, np.full((8, 3, 3), np.nan), np.full((6, 3), np.nan), standing, nothing)
            out.append(Gathered(Path(f"{i}/{j}"), f"MR{i:02d}", str(j), "", nowhere, measures))
    return out


@pytest.mark.parametrize("sides", [("right",), ("right", "left")])
def test_icc_of_people_vs_shrout_fleiss_1979(sides: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("condyle.repeatability.reliability_table.FEWEST_PEOPLE", 6)
    row = reliability_table(repeats(SHROUT_FLEISS, sides)).iloc[0]
    # a second leg that repeats the first adds no person: the same value with one leg and with two
    assert (row.icc_2_1, row.icc_3_1) == (pytest.approx(0.29, abs=0.005), pytest.approx(0.71, abs=0.005))
    assert (row.participants, row.sessions) == (6, 24)
    assert row.sem_mean == pytest.approx(np.sqrt(6.26), abs=0.005)  # their mean square within targets


def test_two_legs_of_one_person_or_too_few_people_give_no_icc() -> None:
    draw = np.random.default_rng(1)
    for people in (1, 2, 9):
        table = reliability_table(repeats(draw.normal(size=(people, 1)) + draw.normal(size=(people, 3))))
        assert table[["icc_2_1", "icc_3_1"]].isna().all(axis=None)
    table = reliability_table(repeats(draw.normal(size=(10, 1)) + draw.normal(size=(10, 3))))
    assert table[["icc_2_1", "icc_3_1"]].notna().all(axis=None)


def test_ten_people_leave_an_icc_half_open_and_five_leave_nothing_vs_shrout_fleiss_1979() -> None:
    def interval(people: int) -> list[float]:  # of an ICC(3,1) of .8 from two sessions: between = 9 times error
        return intraclass_intervals(np.array([9.0, 1.0, 1.0, 1.0, people]), 2)[2].tolist()

    assert interval(10) == pytest.approx([0.38, 0.95], abs=0.005)
    assert interval(5) == pytest.approx([-0.03, 0.98], abs=0.005)


def test_what_does_not_vary_beyond_rounding_has_no_row_and_is_not_passed_on() -> None:
    table = reliability_table(repeats(SHROUT_FLEISS, constant=200.0))
    assert table.measure.tolist() == ["fppa_change"]
    assert "depth" not in repeatability_yaml(table)


def test_people_measured_once_do_not_count() -> None:
    once = repeats(SHROUT_FLEISS[:2, :3])
    row = reliability_table([*once, *repeats(np.array([[0.0], [0.0], [5.0]]))[2:]]).iloc[0]
    assert (row.participants, row.sessions) == (2, 6)


def test_printed_lines_say_how_many_people() -> None:
    def lines(people: int) -> list[str]:
        return sentences_of(Comparison((), reliability_table(repeats(SHROUT_FLEISS[:people])), ()))

    (one,), (six,) = lines(1), lines(6)
    assert one.endswith("(n = 1 participant, 4 sessions; too few to know the error well)")
    assert six.endswith("(n = 6 participants, 24 sessions)")


def test_a_standing_angle_that_is_0_by_definition_is_not_given(root: Path) -> None:
    sessions, _ = gather(root)
    assert "pelvis_rotation_standing" not in set(reliability_table(sessions).measure)


def test_check_of_a_root_writes_tables_picture_and_yaml(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(root), "--out", str(tmp_path), "--strict"]) == 1
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith(
        "review MR01 2026-11-10 against 2026-11-03: tibial_tuberosity_r placed 40 mm off: 40 down (limit "
    )
    assert said[1].startswith("1 of 2 later sessions: no landmark beyond palpation")
    assert sum(line.startswith("review") for line in said) == 1
    assert len([line for line in said if not line.startswith("written")]) < 10
    names = ("compared", "landmarks", "distances", "axes", "centres", "standing")
    tables = {n: pd.read_csv(tmp_path / f"{n}.csv") for n in names}
    assert all(set(t.participant) == {"MR01", "MR02"} for t in tables.values())
    assert tables["compared"].moved.tolist()[0] == "tibial_tuberosity_r"
    assert tables["compared"].verdict.tolist() == ["review", "pass"]
    assert tables["landmarks"].iloc[0].landmark == "tibial_tuberosity_r"
    longer = tables["distances"].iloc[0]
    assert (longer.participant, longer.segment, longer.verdict) == ("MR01", "shank_r", "review")
    assert "tibial_tuberosity_r" in (longer["from"], longer["to"])
    assert "<svg" in (tmp_path / "compared.svg").read_text()
    assert "single_leg_squat.knee_flexion_change" in (tmp_path / "repeatability.yaml").read_text()
    assert main(["check", str(root)]) == 0


def test_the_yaml_names_single_and_mean(root: Path) -> None:
    sessions, _ = gather(root)
    assert "sem_single" in repeatability_yaml(reliability_table(sessions))


SQUAT = {"squat_right": [("right", "controlled")]}


def write(place: Path, person: Person, date: str, tester: str = "T1") -> Path:
    options = Options.ideal(timing=Timing(repetitions=1), rate_hz=50.0)
    made = simulate_session(person, SQUAT, options, date=date)
    folder = write_session(
        place / person.name / date, made, marker_set="clusters_full_body", pipeline="single_leg_squat"
    )
    text = (folder / "session.yaml").read_text().replace("tester: T1", f"tester: {tester}")
    (folder / "session.yaml").write_text(text)
    return folder


def moved(person: Person, by: dict[str, tuple[float, float, float]]) -> Person:
    points = dict(person.points)
    for name, shift in by.items():
        points[name] = (points[name][0], points[name][1] + np.array(shift))
    return replace(person, points=points)


def test_turned_axes_are_shown_with_what_turns_them_and_which_angles_shift(tmp_path: Path) -> None:
    person = build_person("MR01")
    write(tmp_path, person, "2026-11-03")
    write(tmp_path, moved(person, {"lateral_epicondyle_r": (22.0, 0, 0)}), "2026-11-10", tester="T2")
    found = compare_sessions(tmp_path)
    line = sentences_of(found)[0]
    # 22 mm forward on an axis of 98 mm: atan 22 / 98 = 12.7 degrees, so that the hip reads more internal, the knee less
    assert line.startswith(
        "review MR01 2026-11-10 against 2026-11-03 (T2 against T1): axes turned, though their landmarks are within palpation"
    )
    assert "thigh_r by 10 degrees about its superior axis" in line
    assert "through lateral_epicondyle_r, 22 mm off: 22 forward" in line
    pair = found.pairs[0]
    hip, knee = (JOINT_ANGLES.index(f"{n}_internal_rotation") for n in ("hip", "knee"))
    right = SIDES.index("right")
    before, after = pair.first.standing.angle[right], pair.second.standing.angle[right]
    for angle, sign in ((hip, 1.0), (knee, -1.0)):  # the posture is the same: all of the change is made by the axes
        change = after[angle] - before[angle]
        assert change == pytest.approx(sign * 12.7, abs=0.3)
        # short of it, for to the other landmarks it looks like one that is off and several that are a little off
        assert 0.75 < pair.effects.angle[right, angle] / change <= 1.0
    put_back = pair.effects.angle_without[pair.names.index("lateral_epicondyle_r"), right, hip]
    assert abs(put_back) < 3.0
    knee_centre = pair.effects.joint[JOINTS.index("knee_r")]  # midway between the epicondyles, one of which moved
    assert knee_centre == pytest.approx([11.0, 0.0, 0.0], abs=3.0)
    assert np.linalg.norm(np.delete(pair.effects.joint, JOINTS.index("knee_r"), axis=0), axis=1).max() < 3.0
    thigh, superior = SEGMENTS.index("thigh_r"), 1
    assert pair.effects.turn[thigh, superior] == pytest.approx(12.7, abs=pair.turn_within[thigh, superior])


def test_against_two_later_sessions_it_is_the_first_one_that_is_off(tmp_path: Path) -> None:
    person = build_person("MR01")
    write(tmp_path, moved(person, {"asis_l": (0, 60.0, 0)}), "2026-11-03")
    for k, date in enumerate(("2026-11-10", "2026-11-17")):
        write(tmp_path, moved(person, {"t10": (0.01 * k, 0, 0)}), date)  # else the files were copies
    found = compare_sessions(tmp_path)
    assert [p.names[k] for p in found.pairs for k in p.found.moved] == ["asis_l", "asis_l"]
    first = sentences_of(found)[0]
    assert first.startswith("review MR01 2026-11-03 against each of 2 others: asis_l placed ")
    assert "up" in first


def test_another_person_is_not_taken_for_misplaced_landmarks(tmp_path: Path) -> None:
    write(tmp_path, build_person("MR01", height_mm=1600), "2026-11-03")
    write(tmp_path, build_person("MR01", height_mm=1900, pelvis_width_mm=275), "2026-11-10")
    found = compare_sessions(tmp_path)
    line = sentences_of(found)[0]
    assert "times as far apart as palpation explains, so none is named; see whether it is the same person" in line
    assert " mm, then " in line
    assert not found.pairs[0].found.moved


def test_a_session_that_is_refused_is_named_with_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    person = build_person("MR01")
    dates = ("2026-11-03", "2026-11-10", "2026-11-17")
    folders = [write(tmp_path, moved(person, {"t10": (0.01 * k, 0, 0)}), date) for k, date in enumerate(dates)]
    (folders[1] / "static.c3d").write_bytes(b"nothing")
    with pytest.raises(UsageError, match="no participant below"):
        compare_sessions(folders[0].parent / "2026-11-03")
    assert main(["check", str(tmp_path)]) == 1
    said = capsys.readouterr().out.splitlines()[0]
    assert said.startswith(f"not compared: {folders[1]} (MR01 2026-11-10): its standing trial was rejected: static")
    (folders[2] / "session.yaml").unlink()
    with pytest.raises(
        DataError, match=r"two sessions left to compare\.\n.*2026-11-10.*its standing trial was rejected"
    ):
        compare_sessions(tmp_path)
    assert main(["check", str(tmp_path)]) == 1
    assert "its standing trial was rejected" in capsys.readouterr().err
