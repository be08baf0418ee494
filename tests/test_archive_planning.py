"""Which sessions an archive holds: folders, links, cohorts, and what a dry run says about them."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from condyle.archive.cohort_file import Cohort
from condyle.archive.found import find
from condyle.archive.run import plan_archive
from condyle.errors import UsageError
from condyle.files.checked import validate
from condyle.files.session_plan import load_session
from condyle.files.shipped import configs_folder
from condyle.files.yaml_text import read_yaml_text
from tests.archives import make_archive, make_session, run, statuses


def test_sessions_are_found_in_order_without_hidden_folders_and_results(tmp_path: Path) -> None:
    for folder in ("b", "a/z", "a", "a-b", ".trash/c", "out/sessions/a"):
        make_session(tmp_path / folder, "MR01", "s", {"squat": "x"})
    (tmp_path / "a" / "results").mkdir()
    (tmp_path / "a" / "results" / "session.yaml").write_text("a copy")
    assert find(tmp_path, tmp_path / "out").sessions == ["a", "a/z", "a-b", "b"]


def test_a_loop_of_links_ends_and_a_linked_session_is_one(tmp_path: Path) -> None:
    root = tmp_path / "root"
    make_session(root / "m" / "s1", "MR01", "s1", {"squat": "x"})
    make_session(tmp_path / "other disk" / "s2", "MR01", "s2", {"squat": "x"})
    (root / "m" / "up").symlink_to(root)
    (root / "a-link-to-s1").symlink_to(root / "m" / "s1")
    (root / "linked").symlink_to(tmp_path / "other disk")
    (root / "self").symlink_to(root / "self")
    (root / "gone").symlink_to(tmp_path / "nowhere")
    found = find(root)
    assert found.sessions == ["linked/s2", "m/s1"]
    assert found.complaints == []


def test_an_unreadable_folder_is_said_and_the_rest_is_done(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = tmp_path / "root"
    make_archive(root, 3)
    scandir = os.scandir

    def refusing(path: Any) -> Iterator["os.DirEntry[str]"]:
        if str(path).endswith("MR02"):
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refusing)
    result = run(root, tmp_path / "out")
    assert result.returncode == 1
    assert result.stderr == "MR02 could not be looked into: permission denied.\n"
    assert set(statuses(tmp_path / "out")) == {"MR01/2026-11-03", "MR01/2027-11-03"}
    assert "MR02 could not be looked into" in (tmp_path / "out" / "overview.html").read_text()


def test_nothing_to_do_is_a_wrong_call(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(UsageError, match=r"no session\.yaml and no cohort\.yaml"):
        plan_archive(tmp_path / "empty")
    with pytest.raises(UsageError, match="is not a folder"):
        plan_archive(tmp_path / "missing")
    assert run(tmp_path / "empty", tmp_path / "out").returncode == 2
    assert not (tmp_path / "out").exists()


COHORT = """\
pattern: "{participant}/{session}/{trial}.c3d"
static: "static*"
participants: people.csv
trials:
  - {name: "*left*", side: left, condition: {shoes: none}}
  - {name: "squat*", side: right}
