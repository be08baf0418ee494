"""Session files: resolved from a folder of empty files, and every mistake with its line and nearest name."""

import re
from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from condyle.files.planned import Session
from condyle.files.session_plan import load_session
from condyle.files.shipped import shipped

SOUND = """\
participant: {id: 010, sex: female, height_mm: 1720, mass_kg: 68}
session: 2026-11-03
tester: T2
affected_side: right
static: static.c3d
calibration: [{file: hip_r.c3d, for: hip_r}]
trials:
  - {file: squat_right.c3d, task: single_leg_squat, side: right}
  - {file: squat_left.c3d, side: auto, static: static_2.c3d,
     condition: {shoes: no, arms: crossed}}
  - {file: walk.c3d, task: other, name: walking}
accept: [{trial: walking, subject: R_THIGH_3, check: cluster fit, why: known}]
previous: earlier
"""
FILES = ("static.c3d", "static_2.c3d", "hip_r.c3d", "squat_right.c3d", "squat_left.c3d", "walk.c3d")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in FILES:
        (tmp_path / name).touch()
    (tmp_path / "earlier").mkdir()
    return tmp_path


def load(folder: Path, text: str = SOUND) -> Session:
    (folder / "session.yaml").write_text(text, encoding="utf-8")
    return load_session(folder)


def told(folder: Path, text: str) -> list[str]:
    with pytest.raises(ConfigurationErrors) as caught:
        load(folder, text)
    assert caught.value.status == 2
    return caught.value.sentences


def names(session: Session) -> list[str]:
    return [t.name for t in session.trials]


def trials(*lines: str) -> str:
    return SOUND.partition("trials:")[0] + "trials:\n" + "".join(f"  - {line}\n" for line in lines)


def test_everything_is_resolved(folder: Path) -> None:
    session = load(folder)
    assert session.participant.id == "010"
    assert session.participant.height_mm == 1720.0
    assert (session.name, session.tester, session.affected_side) == ("2026-11-03", "T2", "right")
    assert names(session) == ["squat_right", "squat_left", "walking"]
    assert [t.file for t in session.trials] == [folder / f for f in ("squat_right.c3d", "squat_left.c3d", "walk.c3d")]
    assert [t.static.name for t in session.trials] == ["static.c3d", "static_2.c3d", "static.c3d"]
    assert session.static == folder / "static.c3d"
    assert session.statics == (folder / "static.c3d", folder / "static_2.c3d")
    assert session.calibrations == {"hip_r": folder / "hip_r.c3d"}
    assert session.trials[1].condition == {"shoes": "no", "arms": "crossed"}
    assert [(t.task, t.side) for t in session.trials] == [
        *(("single_leg_squat", "right"), ("single_leg_squat", "auto"), ("other", "auto"))
    ]
    assert session.marker_set == shipped("marker_set")["clusters_full_body"]
    assert session.pipeline == shipped("pipeline")["single_leg_squat"]
    assert session.previous == folder / "earlier"
    assert session.corrections == ()


def test_folder_and_file_are_the_same(folder: Path) -> None:
    assert load(folder) == load_session(folder / "session.yaml")


