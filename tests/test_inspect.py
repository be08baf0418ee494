"""`condyle inspect`: what is in a file and what is wrong with it, on one screen, without telling who was recorded."""

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from condyle.command import main
from condyle.files.c3d import C3DReader
from condyle.files.inspection import inspect
from tests.c3d_bytes import C3DFile, real, text, walking_body, word
from tests.conftest import open_c3d

POINTS, LABELS = walking_body()


@pytest.fixture(scope="module")
def reader() -> Iterator[C3DReader]:
    with C3DReader() as one:
        yield one


def written(tmp_path: Path, **changes: object) -> Path:
    file = C3DFile(**({"points": POINTS, "labels": LABELS} | changes))  # type: ignore[arg-type]
    return file.write(tmp_path / "trial.c3d")


def test_inspect_says_what_walking_2_holds(capsys: pytest.CaptureFixture[str]) -> None:
    path = open_c3d("cluster_walk/walking_2.c3d")
    assert main(["inspect", str(path)]) == 0
    shown = capsys.readouterr().out
    for words in ("73: 73 with a label (25 different)", "541 from number 330", "240 Hz", "+Z is up", "right-handed"):
        assert words in shown
    assert "2 force plates declared, 2 extracted" in shown
    assert len(shown.splitlines()) <= 40
    assert main(["inspect", str(path), "--json"]) == 0
    values = json.loads(capsys.readouterr().out)
    assert (values["points"], values["markers"], values["frames"], values["rate_hz"]) == (73, 25, 541, 240.0)
    seen = {row["label"]: row for row in values["labels"]}
    assert seen["R_ASIS"]["points"] == 3
    assert seen["R_ASIS"]["visible_percent"] == 100.0
    assert seen["R_SHANK_1"]["points"] == 2


@pytest.mark.parametrize("name", ["no_scale_dynamic", "no_scale_standing"])
def test_a_refused_file_ends_in_1_with_the_reason(capsys: pytest.CaptureFixture[str], name: str) -> None:
    path = open_c3d(f"damaged/{name}.c3d")
    assert main(["inspect", str(path)]) == 1
    assert "REFUSED  has no POINT:SCALE" in capsys.readouterr().out
    assert main(["inspect", str(path), "--json"]) == 1
    values = json.loads(capsys.readouterr().out)
    assert values["refused"] is True
    assert "POINT:SCALE" in values["reason"]


def test_what_is_no_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "none.c3d"
    for words in ([], ["--json"]):
        assert main(["inspect", str(path), *words]) == 1
        said = capsys.readouterr()
        assert "there is no such file" in said.out
        assert said.err == f"{path}: there is no such file; correct the name, or put the file there.\n"


def test_the_refusal_of_a_truncated_file_names_the_setting_that_lets_it_through(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path)
    path.write_bytes(path.read_bytes()[:-2000])
    assert main(["inspect", str(path)]) == 1
    assert "`read: {accept_truncated: true}`" in capsys.readouterr().err


def test_visibility_and_gaps_are_counted(reader: C3DReader, tmp_path: Path) -> None:
    points = POINTS.copy()
    points[10:16, 2] = points[40:43, 2] = points[:20, 3] = 0.0
    seen = {row.label: row for row in inspect(written(tmp_path, points=points), reader=reader).labels}
    assert (seen["SACRUM"].visible_percent, seen["SACRUM"].longest_gap_s) == (85.0, 0.06)
    assert seen["R_THIGH"].longest_gap_s == 0.2
    assert (seen["C7"].visible_percent, seen["C7"].longest_gap_s) == (100.0, 0.0)


AXES = {
    "+Z": np.eye(3),
    "+Y": np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]),
    "+X": np.array([[0, 0, 1], [0, 1, 0], [-1, 0, 0]]),
    "-Z": np.array([[1, 0, 0], [0, -1, 0], [0, 0, -1]]),
    "-Y": np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]),
}


@pytest.mark.parametrize("named", [True, False])
@pytest.mark.parametrize("up", AXES)
def test_the_axis_that_points_up_is_guessed_by_words_or_by_shape(
    reader: C3DReader, tmp_path: Path, up: str, named: bool
) -> None:
    points = POINTS @ AXES[up].T
    found = inspect(
        written(tmp_path, points=points, labels=LABELS if named else [f"P{k}" for k in range(12)]), reader=reader
    )
    assert found.orientation is not None
    assert found.orientation.up == up
    assert found.orientation.sure


