"""Where a trial has a name of its own, neither its file's name nor a folder that may be a person's is copied out."""

import json
import shutil
from pathlib import Path

import pytest

from condyle.command import main
from condyle.files.fingerprints import sha256_of_file
from condyle.files.netcdf import read_trial
from condyle.files.reference import own_folders
from tests.small_sessions import PIPELINE, base_recordings

FILE = "Mustermann_squat_1987-03-05.c3d"
SESSION = """\
participant: {{id: MR01}}
session: {name}
pipeline: ../../configs/squat.yaml
static: {static}
trials:
  - {{file: "{file}", name: squat_right, side: right}}
{more}"""


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sessions of Erika Mustermann, the second naming the first, and the lab's own pipeline with references."""
    place = tmp_path_factory.mktemp("lab")
    (recorded,) = base_recordings(place / "recorded", ("controlled",))
    (place / "configs" / "reference").mkdir(parents=True)
    (place / "configs" / "squat.yaml").write_text(PIPELINE.replace("]", ", report]"))
    for name, more in (("first", ""), ("second", "previous: ../s1\n")):
        folder = place / "Erika Mustermann" / ("s1" if name == "first" else "s2")
        folder.mkdir(parents=True)
        shutil.copy(recorded / "static.c3d", folder)
        shutil.copy(recorded / "squat.c3d", folder / FILE)
        text = SESSION.format(name=name, static="static.c3d", file=FILE, more=more)
        (folder / "session.yaml").write_text(text)
    return place


@pytest.fixture(scope="module")
def out(lab: Path) -> Path:
    """Results of the second session, elsewhere than beside it; those of the first beside it."""
    assert main(["run", str(lab / "Erika Mustermann" / "s1")]) == 0
    assert main(["run", str(lab / "Erika Mustermann" / "s2"), "--out", str(lab / "out")]) == 0
    return lab / "out"


def test_no_output_holds_the_name_or_the_date_of_birth(out: Path) -> None:
    written = [path for path in out.rglob("*") if path.is_file()]
    assert {path.name for path in written} >= {"manifest.json", "quality.csv", "report.html", "squat_right.nc"}
    for path in written:
        content = path.read_bytes()
        assert not [name for name in (b"Mustermann", b"Erika", b"1987-03-05") if name in content], path.name
        assert "Mustermann" not in path.name


def test_attributes_and_texts_of_the_netcdf_are_free_of_it_when_decompressed(out: Path) -> None:
    trial = read_trial(out / "trials" / "squat_right.nc")
    texts = [variable.values.tolist() for variable in trial.variables.values() if variable.dtype.kind in "OSU"]
    assert texts
    assert not any("Mustermann" in str(words) for words in (trial.attrs, *texts))


def test_the_file_can_be_found_again_by_its_content(out: Path, lab: Path) -> None:
    manifest = json.loads((out / "manifest.json").read_text())
    sha256 = sha256_of_file(lab / "Erika Mustermann" / "s2" / FILE)
    assert {"trial": "squat_right", "file": "", "sha256": sha256} in manifest["inputs"]
    assert manifest["settings"]["session"]["trials"][0]["file"] == f"sha256:{sha256}"
    assert manifest["settings"]["session"]["static"] == ["static.c3d"]
    assert manifest["session_folder"] is None


def test_the_session_before_and_the_labs_own_references_are_found_all_the_same(out: Path, lab: Path) -> None:
    assert "Compared with the last session (first)" in (out / "report.html").read_text()
    manifest = json.loads((out / "manifest.json").read_text())
    assert own_folders(manifest, out) == (lab / "configs" / "reference",)


def test_an_ordinary_session_keeps_its_names_and_its_folder(lab: Path) -> None:
    folder = lab / "MR01" / "s1"
    shutil.copytree(lab / "Erika Mustermann" / "s1", folder, ignore=shutil.ignore_patterns("results"))
    (folder / FILE).rename(folder / "squat.c3d")
    session = (folder / "session.yaml").read_text().replace(FILE, "squat.c3d").replace("name: squat_right, ", "")
    (folder / "session.yaml").write_text(session)
    assert main(["run", str(folder)]) == 0
    manifest = json.loads((folder / "results" / "manifest.json").read_text())
    assert manifest["settings"]["session"]["trials"][0]["file"] == "squat.c3d"
    assert manifest["inputs"][1]["file"] == "squat.c3d"
    assert manifest["session_folder"] == ".."
    assert manifest["pipeline_file"] == "../../../configs/squat.yaml"


