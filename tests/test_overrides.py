"""`accept:` lets a reject through by name; the reason goes wherever results go, and what matches nothing is said."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from condyle.command import main
from condyle.files.netcdf import read_trial
from tests.small_sessions import PIPELINE, base_recordings
from tests.test_bad_input import changed

WHY = "plate knocked; mounted as before, checked on video"
SESSION = """\
participant: {id: MR01}
session: s1
pipeline: squat.yaml
static: static.c3d
trials: [{file: squat.c3d, side: right}]
accept:
"""


@pytest.fixture(scope="module")
def loose(tmp_path_factory: pytest.TempPathFactory, without_pictures: None) -> Path:
    """A session whose squat is rejected: one marker of the right shank plate is 25 mm off throughout."""
    (folder,) = base_recordings(tmp_path_factory.mktemp("recorded"), ("controlled",))

    def off(points, labels):
        points[:3, labels.index("R_SHANK_1")] += 25.0
        return points

    changed(folder / "squat.c3d", off)
    (folder / "squat.yaml").write_text(PIPELINE.replace("]", ", report]"))
    return folder


def run(folder: Path, place: Path, *accept: tuple[str, str, str]) -> tuple[int, pd.DataFrame]:
    """Status and quality table of the session with these (trial, subject, check) accepted."""
    shutil.copytree(folder, place)
    lines = "".join(f"  - {{trial: {t}, subject: {s}, check: {c}, why: '{WHY}'}}\n" for t, s, c in accept)
    (place / "session.yaml").write_text(SESSION.replace("accept:\n", f"accept:\n{lines}" if lines else ""))
    return main(["run", str(place)]), pd.read_csv(place / "results" / "quality.csv", keep_default_na=False)


def rejecting_in(folder: Path, tried: Path) -> list[tuple[str, str, str]]:
    """What rejects trials, as it is named in quality.csv; found one after another, for a reject ends the trial."""
    found: list[tuple[str, str, str]] = []
    for count in range(6):
        status, quality = run(folder, tried / str(count), *found)
        if not status:
            return found
        rows = quality[(quality.verdict == "reject") & (quality.check != "standing trial")]
        found += list(rows[["trial", "subject", "check"]].itertuples(index=False, name=None))
    raise AssertionError(f"still rejected with all of {found} accepted")


@pytest.fixture(scope="module")
def rejecting(loose: Path, tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, str, str]]:
    """What rejects the squat with the knocked plate."""
    found = rejecting_in(loose, tmp_path_factory.mktemp("tried"))
    assert {(t, s) for t, s, _ in found} == {("squat", "shank_r")}
    return found


def test_the_reason_is_in_every_output(
    loose: Path, rejecting: list[tuple[str, str, str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, quality = run(loose, tmp_path / "s1", *rejecting)
    out = tmp_path / "s1" / "results"
    assert status == 0
    assert WHY in capsys.readouterr().err
    assert quality.advice.str.contains(WHY, regex=False).any()
    assert WHY in json.loads((out / "manifest.json").read_text())["accepted"][0]["why"]
    assert WHY in (out / "report.html").read_text()
    trial = read_trial(out / "trials" / "squat.nc")
    assert trial.attrs["accepted"].startswith(f"shank_r, {rejecting[0][2]}: {WHY}")
    said = pd.read_csv(out / "repetitions.csv", keep_default_na=False).findings
    # `;` parts one finding from the next
    assert said.str.contains(f"accepted by hand: shank_r, {rejecting[0][2]}: {WHY.replace(';', ',')}").all()
    assert "accepted" not in read_trial(out / "trials" / "static.nc").attrs
    for name in ("measures", "contributions", "curves", "summary"):
        table = pd.read_csv(out / f"{name}.csv", keep_default_na=False)
        assert len(table), name
        assert table.overridden.str.contains(f"shank_r, {rejecting[0][2]}: {WHY}", regex=False).all(), name


def in_static(loose: Path, place: Path, change: Callable[..., Any]) -> Path:
    shutil.copytree(loose, place)
    changed(place / "static.c3d", change)
    return place


@pytest.fixture(scope="module")
def exchanged(loose: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[tuple[str, str, str]]]:
    """The same with the pelvis' sides exchanged in the standing trial, and what rejects either trial."""

    def sides(points, labels):
        left, right = ([labels.index(f"{side}_{name}") for name in ("ASIS", "PSIS", "CREST")] for side in "LR")
        points[:, left + right] = points[:, right + left]
        return points

    place = in_static(loose, tmp_path_factory.mktemp("standing") / "exchanged", sides)
    return place, rejecting_in(place, tmp_path_factory.mktemp("tried"))


