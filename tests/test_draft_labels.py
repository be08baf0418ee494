"""Drafting: labels as labs write them; what is drafted is read, or is a blank with the reason."""

from collections.abc import Callable
from pathlib import Path

import ezc3d
import pytest

from condyle.command import main
from condyle.draft import draft
from condyle.draft.mapping import Guess, LabelMap
from condyle.draft.writing import marker_lines, text_of
from condyle.files.marker_set import load_marker_set

SAMPLE = Path(__file__).parents[1] / "sample_trials" / "MR01" / "2026-11-03"
ODD = {
    **{"R_ASIS": "R: ASIS #1", "L_ASIS": "- L ASIS", "C7": "yes", "T10": "010", "NOTCH": '"notch', "XIPHOID": "{x}"},
    **{"R_HEEL": "R'HEEL", "L_HEEL": "L HEEL", "R_PATELLA": "*R_PAT", "L_PATELLA": "&L_PAT"},
}


def sided(label: str) -> str:
    return f"{label[0]}: {label[2:]}" if label[:2] in ("R_", "L_") else label


def relabelled(place: Path, rename: Callable[[str], str]) -> Path:
    """A session of the sample under other labels."""
    for name in ("static", "squat_right"):
        content = ezc3d.c3d(str(SAMPLE / f"{name}.c3d"))
        labels = content["parameters"]["POINT"]["LABELS"]
        labels["value"] = [rename(label) for label in labels["value"]]
        content.write(str(place / f"{name}.c3d"))
    return place


@pytest.mark.parametrize(
    ("rename", "asis", "prefix"),
    [
        (lambda x: ODD.get(x, x), "R: ASIS #1", "auto"),
        (sided, "R: ASIS", "auto"),
        (lambda x: f"P01:{x}", "R_ASIS", "auto"),
        (lambda x: f"P01: {x}", "R_ASIS", "P01: "),
        (lambda x: f"P01: {x}" if x == "R_ASIS" else f"P01:{x}", "P01: R_ASIS", "auto"),
    ],
)
def test_what_is_drafted_is_read_and_finds_every_marker(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    rename: Callable[[str], str],
    asis: str,
    prefix: str,
) -> None:
    draft(relabelled(tmp_path, rename))
    found = load_marker_set(tmp_path / "markers.yaml")
    assert (found.landmarks["asis_r"], found.prefix) == (asis, prefix)
    session = tmp_path / "session.yaml"
    session.write_text(session.read_text().replace('"?"}', "P01}").replace('session: "?"', "session: first"))
    assert main(["check", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "reject " not in said
    assert "seen in no frame" not in said


def test_a_prefix_that_may_be_a_name_is_not_written_where_reading_finds_it_and_told_where_it_must_be(
    tmp_path: Path,
) -> None:
    text = draft(relabelled(tmp_path, lambda x: f"Mustermann:{x}")).written[1].read_text()
    assert "Mustermann" not in text
    assert "prefix: auto" in text
    (tmp_path / "with_blank").mkdir()
    text = draft(relabelled(tmp_path / "with_blank", lambda x: f"Mustermann: {x}")).written[1].read_text()
    assert 'prefix: "Mustermann: "' in text
    assert (
        "# Note: the prefix of the labels holds a word that may be a person's name: export the files without it."
        in text
    )


def mapped(**labels: str) -> LabelMap:
    return LabelMap({name: Guess(label, name, "high", "its words") for name, label in labels.items()})


def test_a_label_that_no_marker_set_can_hold_is_a_blank_with_the_reason(tmp_path: Path) -> None:
    mapping = mapped(asis_r=" ASIS", asis_l="L_ASIS", psis_r="R_PSIS", psis_l="L_PSIS", iliac_crest_r="CREST")
    lines = marker_lines(mapping, [], "")
    (tmp_path / "markers.yaml").write_text(text_of(lines))
    assert '# asis_r: "?"  # " ASIS": a label begins and ends with a letter or sign' in text_of(lines)
    assert [line.says.split(":")[0] for line in lines if line.says and line.confidence is None] == ["asis_r", "pelvis"]


def test_a_segment_that_the_marker_sets_reader_refuses_is_a_blank_with_its_reason(tmp_path: Path) -> None:
    mapping = mapped(asis_l="L_ASIS", psis_r="R_PSIS", psis_l="L_PSIS", lateral_epicondyle_l="KNEE")
    mapping.clusters["thigh_l"] = [Guess(label, "thigh_l", "high", "its words") for label in ("T1", "T2")]
    mapping.clusters["shank_l"] = [Guess("S1", "shank_l", "high", "its words"), Guess("S2", "shank_l", "high", "")]
    mapping.landmarks["lateral_malleolus_l"] = Guess("ANKLE", "lateral_malleolus_l", "high", "its words")
    text = text_of(marker_lines(mapping, ["T1", "gone"], ""))
    (tmp_path / "markers.yaml").write_text(text)
    found = load_marker_set(tmp_path / "markers.yaml")
    assert set(found.tracking) == {"pelvis"}
    assert '# thigh_l: "?"  # ' in text
    assert "joint centre `hip_l` cannot be computed without `asis_r`" in text
    assert found.static_only == ()
    assert "# Not mapped: T1, gone" in text
