"""The output dictionary names every column, measure and variable, and says what the code says."""

from pathlib import Path

import pytest

from condyle import account_words, column_words, dictionary
from condyle.archive.collect import COLUMNS as ARCHIVE_COLUMNS
from condyle.archive.collect import SESSIONS
from condyle.body_names import JOINT_ANGLES
from condyle.compared_words import REPEATABILITY
from condyle.curve_table import CURVES_COLUMNS, PATH_COLUMNS
from condyle.landmark_tables import loss_rows, not_given_rows
from condyle.marker_plan import plan_markers
from condyle.measure_dictionary import MEASURES
from condyle.mechanics.verdict import CAUSES, FROM_BELOW
from condyle.overridden import OVERRIDDEN
from condyle.repeatability.angle_tables import ANGLE_COLUMNS, AXES_COLUMNS, CENTRE_COLUMNS
from condyle.repeatability.placing_tables import DISTANCE_COLUMNS, LANDMARK_COLUMNS
from condyle.repeatability.reliability_table import COLUMNS as REPEATABILITY_COLUMNS
from condyle.repeatability.summary_table import COMPARED_COLUMNS
from condyle.result_tables import (
    CONTRIBUTIONS_COLUMNS,
    MEASURES_COLUMNS,
    QUALITY_COLUMNS,
    REPETITIONS_COLUMNS,
    SUMMARY_COLUMNS,
)
from condyle.stages.accounts import ACCOUNTS, SOURCES
from condyle.vocabulary import COORDINATES, VARIABLES

DOCS = Path(__file__).parents[1] / "docs"
WRITTEN = {
    "measures": MEASURES_COLUMNS,
    "contributions": CONTRIBUTIONS_COLUMNS,
    "repetitions": REPETITIONS_COLUMNS,
    "summary": SUMMARY_COLUMNS,
    "curves": tuple(c for c in CURVES_COLUMNS if c not in (*JOINT_ANGLES, *PATH_COLUMNS)),
    "quality": QUALITY_COLUMNS,
}


def test_output_dictionary_is_up_to_date(capsys: pytest.CaptureFixture[str]) -> None:
    status = dictionary.main(["--check", "--quick"])
    assert status == 0, f"run python -m condyle.dictionary: {capsys.readouterr().out}"


@pytest.mark.parametrize("table", WRITTEN)
def test_the_words_have_exactly_the_columns_that_are_written(table: str) -> None:
    assert set(column_words.TABLES[table][1]) == set(WRITTEN[table])


def test_the_words_know_every_table_source_and_cause() -> None:
    assert set(column_words.TABLES) == set(WRITTEN)
    assert tuple(column_words.SESSIONS) == SESSIONS
    for name, columns in ARCHIVE_COLUMNS.items():
        assert set(columns) == set(WRITTEN[name])
    of_pairs = {
        **{"compared": COMPARED_COLUMNS, "landmarks": LANDMARK_COLUMNS, "distances": DISTANCE_COLUMNS},
        **{"axes": AXES_COLUMNS, "centres": CENTRE_COLUMNS, "standing": ANGLE_COLUMNS},
    }
    repeated = {name: (*columns, OVERRIDDEN) for name, columns in of_pairs.items()}
    repeated["repeatability"] = REPEATABILITY_COLUMNS
    assert {name: tuple(columns) for name, (_, columns) in REPEATABILITY.items()} == repeated
    assert set(account_words.SOURCES) == set(SOURCES)
    assert tuple(account_words.CAUSES) == CAUSES
    assert tuple(account_words.CAUSES_BELOW) == FROM_BELOW


def test_every_name_that_can_be_written_stands_on_the_page() -> None:
    text = (DOCS / "output_dictionary.md").read_text(encoding="utf-8")
    names = [*MEASURES, *VARIABLES, *COORDINATES, *ACCOUNTS, *SOURCES, *JOINT_ANGLES, *PATH_COLUMNS]
    assert not [name for name in names if f"`{name}`" not in text]


def test_every_measure_has_definition_unit_sign_and_source() -> None:
    for measure in MEASURES.values():
        assert measure.unit in {"deg", "mm", "s", "%", "1"}, measure.name
        assert all((measure.positive, measure.definition, measure.source)), measure.name


@pytest.mark.parametrize(
    ("name", "points"),
    [
        ("landmarks_lower_body", {"calcaneus_r": "R_HEEL"}),
        ("clusters_full_body", {"patella_l": "L_PATELLA"}),
    ],
)
def test_landmark_tables_say_what_the_marker_plan_says(name: str, points: dict[str, str]) -> None:
    """A few points of each set; ``python -m condyle.dictionary --check`` compares all of them."""
    text = (DOCS / "landmarks_to_measures.md").read_text(encoding="utf-8")
    section = text.partition(f"<!-- generated: {name} -->")[2].partition("<!-- end -->")[0]
    markers = dictionary.shipped_set(name)
    plan = plan_markers(
        markers, only=tuple(points.values()), reasons=name == "clusters_full_body"
    )  # the quicker of them
    given = set(plan.given["left"]) | set(plan.given["right"])
    assert f"{len(given)} of {len(MEASURES)} measures." in section, "run python -m condyle.dictionary"
    for names, add, why in not_given_rows(plan) if plan.why else ():
        assert f"| {names} | {add} | {why} |" in section, "run python -m condyle.dictionary"
    made = loss_rows(markers, plan)
    assert len(made) == len(points)
    for _, without, lost in made:
        assert f"| {without} | {lost} |" in section, "run python -m condyle.dictionary"


def test_what_is_out_of_date_is_said_and_then_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "docs").mkdir()
    page = tmp_path / dictionary.PAGE
    page.write_text("before\n<!-- generated: sources -->\nold\n<!-- end -->\nafter\n")
    (tmp_path / dictionary.LANDMARK_PAGE).write_text("")
    assert dictionary.main(["--root", str(tmp_path), "--check", "--quick"]) == 1
    assert "out of date" in capsys.readouterr().out
    assert "old" in page.read_text()
    assert dictionary.main(["--root", str(tmp_path), "--quick"]) == 0
    assert "pelvis_rotation" in page.read_text()
    assert "old" not in page.read_text()
    assert dictionary.main(["--root", str(tmp_path / "elsewhere"), "--check"]) == 2