def test_what_is_accepted_of_the_standing_trial_stands_in_the_trials_that_rest_on_it(
    exchanged: tuple[Path, list[tuple[str, str, str]]], tmp_path: Path
) -> None:
    place, found = exchanged
    of_static = [f for f in found if f[0] == "static"]
    assert of_static
    run(place, tmp_path / "s1", *found)
    trial = read_trial(tmp_path / "s1" / "results" / "trials" / "squat.nc")
    for _, subject, check in of_static:
        assert f"static, {subject}, {check}: {WHY}" in trial.attrs["accepted"]


def test_sessions_compared_say_it_in_every_table_and_on_the_screen(
    loose: Path,
    rejecting: list[tuple[str, str, str]],
    exchanged: tuple[Path, list[tuple[str, str, str]]],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    place, found = exchanged
    sessions = {"s1": (loose, rejecting), "s2": (place, found)}
    for name, (folder, accepted) in sessions.items():
        shutil.copytree(folder, tmp_path / name)
        lines = "".join(
            f"  - {{trial: {t.replace('static', 'standing')}, subject: {s}, check: {c}, why: '{WHY}'}}\n"
            for t, s, c in accepted
        )
        text = SESSION.replace("session: s1", f"session: {name}")
        text = text.replace("static: static.c3d", "static: {file: static.c3d, name: standing}") + lines
        (tmp_path / name / "session.yaml").write_text(text)
    out = tmp_path / "compared"
    assert main(["check", str(tmp_path), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "3 trials that quality had rejected are among these values, let through by the session file: " in said
    standing = f"MR01 s2 standing: {', '.join(next(f for f in found if f[0] == 'static')[1:])}: {WHY}"
    for name in ("compared", "landmarks", "distances", "axes", "centres", "standing"):
        table = pd.read_csv(out / f"{name}.csv", keep_default_na=False)
        assert len(table), name
        assert table.columns[-1] == "overridden"
        assert table.overridden.str.startswith(standing).all(), name
        assert not table.overridden.str.contains("squat").any()
    errors = pd.read_csv(out / "repeatability.csv", keep_default_na=False)
    assert errors.overridden[errors.task == "static"].str.startswith(standing).all()
    assert errors.overridden[errors.task != "static"].str.startswith("MR01 s1 squat: shank_r").all()
    assert errors.overridden[errors.task != "static"].str.contains("; MR01 s2 squat: ").all()
    assert standing in (out / "repeatability.yaml").read_text()
    assert WHY in (out / "compared.svg").read_text()


def test_a_reject_without_which_nothing_can_be_computed_stays_one(loose: Path, tmp_path: Path) -> None:
    def walking(points, labels):
        points[0] += [[300.0 * k / points.shape[2] for k in range(points.shape[2])]]
        return points

    place = in_static(loose, tmp_path / "walking", walking)
    status, quality = run(place, tmp_path / "s1", ("static", "file", "stillness"))
    assert status == 1
    assert set(quality[quality.verdict == "reject"].check) == {"stillness", "standing trial"}
    (row,) = quality[quality.check == "accepted by hand"].itertuples()
    assert "cannot be accepted" in row.advice


@pytest.mark.parametrize(
    ("subject", "check", "words"),
    [
        ("shank_l", "cluster fit", "does not reject this trial"),
        ("shank_r", "cluster fitt", "nearest valid name: `shank_r, cluster fit`"),
        ("trunk", "signal", "was not found in this trial"),
    ],
)
def test_what_matches_no_reject_is_said(
    loose: Path, rejecting: list[tuple[str, str, str]], tmp_path: Path, subject: str, check: str, words: str,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    _, quality = run(loose, tmp_path / "s1", *rejecting, ("squat", subject, check))
    (row,) = quality[quality.check == "accepted by hand"].itertuples()
    assert (row.trial, row.subject, row.verdict) == ("squat", subject, "review")
    assert words in row.advice
    assert row.advice in capsys.readouterr().err


def test_a_file_that_cannot_be_read_is_not_let_through(loose: Path, tmp_path: Path) -> None:
    place = tmp_path / "short"
    shutil.copytree(loose, place)
    (place / "squat.c3d").write_bytes((place / "squat.c3d").read_bytes()[:20_000])
    status, quality = run(place, tmp_path / "s1", ("squat", "file", "file readable"))
    assert status == 1
    (row,) = quality[quality.check == "accepted by hand"].itertuples()
    assert "cannot be accepted" in row.advice
