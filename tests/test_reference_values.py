"""Published values are those of the papers; a z-score is given only where definition, task, depth, sex and age match."""

import json
import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import yaml

from condyle.archive.overview import Overview
from condyle.archive.record import Record
from condyle.errors import ConfigurationErrors
from condyle.files.limits import load_limits
from condyle.files.reference import Reference, load_reference, own_folders, references
from condyle.files.shipped import configs_folder
from condyle.measure_dictionary import MEASURES
from condyle.report.legs import Leg
from condyle.report.reference_values import (
    Context,
    Person,
    Published,
    context,
    incomparable,
    peaks,
    published_for,
    score,
)
from condyle.report.results_read import Results

FILES = sorted((configs_folder() / "reference").glob("*.yaml"))
SQUAT = "single_leg_squat"
OWN = """\
task: single_leg_squat
groups:
  - name: women of our own lab
    people: 24
    sex: female
    age_years: [20, 40]
    knee_flexion_deg: 75
    source: own measurements, 2026
    values:
      - {measure: hip_adduction_range, kind: range, definition: same, mean: 16, sd: 4, unit: deg}
      - {measure: knee_path_length, kind: displacement, definition: same, mean: 200, sd: 50, unit: mm}
      - {measure: hip_internal_rotation_range, kind: range, definition: other, mean: 12, sd: 4, unit: deg}
      - {measure: pelvis_tilt_max, kind: absolute, definition: same, mean: 30, sd: 10, unit: deg}
"""
WOMAN = Person("female", 31.0)


def shipped(measure: str, group: str) -> Reference:
    return next(r for r in references().values[SQUAT, measure] if r.group == group)


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A lab's folder of references, beside its pipeline."""
    folder = tmp_path / "lab" / "reference"
    folder.mkdir(parents=True)
    (folder / "our_women.yaml").write_text(OWN)
    return folder


def leg(depth: float = 77.0, side: str = "right") -> Leg:
    """Two repetitions with a mean hip adduction range of 20 degrees (18 to 24) and a knee path of 150 mm."""
    key = {"trial": "squat", "side": side, "bout": 1}
    values = {
        "hip_adduction_range": (19.0, 21.0, "deg", 18.0, 24.0),
        "hip_internal_rotation_range": (14.0, 16.0, "deg", None, None),
        "knee_path_length": (140.0, 160.0, "mm", None, None),
        "pelvis_tilt_max": (40.0, 42.0, "deg", None, None),
        "knee_flexion_at_bottom": (depth - 1, depth + 1, "deg", None, None),
    }
    measures = pd.DataFrame(
        {**key, "repetition": k + 1, "measure": name, "value": v[k], "unit": v[2], "lower": v[3], "upper": v[4]}
        for name, v in values.items()
        for k in (0, 1)
    )
    repetitions = pd.DataFrame([{**key, "repetition": k, "valid": True} for k in (1, 2)])
    return Leg(side, SQUAT, "", repetitions, measures, pd.DataFrame(), pd.DataFrame())


def beside(folder: Path, person: Person, depth: float = 77.0) -> Context:
    """The table of the lab's own values alone."""
    groups = {
        measure: [r for r in found if "own lab" in r.group]
        for (_, measure), found in references((folder,)).values.items()
        if any("own lab" in r.group for r in found)
    }
    made = context([leg(depth)], Published(groups), person)
    assert made is not None
    return made


@pytest.mark.parametrize(
    ("measure", "men", "women"),
    [  # Weeks, Carty & Horan 2015, BMC Musculoskelet Disord 16:271, Table 1
        ("trunk_flexion_max", (26.6, 11.3), (23.1, 15.3)),
        ("trunk_lean_max", (0.8, 8.3), (0.5, 9.9)),
        ("pelvis_tilt_max", (28.6, 10.5), (32.8, 11.6)),
        ("hip_adduction_max", (12.7, 9.7), (14.4, 9.8)),
        ("hip_internal_rotation_max", (-1.8, 5.7), (3.0, 7.3)),
        ("hip_adduction_range", (11.7, 4.8), (18.3, 6.7)),
        ("hip_internal_rotation_range", (10.7, 3.9), (13.0, 4.2)),
        ("knee_path_length", (180, 51), (227, 50)),  # distance: the whole path
        ("knee_range", (66, 26), (89, 28)),  # displacement: the range
    ],
)
def test_values_vs_weeks_2015_table_1(measure: str, men: tuple[float, float], women: tuple[float, float]) -> None:
    for group, sex, (mean, sd) in (("men 20-40 years", "male", men), ("women 20-40 years", "female", women)):
        found = shipped(measure, group)
        assert (found.mean, found.sd, found.people, found.sex, found.age_years) == (mean, sd, 30, sex, (20, 40))
        assert "(n 30): Weeks" in found.origin
    assert shipped("knee_path_length", "men 20-40 years").words == "men 20-40 years: 180 \N{PLUS-MINUS SIGN} 51"


