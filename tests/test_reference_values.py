"""Published values are those of the papers, for measures that exist, in their units."""

import re
from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from condyle.files.reference import load_reference, references
from condyle.files.shipped import configs_folder
from condyle.measure_dictionary import MEASURES

FILES = sorted((configs_folder() / "reference").glob("*.yaml"))


def test_reference_values_vs_weeks_2015_table_1() -> None:
    men, women = references()["single_leg_squat", "hip_adduction_max"][:2]
    assert (men.mean, men.sd, men.people) == (12.7, 9.7, 30)
    assert (women.mean, women.sd) == (14.4, 9.8)
    men, women = references()["single_leg_squat", "knee_path_length"]
    assert (men.mean, women.mean) == (180, 227)
    assert men.words == "men 20-40 years: 180 \N{PLUS-MINUS SIGN} 51"
    assert "(n 30): Weeks" in men.origin


def test_reference_values_vs_nakagawa_2012() -> None:
    controls = references()["single_leg_squat", "pelvis_obliquity_max"][0]
    assert (controls.mean, controls.sd, controls.people) == (7.4, 3.8, 40)
    assert references()["single_leg_squat", "knee_adduction_min"][0].mean == -5.8  # 5.8 of abduction


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_value_belongs_to_a_measure_and_has_a_source(path: Path) -> None:
    for group in load_reference(path).groups:
        assert re.search(r"\d{4}", group.source)
        for value in group.values:
            assert value.measure in MEASURES
            assert MEASURES[value.measure].unit in {"deg", "mm"}


def test_a_mistake_names_its_line(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text(FILES[0].read_text().replace("sd: 11.3", "sd: 0"))
    with pytest.raises(
        ConfigurationErrors, match=r"mine\.yaml, line \d+: key `sd`.* is `0`; expected a number above 0"
    ):
        load_reference(file)
