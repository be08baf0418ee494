"""Names that are no pseudonyms are warned of, and never repeated."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from condyle.command import main
from condyle.files.privacy import file_findings, folder_findings, looks_personal
from condyle.session import _without_path
from tests.small_sessions import PIPELINE, base_recordings

SESSION = """\
participant: {id: MR01}
session: first
pipeline: squat.yaml
static: static.c3d
trials:
"""


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with static.c3d and squat.c3d."""
    (folder,) = base_recordings(tmp_path_factory.mktemp("recorded"), ("controlled",))
    return folder


def session_in(
    folder: Path, recorded: Path, trials: str = "  - {file: squat.c3d, side: right}\n", **called: str
) -> None:
    """A session of those two files, the squat's file called as ``squat`` says."""
    folder.mkdir(parents=True)
    shutil.copy(recorded / "static.c3d", folder)
    shutil.copy(recorded / "squat.c3d", folder / called.get("squat", "squat.c3d"))
    (folder / "squat.yaml").write_text(PIPELINE)
    (folder / "session.yaml").write_text(SESSION + trials)


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


def test_the_warnings_do_not_repeat_the_name() -> None:
    squat = Path("/lab/mustermann/2026-11-03/mustermann_squat.c3d")
    found = file_findings(squat, squat.stem, ["Mustermann:"], "MR01") + folder_findings(squat.parent, [squat], "MR01")
    assert len(found) == 3
    assert all(f.verdict == "review" and f.check == "pseudonym" for f in found)
    assert not any("mustermann" in str(f).casefold() for f in found)


def test_a_file_that_has_a_name_of_its_own_is_said_not_to_be_copied() -> None:
    (found,) = file_findings(Path("/lab/MR01/s1/mustermann.c3d"), "squat_right", [], "MR01")
    assert "not copied into results" in found.advice


@pytest.mark.parametrize(
    ("folder", "places"),
    [
        ("/lab/MR01/2026-11-03", []),
        ("/lab/Mustermann_Erika/visit1", ["the folder above"]),
        ("/lab/Erika Mustermann/s1", ["the folder above"]),
        ("/lab/mustermann/MR/s1", ["the second folder above"]),  # MR is a word of the lab's, and nobody's pseudonym
        ("/lab/mustermann", ["the session folder's name"]),
        ("/lab/Mustermann_Erika/MR01/s1", ["the second folder above"]),  # a full name, above the pseudonym's folder too
        ("/lab/1985-03-12/s1", ["the folder above"]),
        ("/kreuzband/MR01/s1", []),  # above the pseudonym's folder stand the words of the study
        ("/lab/Berg-Dohle/s1", []),  # the pseudonym itself
        ("/Erika Mustermann/lab/group_2/MR01/s1", []),  # further above than a session is described
    ],
)
def test_folders_up_to_the_second_above_are_looked_at(folder: str, places: list[str]) -> None:
    pseudonym = "Berg-Dohle" if "Berg" in folder else "MR01"
    found = folder_findings(Path(folder), [Path(folder) / "squat.c3d"], pseudonym)
    assert len(found) == len(places)
    assert all(place in f.advice for f, place in zip(found, places, strict=True))


def test_the_folder_of_files_that_lie_elsewhere_is_looked_at() -> None:
    (found,) = folder_findings(Path("/out/MR01/s1"), [Path("/lab/Erika Mustermann/squat.c3d")], "MR01")
    assert "a folder of the files" in found.advice


def test_the_users_own_home_is_not_the_participants(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/people/Erika Mustermann")
    assert folder_findings(Path("/people/Erika Mustermann/MR01/s1"), [], "MR01") == []


def test_check_warns_of_a_folder_once_a_session(
    tmp_path: Path, recorded: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "Mustermann_Erika" / "visit1"
    session_in(folder, recorded)
    main(["check", str(folder)])
    lines = [line for line in capsys.readouterr().out.splitlines() if "pseudonym" in line]
    assert len([line for line in lines if "the folder above the session" in line]) == 1
    assert not any("Mustermann" in line for line in lines)


def test_an_error_on_a_renamed_file_goes_by_the_name_given() -> None:
    path = Path("/lab/mustermann_squat.c3d")
    said = _without_path(f"{path}: is damaged, export mustermann_squat.c3d again", path, "squat_1")
    assert said == "squat_1: is damaged, export squat_1 again"


def test_an_error_on_a_file_does_not_carry_its_folders_into_results() -> None:
    path = Path("/lab/Erika Mustermann/squat.c3d")
    assert _without_path(f"{path}: is damaged", path, "squat") == "squat.c3d: is damaged"


def test_an_archive_says_how_many_folders_may_be_called_by_people(
    tmp_path: Path, recorded: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session_in(tmp_path / "root" / "Mustermann_Erika" / "visit1", recorded)
    session_in(tmp_path / "root" / "MR02" / "visit1", recorded)
    other = tmp_path / "root" / "MR02" / "visit1" / "session.yaml"
    other.write_text(other.read_text().replace("MR01", "MR02"))
    assert main(["archive", str(tmp_path / "root"), "--out", str(tmp_path / "out")]) == 0
    (line,) = [line for line in capsys.readouterr().err.splitlines() if "no pseudonym" in line]
    assert "The folders of 1 of 2 sessions" in line
    assert "Mustermann" not in line
    quality = pd.read_parquet(tmp_path / "out" / "quality.parquet")
    said = quality[(quality.check == "pseudonym") & quality.advice.str.contains("the folder above the session")]
    assert said.participant.tolist() == ["MR01"]