@pytest.mark.parametrize(
    ("measure", "controls", "pain"),
    [  # Nakagawa et al. 2012, J Orthop Sports Phys Ther 42:491; knee abduction is negative adduction
        ("trunk_lean_max", (6.7, 3.0), (9.3, 5.3)),
        ("pelvis_obliquity_max", (7.4, 3.8), (10.3, 4.7)),
        ("hip_adduction_max", (10.8, 5.6), (14.8, 7.8)),
        ("knee_adduction_min", (-5.8, 3.4), (-9.2, 5.0)),
    ],
)
def test_values_vs_nakagawa_2012(measure: str, controls: tuple[float, float], pain: tuple[float, float]) -> None:
    without, people = (
        shipped(measure, "controls without knee pain"),
        shipped(measure, "people with patellofemoral pain"),
    )
    assert (without.mean, without.sd, without.people, without.with_pain) == (*controls, 40, False)
    assert (people.mean, people.sd, people.people, people.with_pain) == (*pain, 40, True)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_value_belongs_to_a_measure_and_has_a_source(path: Path) -> None:
    for group in load_reference(path).groups:
        assert re.search(r"\d{4}", group.source)
        assert group.with_pain == bool(re.search(r"with .*pain", group.name.replace("without knee pain", "")))
        assert "normal" not in path.read_text().lower()
        for value in group.values:
            assert value.measure in MEASURES
            assert MEASURES[value.measure].unit in {"deg", "mm"}


def test_no_shipped_group_says_how_deep_it_squatted_so_none_is_scored_against() -> None:
    for groups in references().values.values():
        for group in groups:
            assert incomparable(group, Person(group.sex, 30.0), 75.0)


def test_z_is_the_distance_from_the_mean_in_standard_deviations(own: Path) -> None:
    group = references((own,)).values[SQUAT, "hip_adduction_range"][-1]
    assert group.group == "women of our own lab"
    assert score(leg(), "hip_adduction_range", group, WOMAN) == (1.0, 0.5, 2.0)  # (20, 18, 24) less 16, over 4
    rows = {row.what: row for row in beside(own, WOMAN).rows}
    assert rows["hip adduction range"].scores == ["women of our own lab: right 1.0 (0.5 to 2.0)"]
    assert rows["knee path length"].scores == ["women of our own lab: right \N{MINUS SIGN}1.0"]  # (150 - 200) / 50


def test_another_unit_of_the_same_kind_is_converted(own: Path) -> None:
    text = OWN.replace("mean: 200, sd: 50, unit: mm", "mean: 20, sd: 5, unit: cm")
    (own / "our_women.yaml").write_text(
        text.replace("mean: 16, sd: 4, unit: deg", "mean: 0.2792527, sd: 0.0698132, unit: rad")
    )
    path, hip = (references((own,)).values[SQUAT, m][-1] for m in ("knee_path_length", "hip_adduction_range"))
    assert (path.mean, path.sd, path.unit_words) == (200, 50, "")
    assert (hip.mean, hip.sd) == pytest.approx((16, 4), abs=1e-4)


def test_a_unit_of_another_kind_is_refused_with_its_line(own: Path) -> None:
    file = own / "our_women.yaml"
    file.write_text(OWN.replace("sd: 50, unit: mm", "sd: 50, unit: deg"))
    words = r"line 11: .*`knee_path_length` is in mm, and deg is not; expected one of mm, cm, m, in"
    with pytest.raises(ConfigurationErrors, match=words):
        load_reference(file)


def test_where_no_unit_is_named_the_measures_own_is_assumed_and_said(own: Path) -> None:
    (own / "our_women.yaml").write_text(OWN.replace(", unit: mm", "").replace(", unit: deg", ""))
    rows = {row.what: row for row in beside(own, WOMAN).rows}
    assert rows["knee path length"].published == ["women of our own lab: 200 ± 50 (no unit named: mm assumed)"]
    assert rows["knee path length"].scores == ["women of our own lab: right \N{MINUS SIGN}1.0"]
    assert references((own,)).values[SQUAT, "knee_path_length"][-1].words.endswith("(no unit named: mm assumed)")