def standing_feet() -> tuple[np.ndarray, list[str]]:
    points, labels = walking_body()
    toes = points[:, 9:11] + np.array([200.0, 0.0, 0.0])
    return np.concatenate([points, toes], axis=1), [*labels, "R_META_2", "L_META_2"]


def test_mirrored_axes_are_called_left_handed(reader: C3DReader, tmp_path: Path) -> None:
    points, labels = standing_feet()
    sound = inspect(written(tmp_path, points=points, labels=labels), reader=reader)
    assert sound.orientation is not None
    assert sound.orientation.right_handed is True
    mirrored = inspect(written(tmp_path, points=points * [1, -1, 1], labels=labels), reader=reader)
    assert mirrored.orientation is not None
    assert mirrored.orientation.right_handed is False
    assert "handedness of the axes" in {f.check for f in mirrored.findings}
    assert "LEFT-HANDED" in mirrored.as_text()


@pytest.mark.parametrize("separator", [":", "_", ".", " ", "|"])
def test_names_and_dates_of_birth_are_never_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], separator: str
) -> None:
    path = written(
        tmp_path,
        labels=[f"AnnaExample{separator}{label}" for label in LABELS],
        add=[
            text("SUBJECTS", "NAMES", ["Anna Example"]),
            text("SUBJECT", "DATE_OF_BIRTH", ["24/12/1990"]),
            text("SUBJECT", "NAME", ["Example, Anna"]),
            real("SUBJECT", "WEIGHT", 61.25),
        ],
    )
    for arguments in ([], ["--json"]):
        assert main(["inspect", str(path), *arguments]) == 0
        out = capsys.readouterr().out
        for secret in ("Anna", "Example", "1990", "61.25"):
            assert secret not in out
        assert "R_ASIS" in out


def test_two_persons_in_a_file_are_numbered_not_named(reader: C3DReader, tmp_path: Path) -> None:
    both = np.concatenate([POINTS, POINTS + np.array([0, 900, 0])], axis=1)
    labels = [f"{who}:{label}" for who in ("Anna", "Berta") for label in LABELS]
    found = inspect(written(tmp_path, points=both, labels=labels), reader=reader)
    shown = found.as_text()
    assert "participant 1:R_ASIS" in shown
    assert "participant 2:R_ASIS" in shown
    assert "Anna" not in shown + json.dumps(found.as_dict())
    assert "participants in one file" in shown
    pseudonyms = inspect(
        written(
            tmp_path, points=both, labels=[label.replace("Anna", "MR01").replace("Berta", "MR02") for label in labels]
        ),
        reader=reader,
    )
    assert "MR01:R_ASIS" in pseudonyms.as_text()


def test_a_label_cannot_command_the_terminal(reader: C3DReader, tmp_path: Path) -> None:
    labels: list[str | bytes] = [*LABELS]
    labels[0], labels[1], labels[2] = b"\x1b[31mRED", b"A\rB\nC", "<script>alert(1)</script>"
    events = [
        word("EVENT", "USED", 1),
        real("EVENT", "TIMES", [0.0, 0.1], dims=(2, 1)),
        text("EVENT", "LABELS", [b"\x07bell"]),
    ]
    shown = inspect(written(tmp_path, labels=labels, add=events), reader=reader).as_text()
    assert all(c.isprintable() or c == "\n" for c in shown)
    assert "?[31mRED" in shown
    assert "<script>" in shown  # a terminal does not run it; HTML escapes it where HTML is written


def test_many_labels_still_fit_one_screen(reader: C3DReader, tmp_path: Path) -> None:
    points = np.tile(POINTS, (1, 20, 1))
    points[:5, 7] = 0.0
    found = inspect(written(tmp_path, points=points, labels=[f"POINT_{k:03d}" for k in range(240)]), reader=reader)
    shown = found.as_text()
    assert len(shown.splitlines()) <= 40
    assert "POINT_007" in shown  # the least seen come first
    assert len(found.as_dict()["labels"]) == 240
