"""Names that are no pseudonyms are warned of, and never repeated."""

from pathlib import Path

import pytest

from condyle.files.privacy import looks_personal, privacy_findings
from condyle.session import _without_path


@pytest.mark.parametrize(
    "text",
    [
        "MR01",
        "squat_right",
        "SLS_R_01",
        "2026-11-03",
        "standing_1",
        "kneeLeft2",
        "Trial-03",
        "step_down_L",
        "P07",
        "walking_1_4",
        "",
    ],
)
def test_codes_and_trade_words_are_no_names(text: str) -> None:
    assert not looks_personal(text, "MR01")


@pytest.mark.parametrize("text", ["Mustermann_squat", "squatMustermann", "born_1985-03-12", "12.03.1985", "müller_r"])
def test_words_and_dates_of_birth_are_told(text: str) -> None:
    assert looks_personal(text, "MR01")


def test_the_pseudonym_itself_may_be_a_word() -> None:
    assert not looks_personal("edelweiss_squat", "edelweiss")
    assert looks_personal("edelweiss_squat", "MR01")


def test_the_warning_does_not_repeat_the_name() -> None:
    found = privacy_findings(Path("/lab/mustermann/2026-11-03/mustermann_squat.c3d"), ["Mustermann:"], "MR01")
    assert len(found) == 3
    assert all(f.verdict == "review" and f.check == "pseudonym" for f in found)
    assert not any("mustermann" in str(f).casefold() for f in found)


def test_an_error_on_a_renamed_file_goes_by_the_name_given() -> None:
    path = Path("/lab/mustermann_squat.c3d")
    said = _without_path(f"{path}: is damaged, export mustermann_squat.c3d again", path, "squat_1")
    assert said == "squat_1: is damaged, export squat_1 again"