def test_metres_written_where_millimetres_are_meant_give_a_sentence_and_no_z(own: Path) -> None:
    (own / "our_women.yaml").write_text(OWN.replace("mean: 200, sd: 50, unit: mm", "mean: 0.03, sd: 0.01"))
    made = beside(own, WOMAN)
    rows = {row.what: row for row in made.rows}
    assert rows["knee path length"].scores == []
    assert rows["knee path length"].published == ["women of our own lab: 0.03 ± 0.01 (no unit named: mm assumed)"]
    assert rows["hip adduction range"].scores, "the others keep theirs"
    why = "women of our own lab: knee path length lies more than 10 of its standard deviations from its mean"
    assert f"No z-score against {why}: its unit or definition differs" in made.scores


def test_the_largest_z_of_the_sessions_pipeline_is_the_one_in_force(tmp_path: Path, own: Path) -> None:
    results = session(tmp_path, own)
    results.manifest["settings"]["pipeline"] = {"stages": [{"contributions": {"limits": {"z_score_most": 1.0}}}]}
    found = published_for(results, SQUAT)
    made = context([leg()], Published({"knee_path_length": found.groups["knee_path_length"]}, (), found.limits), WOMAN)
    assert made is not None
    assert made.scored  # (150 - 200) / 50, at the limit
    (own / "our_women.yaml").write_text(OWN.replace("mean: 200, sd: 50", "mean: 200, sd: 40"))
    references.cache_clear()
    found = published_for(results, SQUAT)
    made = context([leg()], Published({"knee_path_length": found.groups["knee_path_length"]}, (), found.limits), WOMAN)
    assert made is not None
    assert "more than 1 of its standard deviations" in made.scores


def test_absolute_values_and_other_definitions_have_no_z_beside_those_that_have(own: Path) -> None:
    made = beside(own, WOMAN)
    assert made.scored
    rows = {row.what: row for row in made.rows}
    assert rows["pelvis tilt, largest"].published == ["women of our own lab: 30.0 ± 10.0"]
    assert rows["pelvis tilt, largest"].scores == []
    assert rows["hip internal rotation range"].scores == []


@pytest.mark.parametrize(
    ("person", "depth", "why"),
    [
        (Person("female", 41.0), 77.0, "another age"),
        (Person("female", 19.9), 77.0, "another age"),
        (Person("male", 31.0), 77.0, "another sex"),
        (Person("female", None), 77.0, "the participant's age is not given"),
        (Person(None, 31.0), 77.0, "the participant's sex is not given"),
        (Person("female", 31.0), 80.1, "depths more than 5 degrees of knee flexion apart"),
        (Person("female", 31.0), 69.9, "depths more than 5 degrees of knee flexion apart"),
        (Person("female", 31.0), float("nan"), "the participant's depth was not measured"),
    ],
)
def test_no_z_for_another_age_sex_or_depth_and_the_reason_once(
    own: Path, person: Person, depth: float, why: str
) -> None:
    made = beside(own, person, depth)
    assert not made.scored
    assert made.scores.count(why) == 1
    assert made.scores.startswith("No z-scores")
    assert len(made.rows) == 4, "the values themselves stay as context"


def test_the_edges_of_age_and_depth_belong_to_the_group(own: Path) -> None:
    assert load_limits("findings")["depth_apart_deg"].value == 5
    for person, depth in ((Person("female", 20.0), 80.0), (Person("female", 40.9), 70.0)):  # 40.9 is 40 years old
        assert beside(own, person, depth).scored


def test_people_with_pain_are_never_scored_against_and_are_told_apart(own: Path) -> None:
    file = own / "our_women.yaml"
    file.write_text(OWN.replace("people: 24", "people: 24\n    with_pain: yes"))
    references.cache_clear()
    assert not beside(own, WOMAN).scored
    ends = peaks({"hip_adduction_max": list(references().values[SQUAT, "hip_adduction_max"])})["hip_adduction"]
    assert {(14.8, 7.8, True), (10.8, 5.6, False)} <= set(ends)


def test_an_absolute_measure_cannot_be_written_as_a_range(own: Path) -> None:
    file = own / "our_women.yaml"
    file.write_text(OWN.replace("pelvis_tilt_max, kind: absolute", "pelvis_tilt_max, kind: range"))
    with pytest.raises(ConfigurationErrors, match=r"line 13: .*`pelvis_tilt_max` is no range.*`kind: absolute`"):
        load_reference(file)


