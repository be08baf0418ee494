"""Bad input gets a sentence, an exit status and nothing half-written; a failing trial never takes the others down."""

import shutil
from pathlib import Path

import ezc3d
import numpy as np
import pandas as pd
import pytest

from condyle.command import main
from condyle.session import compute, plan, process

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_trials" / "MR01" / "2026-11-03"
PIPELINE = "stages: [read, check, fill, filter, calibrate, pose, angles, repetitions, measures]\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The sample session with a pipeline that stops at the measures."""
    place = tmp_path / "session"
    place.mkdir()
    for name in ("static.c3d", "squat_right.c3d", "squat_left.c3d"):
        shutil.copy(SAMPLE / name, place)
    (place / "pipeline.yaml").write_text(PIPELINE)
    write(place)
    return place


def write(place: Path, markers: str = "clusters_full_body", trials: str | None = None, more: str = "") -> None:
    trials = trials or "  - {file: squat_right.c3d, side: right}\n  - {file: squat_left.c3d, side: left}\n"
    (place / "session.yaml").write_text(
        f"participant: {{id: MR01}}\nsession: s1\nmarker_set: {markers}\npipeline: pipeline.yaml\nstatic: static.c3d\n"
        f"trials:\n{trials}{more}"
    )


def rejects(place: Path) -> pd.DataFrame:
    quality = pd.read_csv(place / "results" / "quality.csv", keep_default_na=False)
    return quality[quality.verdict == "reject"].set_index("trial")


def changed(path: Path, change) -> None:
    """Rewrite a C3D file after changing its points (4, markers, frames) in place."""
    c3d = ezc3d.c3d(str(path))
    points = c3d["data"]["points"]
    labels = c3d["parameters"]["POINT"]["LABELS"]["value"]
    points = change(points, labels)
    ratio = c3d["data"]["analogs"].shape[2] // c3d["data"]["points"].shape[2]
    c3d["data"]["points"] = points
    c3d["data"]["analogs"] = c3d["data"]["analogs"][:, :, : ratio * points.shape[2]]
    del c3d["data"]["meta_points"]
    c3d.write(str(path))