"""


def write_cohort(root: Path, files: list[str], text: str = COHORT) -> None:
    for name in files:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(name)
    (root / "cohort.yaml").write_text(text)
    (root / "people.csv").write_text("id,sex,mass_kg\nMR01,female,61.5\nMR02,male,\n")


def test_a_cohort_describes_sessions_that_nobody_wrote_by_hand(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    names = ("static_1", "squat_left", "squat_2", "walk")
    write_cohort(root, [f"{p}/2026-11-03/{name}.c3d" for p in ("MR01", "MR02") for name in names])
    make_session(root / "MR03" / "2026-11-03", "MR03", "own", {"squat": "x"})
    result = run(root, out)
    assert result.returncode == 0, result.stdout
    assert list(statuses(out)) == [f"MR0{i}/2026-11-03" for i in (1, 2, 3)]
    session = load_session(out / "sessions" / "MR01" / "2026-11-03")
    assert (session.participant.id, session.participant.sex, session.participant.mass_kg) == ("MR01", "female", 61.5)
    assert [(t.name, t.side, dict(t.condition), t.exists) for t in session.trials] == [
        ("squat_2", "right", {}, True),
        ("squat_left", "left", {"shoes": "none"}, True),
    ]
    assert session.static == (root / "MR01/2026-11-03/static_1.c3d").resolve()
    assert "(3 unchanged)" in run(root, out).stdout
    (root / "people.csv").write_text("id,sex,mass_kg\nMR01,female,63\nMR02,male,\n")
    assert "(2 unchanged)" in run(root, out).stdout
    assert not (root / "MR01" / "2026-11-03" / "session.yaml").exists()


def test_a_cohort_of_files_in_one_folder(tmp_path: Path) -> None:
    root = tmp_path / "root"
    text = COHORT.replace("{participant}/{session}/{trial}", "{participant}_{session}_{trial}")
    files = [f"{p}_{s}_{t}.c3d" for p in ("MR01", "MR02") for s in ("am", "pm") for t in ("static", "squat_1")]
    write_cohort(root, files, text)
    assert plan_archive(root).folders == ("MR01_am", "MR01_pm", "MR02_am", "MR02_pm")
    assert run(root, tmp_path / "out").returncode == 0


def test_a_cohort_that_matches_nothing_is_said_and_the_rest_is_done(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    write_cohort(root, ["MR01/2026/deeper/static.c3d"])
    only = run(root, out)
    assert only.returncode == 2
    assert "cohort.yaml, line 1: no file below this folder matches `{participant}/{session}/{trial}.c3d`" in only.stderr
    make_session(root / "good", "MR09", "s", {"squat": "x"})
    both = run(root, out)
    assert both.returncode == 1
    assert "no file below this folder matches" in both.stderr
    assert statuses(out) == {"good": ("done", "")}


def test_mistakes_in_a_cohort_name_the_line(tmp_path: Path) -> None:
    root = tmp_path / "root"
    write_cohort(root, ["MR01/s/static.c3d"], COHORT.replace("{trial}", "*").replace("static:", "statik:"))
    with pytest.raises(UsageError) as raised:
        plan_archive(root)
    text = str(raised.value)
    assert "cohort.yaml, line 1: key `pattern`: the pattern must hold each of" in text
    assert "cohort.yaml, line 2: key `statik` is not known; nearest valid name: `static`" in text


def test_a_cohort_gives_shipped_marker_sets_and_pipelines_by_name_as_a_session_does(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    text = COHORT + "marker_set: landmarks_lower_body\npipeline: walking\n"
    write_cohort(root, ["MR01/s/static.c3d", "MR01/s/squat.c3d"], text)
    result = run(root, out)
    assert result.returncode == 0, result.stdout
    session = load_session(out / "sessions" / "MR01" / "s")
    assert session.marker_set == configs_folder() / "markers" / "landmarks_lower_body.yaml"
    assert session.pipeline == configs_folder() / "walking.yaml"
    own = text.replace("landmarks_lower_body", "our_set.yaml")
    write_cohort(root, ["our_set.yaml"], own)
    run(root, out)
    assert load_session(out / "sessions" / "MR01" / "s").marker_set == (root / "our_set.yaml").resolve()


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        (
            "marker_set",
            "cluster_full_body",
            "is not there, nor is one of that name shipped; nearest valid name: `clusters_full_body`",
        ),
        ("pipeline", "squats.yaml", "pipeline `squats.yaml` is not there"),
        ("defaults", "facts/shared.yaml", "defaults `facts/shared.yaml` is not there, nor is its folder"),
    ],
)
def test_what_a_cohorts_sessions_share_and_is_missing_is_told_with_its_line(
    tmp_path: Path, key: str, value: str, words: str
) -> None:
    root = tmp_path / "root"
    write_cohort(root, ["MR01/s/static.c3d", "MR01/s/squat.c3d"], f"{key}: {value}\n{COHORT}")
    with pytest.raises(UsageError) as raised:
        plan_archive(root)
    assert f"{root}/cohort.yaml, line 1: " in str(raised.value)
    assert words in str(raised.value)


def test_mistakes_in_a_cohorts_sessions_name_what_the_user_wrote(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    files = {"MR01/s": ("static", "squat"), "MR02/s": ("squat", "walk"), "MR03/s": ("static", "walk")}
    files |= {"MR04/s": ("static", "squat_a b", "squat_a_b"), "MR05/a visit": ("static", "squat")}
    write_cohort(root / "lab", [f"{folder}/{name}.c3d" for folder, names in files.items() for name in names])
    (root / "lab" / "people.csv").write_text("id,sex,height_mm\nMR02,male,1800\nMR01,woman,tall\n")
    told = {
        "lab/MR01/s": "lab/people.csv, line 3: key `sex` in `participant` is `woman`; expected one of female, male",
        "lab/MR02/s": "lab/cohort.yaml, line 2: no file of participant MR02, session s fits the static trial, `static*`; "
        "found squat, walk.",
        "lab/MR03/s": "lab/cohort.yaml, line 4: no file of participant MR03, session s fits any of `trials`; "
        "found static, walk.",
        "lab/MR04/s": "lab/cohort.yaml, line 6: trial `squat_a_b` stands twice",
        "lab/MR05/a visit": "lab/cohort.yaml, line 1: key `session`: `a visit` is no name",
    }
    monkeypatch.chdir(tmp_path)
    dry = run(Path("root"), Path("out"), "--dry-run")
    assert dry.returncode == 1
    assert dry.stdout.endswith("5 sessions: 5 wrong\n")
    assert run(root, out).returncode == 1
    found = statuses(out)
    assert {folder: status for folder, (status, _) in found.items()} == dict.fromkeys(told, "failed")
    for folder, words in told.items():
        assert f"{folder}: wrong: root/{words}" in dry.stdout
        assert found[folder][1].startswith(words)
    assert "female, male; lab/people.csv, line 3: key `height_mm` in `participant` is `tall`" in found["lab/MR01/s"][1]
    assert "session.yaml" not in dry.stdout
    assert "tmp" not in " ".join(reason for _, reason in found.values())


def test_names_of_files_stand_in_a_cohorts_session_files_as_they_are(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    odd = "squat \"a\" # from 'b': {c} \u00e9\u2028\n\t[1] \U0001f9b5 " + "x" * 9
    write_cohort(root, ["MR01/s/static.c3d", f"MR01/s/{odd}.c3d"])
    (root / "MR01" / "s").rename(root / "MR01" / "null")
    assert run(root, out).returncode == 0
    session = load_session(out / "sessions" / "MR01" / "null")
    (trial,) = session.trials
    assert session.name == "null"
    assert trial.file == (root / "MR01" / "null" / f"{odd}.c3d").resolve()


def test_a_dry_run_lists_what_would_be_done_and_writes_nothing(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    make_archive(root, 4)
    fresh = run(root, out, "--dry-run")
    assert fresh.returncode == 0
    assert fresh.stdout.endswith("4 sessions: 4 new\n")
    assert not out.exists()
    run(root, out)
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*")}
    (root / "MR01" / "2026-11-03" / "squat_0.c3d").write_text("changed")
    (root / "MR02" / "2026-11-03" / "session.yaml").write_text("session: s\n")
    lines = run(root, out, "--dry-run").stdout.splitlines()
    assert lines[0] == "MR01/2026-11-03: changed"
    assert lines[2].startswith("MR02/2026-11-03: wrong: ")
    assert {path: path.stat().st_mtime_ns for path in out.rglob("*")} == before


def test_the_cohort_in_the_docs_is_a_valid_one(tmp_path: Path) -> None:
    page = (Path(__file__).parents[1] / "docs" / "how_to_archive.md").read_text()
    text = page.split("```yaml\n")[1].split("```")[0]
    (tmp_path / "cohort.yaml").write_text(text)
    cohort, sentences = validate(Cohort, read_yaml_text(tmp_path / "cohort.yaml"))
    assert sentences == []
    assert cohort is not None
    assert set(cohort.model_fields_set) == set(Cohort.model_fields)  # every key is shown