def test_paths_are_relative_to_the_file_not_to_the_caller(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load(folder)
    monkeypatch.chdir(folder.parent)
    assert load_session(folder.name).trials[0].file == folder / "squat_right.c3d"


def test_a_missing_trial_is_kept_for_a_row_of_its_own(folder: Path) -> None:
    (folder / "walk.c3d").unlink()
    assert [t.exists for t in load(folder).trials] == [True, True, False]


LINES = {
    "unknown key": ("tester:", "testr:", 3, "key `testr` is not known; nearest valid name: `tester`"),
    "unknown key inside": (
        "height_mm",
        "heigth_mm",
        1,
        "key `heigth_mm` in `participant` is not known; nearest valid name: `he",
    ),
    "wrong unit": (
        "1720",
        "172",
        1,
        "key `height_mm` in `participant` is `172`; expected a number of at least 500 in mm",
    ),
    "no number": ("68", "heavy", 1, "key `mass_kg` in `participant` is `heavy`; expected a number in kg"),
    "a name, no pseudonym": ("id: 010", "id: Two Words", 1, "`Two Words` is no pseudonym"),
    "a path, no pseudonym": ("id: 010", "id: ../x", 1, "`../x` is no pseudonym"),
    "session with a slash": ("2026-11-03", "a/b", 2, "key `session`: `a/b` is no name"),
    "no session": ("session: 2026-11-03\n", "", 1, "key `session` is missing"),
    "side": (
        "side: right}",
        "side: rihgt}",
        8,
        "key `side` in `trials[1]` is `rihgt`; expected one of right, left, both, auto;",
    ),
    "task": ("task: other", "task: othr", 11, "key `task` in `trials[3]` is `othr`"),
    "affected side": ("affected_side: right", "affected_side: rigth", 4, "nearest valid name: `right`"),
    "static is not there": (
        "static: static.c3d",
        "static: sttic.c3d",
        5,
        "static trial `sttic.c3d` is not there; nearest name there",
    ),
    "own static is not there": ("static_2.c3d", "other.c3d", 9, "static trial `other.c3d` is not there"),
    "calibration for what": (
        "for: hip_r",
        "for: hip",
        6,
        "key `for` in `calibration[1]` is `hip`; expected one of hip_r, hip_l",
    ),
    "calibration is not there": (
        "file: hip_r.c3d",
        "file: hip.c3d",
        6,
        "calibration trial `hip.c3d` is not there; nearest name",
    ),
    "accepted in no trial": (
        "trial: walking",
        "trial: wlking",
        12,
        "trial `wlking` is not in this session; nearest valid name: `walking`",
    ),
    "accepted without why": (", why: known", "", 12, "key `why` in `accept[1]` is missing; expected the reason"),
    "no earlier session": ("previous: earlier", "previous: erlier", 13, "no such folder: `erlier`"),
    "condition without a word": (
        "shoes: no,",
        "shoes: ,",
        10,
        "key `shoes` in `condition` has no value; expected text",
    ),
    "name with a slash": ("name: walking", "name: a/b", 11, "`a/b` is no trial name"),
}


@pytest.mark.parametrize("name", LINES)
def test_each_mistake_has_its_sentence_with_line(name: str, folder: Path) -> None:
    before, after, line, expected = LINES[name]
    assert SOUND.count(before) == 1
    (sentence,) = told(folder, SOUND.replace(before, after))
    assert sentence.startswith(f"{folder / 'session.yaml'}, line {line}: ")
    assert expected in sentence


CORRECTED = {
    "{file: walk.c3d, use_s: [2.0, 14.5]}": "`use_s` corrects the trial; add `why:`",
    "{file: walk.c3d, leave_out: {repetitions: [1]}}": "`leave_out` corrects the trial; add `why:`",
    "{file: walk.c3d, repetitions_s: [[1, 2, 3]]}": "`repetitions_s` corrects the trial; add `why:`",
    "{file: walk.c3d, use_s: [5, 2], why: x}": "key `use_s` in `trials[1]`: from 5 to 2 s is no part of a trial",
    "{file: walk.c3d, use_s: [5], why: x}": "key `use_s` in `trials[1]` is a list of 1; expected one entry more",
    "{file: walk.c3d, repetitions_s: [[1, 3, 2]], why: x}": "repetition 1 is not start < bottom < end: 1, 3, 2",
    "{file: walk.c3d, repetitions_s: [[1, 2, 3], [2, 4, 5]], why: x}": "repetition 2 starts at 2 s, before the one",
    "{file: walk.c3d, leave_out: {why: x}}": "names neither `repetitions` nor `markers`",
    "{file: walk.c3d, leave_out: {repetitions: [0], why: x}}": "key `repetitions[1]` in `leave_out` is `0`; expected",
}


@pytest.mark.parametrize("entry", CORRECTED)
def test_a_correction_must_make_sense_and_have_a_reason(entry: str, folder: Path) -> None:
    (sentence,) = told(folder, trials(entry))
    assert ", line 8: " in sentence
    assert CORRECTED[entry] in sentence


def test_corrections_are_listed_with_their_reason(folder: Path) -> None:
    session = load(
        folder,
        trials(
            "{file: walk.c3d, use_s: [2, 14.5], repetitions_s: [[3.1, 4, 5.2]], why: stumble,"
            " leave_out: {repetitions: [1], markers: [R_THIGH_3], why: loose}}"
        ),
    )
    assert session.corrections == (
        {"trial": "walk", "correction": "use_s", "value": [2.0, 14.5], "why": "stumble"},
        {"trial": "walk", "correction": "leave_out repetitions", "value": [1], "why": "loose"},
        {"trial": "walk", "correction": "leave_out markers", "value": ["R_THIGH_3"], "why": "loose"},
        {"trial": "walk", "correction": "repetitions_s", "value": [[3.1, 4.0, 5.2]], "why": "stumble"},
    )


def test_a_glob_leaves_out_static_calibration_results_and_what_is_named(folder: Path) -> None:
    (folder / "results").mkdir()
    (folder / "results" / "export.c3d").touch()
    (folder / "notes.txt").touch()
    (folder / "SQUAT_3.C3D").touch()
    text = SOUND.replace("static: static.c3d", "static: [static.c3d, static_2.c3d]")
    everything = text.partition("trials:")[0] + 'trials: "*.c3d"\n'
    assert names(load(folder, everything)) == ["SQUAT_3", "squat_left", "squat_right", "walk"]
    assert names(load(folder, everything.replace('"*.c3d"', '"**/*.c3d"'))) == [
        "SQUAT_3",
        "squat_left",
        "squat_right",
        "walk",
    ]
    mixed = trials('{file: "squat_[rl]*.c3d", side: auto}', "{file: walk.c3d, task: other}", '"*.c3d"')
    session = load(folder, mixed.replace("static: static.c3d", "static: [static.c3d, static_2.c3d]"))
    assert names(session) == ["squat_left", "squat_right", "walk", "SQUAT_3"]
    assert [t.task for t in session.trials].count("other") == 1


def test_a_glob_that_matches_nothing_is_a_mistake(folder: Path) -> None:
    assert "`jump_*.c3d` matches no file in" in told(folder, trials('"jump_*.c3d"'))[0]
    (sentence,) = told(folder, trials('"hip_*.c3d"'))
    assert "besides static, calibration and trials named by themselves" in sentence
    assert "no such" not in sentence


def test_a_file_whose_name_looks_like_a_glob_is_a_file(folder: Path) -> None:
    (folder / "squat[1].c3d").touch()
    assert names(load(folder, trials('"squat[1].c3d"'))) == ["squat[1]"]


@pytest.mark.parametrize(
    "entries",
    [
        ("squat_left.c3d", "{file: walk.c3d, name: squat_left}"),
        ("squat_left.c3d", "{file: walk.c3d, name: SQUAT_LEFT}"),
        ("squat_left.c3d", "squat_left.c3d"),
    ],
)
def test_two_trials_of_one_name_are_a_mistake(entries: tuple[str, ...], folder: Path) -> None:
    (sentence,) = told(folder, trials(*entries))
    assert "stands twice" in sentence
    assert "give one of them another `name:`" in sentence


def test_one_file_may_be_two_trials_of_two_names(folder: Path) -> None:
    first = "{file: walk.c3d, name: early, use_s: [0, 5], why: two bouts}"
    assert names(load(folder, trials(first, first.replace("early", "late")))) == ["early", "late"]


def test_defaults_lie_under_the_session_and_keep_their_own_folder_and_lines(folder: Path) -> None:
    lab = folder / "lab"
    lab.mkdir()
    (lab / "markers.yaml").touch()
    (lab / "lab.yaml").write_text(
        "participant: {sex: male, measured: {knee_width_r_mm: 105, leg_length_r_mm: 900}}\n"
        "tester: T9\nmarker_set: markers.yaml\naffected_side: left\n"
    )
    text = "defaults: lab/lab.yaml\n" + SOUND.replace("sex: female, ", "measured: {leg_length_r_mm: 880}, ")
    session = load(folder, text)
    assert session.marker_set == lab / "markers.yaml", "relative to the file it stands in"
    assert session.participant.sex == "male"
    assert session.participant.measured.knee_width_r_mm == 105.0
    assert session.participant.measured.leg_length_r_mm == 880.0
    assert (session.tester, session.affected_side) == ("T2", "right"), "the session's own word holds"
    (lab / "lab.yaml").write_text("tester: T9\nparticipant:\n  hight_mm: 1700\n")
    (sentence,) = told(folder, text)
    assert sentence.startswith(f"{lab / 'lab.yaml'}, line 3: key `hight_mm` in `participant` is not known")


def test_defaults_that_are_not_there_or_go_round_in_circles(folder: Path) -> None:
    assert "line 1: key `defaults`: no such file: lab.yaml" in told(folder, "defaults: lab.yaml\n" + SOUND)[0]
    assert "leads back to this file" in told(folder, "defaults: session.yaml\n" + SOUND)[0]
    assert "expected the path of one YAML file" in told(folder, "defaults:\n" + SOUND)[0]


def test_marker_set_and_pipeline_by_path_or_by_name(folder: Path) -> None:
    (folder / "mine.yaml").touch()
    session = load(folder, SOUND + "marker_set: mine.yaml\npipeline: walking\n")
    assert session.marker_set == folder / "mine.yaml"
    assert session.pipeline == shipped("pipeline")["walking"]
    sentences = told(folder, SOUND + "marker_set: min.yaml\npipeline: wlking\n")
    assert "line 14: marker set `min.yaml` is not there; nearest name there: `mine.yaml`" in sentences[0]
    assert "line 15: pipeline `wlking` is neither a file nor shipped; nearest valid name: `walking`" in sentences[1]


def test_a_folder_without_session_file(tmp_path: Path) -> None:
    (tmp_path / "sesion.yaml").touch()
    with pytest.raises(ConfigurationErrors, match=r"no session.yaml in this folder; nearest name there: `sesion.yaml`"):
        load_session(tmp_path)
    (tmp_path / "sesion.yaml").unlink()
    with pytest.raises(
        ConfigurationErrors, match=r"no session.yaml in this folder; `condyle draft .*` writes a first one"
    ):
        load_session(tmp_path)
    with pytest.raises(ConfigurationErrors, match=r"no such file or folder; name a session folder"):
        load_session(tmp_path / "nowhere")


def test_mistakes_come_together_in_order_of_lines(folder: Path) -> None:
    text = (
        SOUND.replace("static: static.c3d", "static: no.c3d")
        .replace("earlier", "never")
        .replace("trial: walking", "trial: x")
    )
    assert [int(s.split("line ")[1].split(":")[0]) for s in told(folder, text)] == [5, 12, 13]


CALIBRATION = "calibration: [{file: hip_r.c3d, for: hip_r}]"


def test_one_functional_recording_may_serve_several_joints(folder: Path) -> None:
    both = "calibration: [{file: hip_r.c3d, for: hip_l}, {file: hip_r.c3d, for: knee_axis_l}]"
    session = load(folder, SOUND.replace(CALIBRATION, both))
    assert session.calibrations == {"hip_l": folder / "hip_r.c3d", "knee_axis_l": folder / "hip_r.c3d"}


def test_two_files_that_would_be_one_trial_are_a_mistake_with_its_line(folder: Path) -> None:
    (folder / "other").mkdir()
    (folder / "other" / "static.c3d").touch()
    twice = "calibration:\n  - {file: hip_r.c3d, for: hip_r}\n  - {file: other/static.c3d, for: hip_l}"
    (sentence,) = told(folder, SOUND.replace(CALIBRATION, twice))
    assert "session.yaml, line 8: " in sentence
    assert "would be one trial, `static`; give one of them another `name:`" in sentence


@pytest.mark.parametrize(
    ("entry", "kind"),
    [
        ("static.c3d", "static"),
        ("{file: walk.c3d, name: Static}", "static"),
        ("{file: walk.c3d, name: hip_r}", "calibration"),
        ("hip_r.c3d", "calibration"),
    ],
)
def test_a_movement_trial_called_as_a_static_or_calibration_trial_is_a_mistake_with_its_line(
    folder: Path, entry: str, kind: str
) -> None:
    (sentence,) = told(folder, trials(entry))
    assert "session.yaml, line 8: trial `" in sentence
    assert f"is called as the {kind} trial" in sentence
    assert "give it another `name:`, or take it out of the trials" in sentence


def test_static_and_calibration_files_may_have_names(folder: Path) -> None:
    text = SOUND.replace("static: static.c3d\n", "static: {file: static.c3d, name: standing}\n")
    text = text.replace("static: static_2.c3d", "static: {file: static_2.c3d, name: later}")
    text = text.replace("{file: hip_r.c3d, for", "{file: hip_r.c3d, name: circles, for")
    text = text.replace("{trial: walking, subject: R_THIGH_3,", "{trial: standing, subject: R_THIGH_3,")
    session = load(folder, text)
    assert [session.name_of(p) for p in (*session.statics, *session.calibrations.values())][:3] == [
        *("standing", "later", "circles")
    ]
    listed = load(folder, SOUND.replace("static: static.c3d\n", "static: [static.c3d, {file: walk.c3d, name: w}]\n"))
    assert [listed.name_of(p) for p in listed.statics] == ["static", "w", "static_2"]


@pytest.mark.parametrize(
    ("static", "own", "says"),
    [
        ("{file: static.c3d, name: squat_right}", "static_2.c3d", "is called as the static trial"),
        ("{file: static.c3d, name: a b}", "static_2.c3d", "`a b` is no trial name"),
        (
            "{file: static.c3d, nam: a}",
            "static_2.c3d",
            "key `nam` in `static[1]` is not known; nearest valid name: `name`",
        ),
        ("{name: a}", "static_2.c3d", "key `file` in `static[1]` is missing"),
        ("{file: static.c3d, name: one}", "{file: static_2.c3d, name: One}", "would be one trial, `One`"),
        ("{file: static.c3d, name: one}", "{file: static.c3d, name: two}", "is called `two` here and `one` elsewhere"),
    ],
)
def test_names_of_static_files_that_cannot_be(folder: Path, static: str, own: str, says: str) -> None:
    text = SOUND.replace("static: static.c3d\n", f"static: {static}\n").replace(
        "static: static_2.c3d", f"static: {own}"
    )
    with pytest.raises(ConfigurationErrors, match=re.escape(says)) as error:
        load(folder, text)
    assert "line " in str(error.value)