def test_shared_settings_and_statics_lose_their_folder_only(lab: Path) -> None:
    folder = lab / "MR02" / "s1"
    folder.mkdir(parents=True)
    text = SESSION.format(name="first", static='"../../Erika Mustermann/s1/static.c3d"', file="none.c3d", more="")
    text = text.replace("name: squat_right, ", "").replace("none.c3d", f"../../Erika Mustermann/s1/{FILE}")
    (folder / "session.yaml").write_text(text + 'previous: "../../Erika Mustermann/s1"\n')
    main(["run", str(folder)])
    declared = json.loads((folder / "results" / "manifest.json").read_text())["settings"]["session"]
    assert declared["static"] == ["static.c3d"]
    assert declared["trials"][0]["file"] == FILE  # a trial that has no name of its own is called by its file
    assert declared["previous"] is None
    assert declared["pipeline"] == "../../configs/squat.yaml"


STATIC, HIP = "Mustermann_standing_1987-03-05.c3d", "Mustermann_hip_1987-03-05.c3d"
ALL_NAMED = """\
participant: {{id: MR01}}
session: third
pipeline: ../../configs/squat.yaml
static: {static}
calibration: [{{file: "{hip}", name: hip_circles, for: hip_r}}, {{file: "{hip}", for: hip_l}}]
trials:
  - {{file: "{file}", name: squat_right, side: right{own}}}
"""


@pytest.mark.usefixtures("without_pictures")  # those of the first test are drawn and read
@pytest.mark.parametrize("own", ["", f', static: "{STATIC}"'])
@pytest.mark.parametrize("several", [False, True])
def test_standing_and_calibration_trials_have_names_too(lab: Path, own: str, several: bool) -> None:
    folder = lab / "MR03" / f"s{own.count('static')}{several:d}"
    folder.mkdir(parents=True)
    for source, target in (("static.c3d", STATIC), ("static.c3d", HIP), (FILE, FILE)):
        shutil.copy(lab / "Erika Mustermann" / "s1" / source, folder / target)
    static = f'{{file: "{STATIC}", name: standing}}'
    text = ALL_NAMED.format(static=f"[{static}]" if several else static, hip=HIP, file=FILE, own=own)
    (folder / "session.yaml").write_text(text)
    assert main(["run", str(folder), "--out", str(lab / f"named{own.count('static')}{several:d}")]) == 0
    out = lab / f"named{own.count('static')}{several:d}"
    for path in (path for path in out.rglob("*") if path.is_file()):
        content = path.read_bytes()
        assert not [name for name in (b"Mustermann", b"Erika", b"1987-03-05") if name in content], path.name
        assert "Mustermann" not in path.name
    assert {path.name for path in (out / "trials").glob("*.nc")} == {"standing.nc", "squat_right.nc"}
    assert "Mustermann" not in str(read_trial(out / "trials" / "standing.nc").attrs)
    manifest = json.loads((out / "manifest.json").read_text())
    declared, found = manifest["settings"]["session"], f"sha256:{sha256_of_file(folder / STATIC)}"
    assert declared["static"] == [{"file": found, "name": "standing"}]
    assert declared["trials"][0]["static"] == ({"file": found, "name": "standing"} if own else None)
    assert [entry["name"] for entry in declared["calibration"]] == ["hip_circles", "hip_circles"]
    assert [entry["trial"] for entry in manifest["inputs"]] == ["hip_circles", "standing", "squat_right"]
    assert "squat_right" in (out / "report.html").read_text()
    advice = (out / "quality.csv").read_text()
    assert "it is not copied into results, for the trial has a `name:`" in advice
    assert "give the trial a `name:`" not in advice
    assert main(["run", str(folder), "--out", str(out)]) == 0  # nothing has changed, so nothing stands in the way