@pytest.mark.parametrize("path", ["nowhere", "nowhere/session.yaml"])
def test_no_such_session_is_usage(path: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", str(tmp_path / path)]) == 2
    said = capsys.readouterr().err
    assert "nowhere" in said
    assert "Traceback" not in said


def test_missing_trial_file_is_its_own_reject_row_and_status_1(folder: Path) -> None:
    write(folder, trials="  - {file: squat_right.c3d, side: right}\n  - {file: gone.c3d, side: left}\n")
    assert main(["run", str(folder)]) == 1
    row = rejects(folder).loc["gone"]
    assert row.subject == "file"
    assert row.advice == "gone.c3d: there is no such file; correct the name, or put the file there"
    assert set(pd.read_csv(folder / "results" / "measures.csv").trial) == {"squat_right"}


@pytest.mark.parametrize("command", ["run", "check"])
def test_a_c3d_file_in_place_of_a_session_is_told_so(
    folder: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert main([command, str(folder / "static.c3d")]) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert "this is a C3D file; expected a YAML file, such as the session.yaml of a session folder" in said


def test_results_of_a_missing_and_a_damaged_file_do_not_hang_on_where_the_folder_lies(folder: Path) -> None:
    write(
        folder,
        trials="  - {file: squat_right.c3d, side: right}\n  - {file: gone.c3d, side: left}\n"
        "  - {file: squat_left.c3d, side: left}\n  - {file: elsewhere/lost.c3d, name: hidden}\n",
    )
    (folder / "squat_left.c3d").write_bytes((folder / "squat_left.c3d").read_bytes()[:90_000])
    moved = folder.parent / "archive"  # as impersonal as the other: names of folders are looked at for people's
    shutil.copytree(folder, moved)
    for place in (folder, moved):
        assert main(["run", str(place), "--share"]) == 1
    for name in ("quality.csv", "measures.csv"):
        assert (folder / "results" / name).read_bytes() == (moved / "results" / name).read_bytes()
    for path in (folder / "results").rglob("*"):
        assert path.is_dir() or str(folder).encode() not in path.read_bytes(), path


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty|0 bytes"), (b"not a C3D file at all" * 60, "not|C3D"), (None, "truncated|frames")],
    ids=["empty", "not C3D", "truncated"],
)
def test_a_file_that_cannot_be_trusted_is_named_and_the_other_trial_done(
    folder: Path, content: bytes | None, words: str
) -> None:
    path = folder / "squat_left.c3d"
    path.write_bytes(path.read_bytes()[:90_000] if content is None else content)
    result = process(folder)
    assert result.exit_status == 1
    row = rejects(folder).loc["squat_left"]
    assert "squat_left.c3d" in row.advice
    assert pd.Series([row.advice]).str.contains(words, case=False).any()
    assert set(result.tables["measures"].trial) == {"squat_right"}
    assert not (folder / "results" / "trials" / "squat_left.nc").exists()


def test_a_directory_named_c3d_is_refused_at_once(folder: Path) -> None:
    (folder / "squat_left.c3d").unlink()
    (folder / "squat_left.c3d").mkdir()
    assert process(folder).rejected == ("squat_left",)


def test_frames_without_any_valid_marker_are_rejected(folder: Path) -> None:
    changed(folder / "squat_left.c3d", lambda points, labels: np.full_like(points, np.nan))
    result = process(folder)
    assert result.rejected == ("squat_left",)


def test_a_landmark_missing_from_the_file_says_which_measures_fall_away(folder: Path) -> None:
    def without_patella(points, labels):
        points[:3, labels.index("R_PATELLA")] = np.nan
        return points

    changed(folder / "squat_right.c3d", without_patella)
    result = process(folder)
    found = [
        f for name, f in result.findings if name == "squat_right" and "patella" in f"{f.subject} {f.advice}".lower()
    ]
    assert any("path of the patella" in f.advice for f in found)
    right = result.tables["measures"].query("trial == 'squat_right'").measure
    assert not right.str.startswith("patella").any()
    assert "knee_travel" in set(right)


def test_a_segment_with_two_points_is_a_configuration_error_with_its_line(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ROOT / "configs" / "markers" / "clusters_full_body.yaml").read_text()
    lines = ["  thigh_r: [R_THIGH_1, R_THIGH_2]" if x.strip().startswith("thigh_r:") else x for x in text.splitlines()]
    (folder / "markers.yaml").write_text("\n".join(lines))
    write(folder, markers="markers.yaml")
    assert main(["run", str(folder)]) == 2
    said = capsys.readouterr().err
    assert "thigh_r" in said
    assert "line" in said
    assert not (folder / "results").exists()


def test_a_collinear_cluster_is_rejected_not_computed(folder: Path) -> None:
    def in_a_line(points, labels):
        columns = [labels.index(f"R_THIGH_{k}") for k in range(1, 5)]
        first, last = points[:3, columns[0]].copy(), points[:3, columns[3]].copy()
        for k, column in enumerate(columns):
            points[:3, column] = first + (last - first) * k / 3
        return points

    for name in ("static.c3d", "squat_right.c3d"):
        changed(folder / name, in_a_line)
    result = process(folder)
    assert "squat_right" in result.rejected
    static = [f for name, f in result.findings if name == "static" and f.verdict == "reject"]
    assert [(f.check, f.subject) for f in static] == [("collinear cluster", "thigh_r")]
    assert "squat_left" not in result.rejected  # the other leg is whole


def test_no_still_half_second_in_the_static_trial_is_said(folder: Path) -> None:
    def never_still(points, labels):
        shake = 40 * np.sin(np.arange(points.shape[2]) / 4.0)
        points[0] += shake
        return points

    changed(folder / "static.c3d", never_still)
    result = process(folder)
    assert result.status == "rejected"
    assert rejects(folder).loc["static"].check == "stillness"


def test_a_trial_shorter_than_the_filter_needs(folder: Path) -> None:
    changed(folder / "squat_left.c3d", lambda points, labels: points[:, :, :8])
    result = process(folder)
    assert result.rejected == ("squat_left",)


def test_declared_side_unlike_the_measured_one(folder: Path) -> None:
    write(folder, trials="  - {file: squat_right.c3d, side: left}\n  - {file: squat_left.c3d, side: left}\n")
    result = process(folder)
    assert result.rejected == ("squat_right",)
    assert any("declared left" in f.advice for _, f in result.findings if f.verdict == "reject")


ANGLES_ONLY = "stages: [read, check, fill, filter, calibrate, pose, angles]\n"


@pytest.mark.parametrize(
    ("pipeline", "correction", "said"),
    [
        (
            PIPELINE,
            "leave_out: {markers: [R_THIGH_9]}",
            "R_THIGH_9, which is not a label of the marker set (nearest: R_THIGH_",
        ),
        (PIPELINE, "leave_out: {repetitions: [99]}", "repetition 99, but 5 were found"),
        (PIPELINE, "use_s: [100, 400]", "use_s names 100 to 400 s, but the recording ends at"),
        (PIPELINE, "use_s: [1, 400]", "use_s names 1 to 400 s, but the recording ends at"),
        (PIPELINE, "repetitions_s: [[1, 2, 99]]", "repetitions_s names 1, 2, 99 s, but the recording ends at"),
        (ANGLES_ONLY, "use_s: [100, 400]", "use_s names 100 to 400 s, but the recording ends at"),
        (ANGLES_ONLY, "leave_out: {markers: [R_NOSE]}", "R_NOSE, which is not a label of the marker set"),
        (ANGLES_ONLY, "leave_out: {repetitions: [1]}", "the pipeline has no stage `repetitions`"),
        (PIPELINE, "task: other, repetitions_s: [[1, 2, 3]]", "the task is other"),
    ],
)
def test_a_correction_that_names_what_is_not_there_rejects_its_trial_alone(
    folder: Path, capsys: pytest.CaptureFixture[str], pipeline: str, correction: str, said: str
) -> None:
    (folder / "pipeline.yaml").write_text(pipeline)
    corrected = f"  - {{file: squat_right.c3d, side: right, {correction}, why: loose}}\n"
    write(folder, trials=corrected + "  - {file: squat_left.c3d, side: left}\n")
    assert main(["run", str(folder)]) == 1
    (sentence,) = capsys.readouterr().err.splitlines()
    assert sentence.startswith("squat_right: correction by hand, file: ")
    assert said in sentence
    assert list(rejects(folder).index) == ["squat_right"]
    assert [path.stem for path in sorted((folder / "results" / "trials").glob("*.nc"))] == ["squat_left", "static"]


def test_a_standing_trial_that_nothing_rests_on_is_said_and_a_marker_left_out_by_hand_is_not_called_lost(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "second.c3d").write_bytes((folder / "static.c3d").read_bytes())
    out = "leave_out: {markers: [R_THIGH_3]}"
    write(folder, trials=f"  - {{file: squat_right.c3d, side: right, {out}, why: loose}}\n")
    text = (folder / "session.yaml").read_text()
    (folder / "session.yaml").write_text(text.replace("static: static.c3d", "static: [static.c3d, second.c3d]"))
    assert main(["check", str(folder), "--out", str(folder / "session.yaml")]) == 2
    assert "session.yaml" in capsys.readouterr().err, "said before anything is computed"
    assert main(["check", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "second: standing trial not used" in said
    assert "R_THIGH_3; by hand" in said
    assert "never seen in this trial: R_THIGH_3" not in said


def test_a_part_of_a_trial_without_repetitions_is_said_to_take_nothing_away(folder: Path) -> None:
    (folder / "pipeline.yaml").write_text(ANGLES_ONLY)
    write(folder, trials="  - {file: squat_right.c3d, side: right, use_s: [1, 3], why: turned round after it}\n")
    assert main(["run", str(folder)]) == 0
    quality = pd.read_csv(folder / "results" / "quality.csv", keep_default_na=False)
    advice = " ".join(quality.advice[quality.check == "correction by hand"])
    assert "the pipeline has no stage `repetitions`, so it takes no frame away." in advice


def test_an_accepted_reject_is_computed_and_its_reason_printed(folder: Path) -> None:
    def loose(points, labels):
        points[:3, labels.index("R_SHANK_1")] += 25.0
        return points

    changed(folder / "squat_right.c3d", loose)
    first = process(folder)
    rejecting = [f for n, f in first.findings if n == "squat_right" and f.verdict == "reject"]
    assert rejecting
    lines = [
        f"  - {{trial: squat_right, subject: {f.subject}, check: {f.check}, why: we know this marker}}\n"
        for f in rejecting
    ]
    write(folder, more="accept:\n" + "".join(lines))
    second = process(folder, overwrite=True)
    assert "squat_right" not in second.rejected
    assert any("we know this marker" in f.advice for _, f in second.findings)


def test_results_of_other_settings_are_not_overwritten_without_asking(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", str(folder)]) == 0
    assert main(["run", str(folder)]) == 0  # the same again is fine
    (folder / "pipeline.yaml").write_text(
        PIPELINE.replace("filter", "filter: {cutoff_hz: 8}")
        .replace("[", "\n  - ")
        .replace(", ", "\n  - ")
        .replace("]", "")
    )
    before = (folder / "results" / "measures.csv").read_bytes()
    capsys.readouterr()
    assert main(["run", str(folder)]) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert (folder / "results" / "measures.csv").read_bytes() == before
    assert main(["run", str(folder), "--overwrite"]) == 0
    assert (folder / "results" / "measures.csv").read_bytes() != before


@pytest.mark.parametrize("what", ["changed", "gone", "damaged and the same again"])
def test_results_of_other_files_are_not_overwritten_without_asking(
    folder: Path, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    left = folder / "squat_left.c3d"
    if what.startswith("damaged"):
        left.write_bytes(left.read_bytes()[:90_000])
    status = 1 if what.startswith("damaged") else 0
    assert main(["run", str(folder)]) == status
    if what == "changed":
        shutil.copy(folder / "squat_right.c3d", left)
    elif what == "gone":
        left.unlink()
    else:
        assert main(["run", str(folder)]) == status  # neither settings nor files have changed
        return
    before = {p: p.read_bytes() for p in (folder / "results").rglob("*") if p.is_file()}
    capsys.readouterr()
    assert main(["run", str(folder)]) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert "made from other files (squat_left changed since)" in said
    assert "--overwrite" in said
    assert before == {p: p.read_bytes() for p in (folder / "results").rglob("*") if p.is_file()}
    assert main(["run", str(folder), "--overwrite"]) == 1  # declared left, it is right, or it is missing


@pytest.mark.parametrize("name", ["measures.csv", "manifest.json", "trials/squat_left.nc", "report.html"])
def test_a_file_that_no_run_wrote_is_never_overwritten(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    (folder / "pipeline.yaml").write_text(PIPELINE.replace("measures", "measures, report"))
    out = tmp_path / "lab"
    (out / name).parent.mkdir(parents=True)
    (out / name).write_text("{}")
    for words in ([], ["--overwrite"]):
        assert main(["run", str(folder), "--out", str(out), *words]) == 2
        (said,) = capsys.readouterr().err.splitlines()
        assert f"{out} holds {name}, which no run of condyle wrote there" in said
        assert [p for p in out.rglob("*") if p.is_file()] == [out / name]
        assert (out / name).read_text() == "{}"


def test_what_a_killed_run_left_behind_is_its_own(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr("condyle.results.write_trial", killed)
        assert main(["run", str(folder)]) == 130
    assert (folder / "results" / "measures.csv").exists()
    assert main(["run", str(folder)]) == 0


def test_same_inputs_give_byte_identical_tables_and_trials(folder: Path, tmp_path: Path) -> None:
    process(folder, tmp_path / "a")
    process(folder, tmp_path / "b", jobs=2)
    names = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*") if p.suffix in (".csv", ".nc"))
    assert len(names) > 6
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


def test_names_that_drift_and_rates_that_differ_are_said(folder: Path) -> None:
    from types import SimpleNamespace

    from condyle.session_checks import differing_rates, drifting_names

    def recording(labels: tuple[str, ...], rate: float = 100.0):
        return SimpleNamespace(labels=labels, kinds=("marker",) * len(labels), prefixes=(), rate_hz=rate)

    three = {"a": recording(("X1", "X2")), "b": recording(("X1", "X2")), "c": recording(("X1", "Y2"), 120.0)}
    drift = drifting_names(three, frozenset({"X1", "X2"}))
    assert set(drift) == {"c"}
    assert any("Y2" in f.advice for f in drift["c"])
    assert any("X2" in f.advice for f in drift["c"])
    assert set(differing_rates(three)) == {"c"}
    assert not any(f.check == "naming drift" for _, f in compute(plan(folder)).findings)
