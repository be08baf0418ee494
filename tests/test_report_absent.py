"""Figures of a leg of which nothing counts, or nothing is known: what there is is drawn, what is not is said, no empty axes."""

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from condyle.files.pipeline_file import ReportSettings
from condyle.report import write_report
from condyle.report.blocks import Words, blocks_of
from condyle.report.content import content_of
from condyle.report.drawing import WIDTH, Picture, styled
from condyle.report.legs import Leg, legs_of
from condyle.report.picture_above import MASS_QUESTION, axes_picture, mass_picture
from condyle.report.picture_contributions import bar_picture, course_picture
from condyle.report.picture_paths import path_picture
from condyle.report.picture_repetitions import repetition_picture
from condyle.report.results_read import read_results

from .report_results import STAGES, changed, computed, copied

BELOW = ["shank_tilt_from_below", "thigh_axial_rotation_from_below"]
SETTINGS = ReportSettings(skeleton=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return computed(tmp_path_factory.mktemp("absent"))[1]


@pytest.fixture(scope="module")
def left_out(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same results, but that no repetition of the left leg counts."""
    return without_left(folder, tmp_path_factory.mktemp("left_out"))


def without_left(folder: Path, place: Path) -> Path:
    copy = copied(folder, place)
    for name in ("repetitions", "curves"):
        changed(
            copy,
            name,
            valid=lambda t: [str(v) == "True" and s == "right" for v, s in zip(t.valid, t.side, strict=True)],
        )
    return copy


def drawn(picture: Picture | None) -> Figure:
    assert picture is not None
    with styled():
        figure = Figure(figsize=(WIDTH, picture.height))
        picture.draw(figure, WIDTH, picture.height)
    return figure


def titles(figure: Figure) -> list[str]:
    """Of the axes that are there."""
    return [axes.get_title(loc="left") or axes.get_title() for axes in figure.axes if axes.get_visible()]


def bars(axes: Any) -> list[float]:
    """Widths of the bars that lie within the axes."""
    low, high = sorted(axes.get_ylim())
    return [p.get_width() for p in axes.patches if low < p.get_y() + p.get_height() / 2 < high]


def test_report_of_a_leg_without_counted_repetitions_warns_of_nothing(left_out: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        group = content_of(read_results(left_out), SETTINGS, False).groups[0]
        pictures = [p for p in (group.bar, *group.pictures) if p is not None]
        for picture in pictures:
            drawn(picture)
    assert len(pictures) == 8


def test_bars_of_the_other_leg_stay_whole(left_out: Path) -> None:
    legs = legs_of(read_results(left_out))
    picture = bar_picture(legs, "bars", "Which part moved the knee?")
    (panel,) = drawn(picture).axes
    assert panel.get_title(loc="left").startswith("Right") or panel.get_title().startswith("Right")
    own = legs[0].sources("fppa")
    np.testing.assert_allclose(bars(panel), [e.value for e in own.values()])
    assert picture is not None
    assert picture.note.endswith("Left leg: not drawn, for none of its repetitions counts.")
    below = bar_picture(legs, "below", "And seen from below?", BELOW)
    assert all(t.startswith("Right") for t in titles(drawn(below)))


def test_a_leg_without_one_account_has_the_other_and_names_stay_legible(folder: Path, tmp_path: Path) -> None:
    copy = copied(folder, tmp_path)
    changed(
        copy,
        "contributions",
        value=lambda t: [
            "" if (m, s) == (BELOW[0], "right") else v for m, s, v in zip(t.measure, t.side, t.value, strict=True)
        ],
    )
    picture = bar_picture(legs_of(read_results(copy)), "below", "And seen from below?", BELOW)
    figure = drawn(picture)
    assert len(titles(figure)) == 3
    left = next(a for a in figure.axes if a.get_visible())
    assert [label.get_text() for label in left.get_yticklabels() if label.get_visible()][1] == "the ankle"
    assert left.yaxis.get_tick_params()["labelleft"]
    assert picture is not None
    assert "Right leg: shank tilt" in picture.note
    assert "not known" in picture.note


def test_courses_and_views_from_above_say_which_leg_they_leave_out(left_out: Path) -> None:
    results = read_results(left_out)
    legs = legs_of(results)
    for picture in (course_picture(legs, "c"), axes_picture(results, legs, "a"), mass_picture(results, legs, "m")):
        assert picture is not None
        assert picture.note.endswith("Left leg: not drawn, for none of its repetitions counts.")
        assert len(titles(drawn(picture))) == 1


def test_paths_that_do_not_count_are_drawn_and_said_not_to(folder: Path, left_out: Path) -> None:
    legs = legs_of(read_results(left_out))
    picture = path_picture(legs, "paths")
    figure = drawn(picture)
    assert len(titles(figure)) == len(figure.axes) == 8
    knee = next(
        a for a in figure.axes if a.get_title() == "Left: knee centre" or a.get_title(loc="left") == "Left: knee centre"
    )
    line = max(knee.lines, key=lambda ln: len(ln.get_xdata()))
    expected = legs_of(read_results(folder))[1].measure("knee_travel").value
    assert np.nanmax(np.abs(line.get_xdata())) == pytest.approx(abs(expected), rel=0.05)
    assert picture is not None
    assert "not measured" not in picture.note
    assert picture.note.endswith("Left leg: none of its repetitions counts; they are drawn dotted, without a mean.")


def test_a_point_that_one_leg_lacks_has_no_axes(folder: Path, tmp_path: Path) -> None:
    copy = copied(folder, tmp_path)
    for column in ("patella_medial_mm", "patella_up_mm"):
        changed(copy, "curves", **{column: lambda t, c=column: np.where(t.side == "left", "", t[c])})
    picture = path_picture(legs_of(read_results(copy)), "paths")
    figure = drawn(picture)
    assert [a.get_visible() for a in figure.axes].count(False) == 1
    assert not any("not measured" in text.get_text() for a in figure.axes for text in a.texts)
    lowest = [a for a in figure.axes if a.get_visible() and a.get_xlabel()]
    assert len(lowest) == 4  # the right kneecap's axes are the lowest of theirs


def test_a_repetition_is_hollow_by_its_own_trial(folder: Path, tmp_path: Path) -> None:
    copy = copied(folder, tmp_path)
    for name in ("repetitions", "measures", "curves", "contributions"):  # the same leg, twice
        changed(copy, name, side="right")
    changed(copy, "repetitions", valid=lambda t: t.trial == "squat_left")
    legs = legs_of(read_results(copy))
    panel = drawn(repetition_picture(legs, "r")).axes[0]
    hollow = [ln for ln in panel.lines if ln.get_markerfacecolor() == "white"]
    assert sum(len(ln.get_xdata()) for ln in hollow) == 2


def test_stand_ins_of_the_centre_of_mass_stand_under_its_picture(folder: Path, tmp_path: Path) -> None:
    results = read_results(folder)
    legs: list[Leg] = legs_of(results)
    picture = mass_picture(results, legs, "mass")
    row = pd.read_csv(folder / "quality.csv").query("subject == 'centre of mass'")
    assert len(row) == 2
    assert picture is not None
    assert row["advice"].iloc[0].lower() in picture.note.lower()
    copy = copied(folder, tmp_path)
    words = ["sex unknown: mean of men and women." if t == "squat_left" else "known." for t in row["trial"]]
    said = dict(zip(row.index, words, strict=True))
    changed(copy, "quality", advice=lambda t: [said.get(k, a) for k, a in zip(t.index, t["advice"], strict=True)])
    changed_results = read_results(copy)
    picture = mass_picture(changed_results, legs_of(changed_results), "mass")
    assert picture is not None
    assert "squat_left: sex unknown: mean of men and women." in picture.note
    assert "squat_right: known." in picture.note


@pytest.mark.parametrize(("ahead", "words"), [(-71.0, "71 mm behind the heel"), (60.0, "60 mm in front of the heel")])
def test_the_picture_says_how_far_along_the_foot_the_bottom_lies(
    folder: Path, monkeypatch: Any, ahead: float, words: str
) -> None:
    from condyle.report import picture_above

    path = {"path": np.array([[10.0, 50.0], [20.0, ahead]]), "foot": np.full((2, 1), 190.0), "bottom": np.array([1])}
    monkeypatch.setattr(picture_above, "_mass_paths", lambda *_: [path])
    results = read_results(folder)
    picture = mass_picture(results, legs_of(results), "mass")
    assert picture is not None
    assert words in picture.finding


def test_no_centre_of_mass_is_said_where_its_picture_would_be(folder: Path, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr("condyle.report.picture_above._mass_paths", lambda *_: [])
    monkeypatch.setattr("condyle.report.page.inline_svg", lambda picture: "")
    copy = copied(folder, tmp_path)
    row = "no centre of mass in this trial; not seen: C7."
    changed(copy, "quality", advice=lambda t: np.where(t.subject == "centre of mass", row, t.advice))
    content = content_of(read_results(copy), SETTINGS, False)
    ((question, why),) = content.groups[0].undrawn
    assert question == MASS_QUESTION
    assert "not seen: C7." in why
    assert why in [block.text for block in blocks_of(content) if isinstance(block, Words)]
    assert "not seen: C7." in write_report(copy)[0].read_text(encoding="utf-8")


def test_without_the_stage_the_page_says_that_the_pipeline_has_none(tmp_path: Path) -> None:
    folder = computed(tmp_path, stages=STAGES[:-1])[1]
    sentences = [answer.sentence for _, answer in content_of(read_results(folder), SETTINGS, False).groups[0].legs]
    wanted = "No cause is named, for the pipeline has no stage `contributions`; add it behind `measures` and run again."
    assert sentences == [wanted, wanted]


def test_with_the_stage_the_page_says_which_angles_these_markers_do_not_give_and_why(tmp_path: Path) -> None:
    folder = computed(tmp_path, lateral_only=True)[1]
    for _, answer in content_of(read_results(folder), SETTINGS, False).groups[0].legs:
        assert answer.sentence == (
            "No cause is named, for the contributions need hip adduction, hip rotation, knee adduction and knee rotation, "
            "which these markers do not give (no medial epicondyle and no usable knee width: the lateral marker stands for "
            "the knee; no medial malleolus and no usable ankle width: the lateral marker stands for the ankle)."
        )


def test_a_joint_whose_width_was_measured_is_not_blamed(tmp_path: Path) -> None:
    folder = computed(tmp_path, lateral_only=True)[1]
    usual = "no medial epicondyle and no usable knee width: the lateral marker stands for the knee."
    served = "no medial epicondyle: centre from the measured width."
    changed(folder, "quality", advice=lambda t: t["advice"].replace(usual, served))
    for _, answer in content_of(read_results(folder), SETTINGS, False).groups[0].legs:
        assert (
            "(no medial malleolus and no usable ankle width: the lateral marker stands for the ankle)"
            in answer.sentence
        )


def test_a_manifest_that_names_no_stages_blames_none(folder: Path, tmp_path: Path) -> None:
    place = copied(folder, tmp_path)
    (place / "contributions.csv").write_text((place / "contributions.csv").read_text().splitlines()[0] + "\n")
    (place / "manifest.json").write_text("{}")
    for _, answer in content_of(read_results(place), SETTINGS, False).groups[0].legs:
        assert answer.sentence == "No cause is named, for no contributions were computed."