def test_an_unknown_measure_and_an_unknown_group_of_ages_are_told_with_their_line(own: Path) -> None:
    file = own / "our_women.yaml"
    file.write_text(OWN.replace("hip_adduction_range", "hip_aduction_range").replace("[20, 40]", "[40, 20]"))
    with pytest.raises(ConfigurationErrors) as caught:
        load_reference(file)
    assert any("line 6" in s and "the youngest, then the oldest" in s for s in caught.value.sentences)
    assert any("line 10" in s and "`hip_adduction_range`" in s for s in caught.value.sentences)


def test_a_mistake_names_its_line(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text((configs_folder() / "reference" / "weeks_2015.yaml").read_text().replace("sd: 11.3", "sd: 0"))
    with pytest.raises(
        ConfigurationErrors, match=r"mine\.yaml, line \d+: key `sd`.* is `0`; expected a number above 0"
    ):
        load_reference(file)


def session(place: Path, own: Path) -> Results:
    """Results of a session whose pipeline stands beside the lab's folder of references."""
    results = place / "session" / "results"
    results.mkdir(parents=True)
    declared = {"participant": {"sex": "female", "age_years": 31}, "pipeline": f"../{own.parent.name}/pipeline.yaml"}
    manifest: dict[str, Any] = {"settings": {"session": declared}, "session_folder": ".."}
    (results / "manifest.json").write_text(json.dumps(manifest))
    return Results(results, manifest, {})


def test_a_session_finds_the_files_beside_its_pipeline(tmp_path: Path, own: Path) -> None:
    results = session(tmp_path, own)
    assert own_folders(results.manifest, results.folder) == (own,)
    found = published_for(results, SQUAT)
    names = [r.group for r in found.groups["hip_adduction_range"]]
    assert names == ["women 20-40 years", "women of our own lab"]
    assert found.complaints == ()


def test_values_of_one_task_are_not_laid_beside_another(tmp_path: Path, own: Path) -> None:
    assert published_for(session(tmp_path, own), "step_down").groups == {}


def test_a_file_of_the_same_name_replaces_the_shipped_one(tmp_path: Path, own: Path) -> None:
    (own / "our_women.yaml").rename(own / "weeks_2015.yaml")
    found = published_for(session(tmp_path, own), SQUAT)
    assert [r.group for r in found.groups["hip_adduction_range"]] == ["women of our own lab"]


def test_a_labs_file_with_a_mistake_is_left_out_and_complained_of(tmp_path: Path, own: Path) -> None:
    (own / "our_women.yaml").write_text(OWN.replace("people: 24", "people: many"))
    found = published_for(session(tmp_path, own), SQUAT)
    assert [r.group for r in found.groups["hip_adduction_range"]] == ["women 20-40 years"]
    assert len(found.complaints) == 1
    assert "our_women.yaml, line 4" in found.complaints[0]


def test_an_archive_shows_a_labs_own_group_and_marks_people_with_pain(tmp_path: Path, own: Path) -> None:
    import pyarrow as pa

    from condyle.archive.collect import COLUMNS

    results = session(tmp_path, own)
    rows = [
        {"task": SQUAT, "measure": m, "unit": "deg", "value": 18.0}
        for m in ("hip_adduction_range", "hip_adduction_max")
    ]
    columns = {c: pa.array([row.get(c) for row in rows], kind) for c, kind in COLUMNS["measures"].items()}
    overview = Overview(results.folder.parent.parent, ())
    folder = results.folder.relative_to(results.folder.parent.parent).as_posix()
    overview.see(Record(folder, "", "done"), {"measures": pa.table(columns)})
    shown = {row["measure"]: [b["words"] for b in row["reference"]] for row in overview.content()["compared"]}
    assert "women of our own lab: 16 ± 4" in shown["hip_adduction_range"]
    page = overview.page()
    assert "people with patellofemoral pain: 14.8 ± 7.8" in page
    assert page.count('stroke-dasharray="2 1"') == 1


def test_docs_show_a_file_that_can_be_read(tmp_path: Path) -> None:
    page = (Path(__file__).parents[1] / "docs" / "reference_values.md").read_text()
    example = re.search(r"```yaml\n(task:.*?)```", page, re.DOTALL)
    assert example
    file = tmp_path / "example.yaml"
    file.write_text(example[1])
    assert load_reference(file).groups[0].knee_flexion_deg
    for key in yaml.safe_load(example[1])["groups"][0]:
        assert f"`{key}`" in page
