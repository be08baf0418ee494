"""A small version of ``python -m tests.accuracy``: the numbers it prints, on two people of a development seed."""

from functools import lru_cache

import pytest

from .accuracy import Case, agrees, cases, confusion, crossed, larger_share, naming_by_lead, right_share
from .accuracy_picture import naming_figure


@lru_cache(maxsize=1)
def quarter() -> tuple[Case, ...]:
    return tuple(cases((1, 2), seed=3, scale=0.25, draws=60))


def test_with_a_quarter_of_the_errors_most_causes_are_named_and_right() -> None:
    found = list(quarter())
    assert len(found) == 4
    share, right = right_share(found, "tool")
    assert share >= 0.5
    assert right == 1.0
    assert crossed(found, "tool") == 0
    named, larger = larger_share(found, "tool")
    assert named == larger > 0


def test_rivals_name_everything() -> None:
    for way in ("kneecap", "raw_angle"):
        assert right_share(list(quarter()), way)[0] == 1.0


def test_tables_count_every_case_once() -> None:
    found = list(quarter())
    assert sum(confusion(found, "tool").values()) == len(found)
    led = [c for c in found if c.truth in ("at_the_hip", "in_the_leg", "with_the_pelvis")]
    assert sum(row[2] for row in naming_by_lead(found)) == len(led)


@pytest.mark.parametrize(
    ("said", "truth", "right"),
    [
        ("in_the_leg", "at_the_hip", True),
        ("at_the_hip", "in_the_leg", False),
        ("with_the_pelvis", "mixed", False),
        ("none", "none", True),
    ],
)
def test_what_counts_as_right(said: str, truth: str, right: bool) -> None:
    assert agrees(said, truth) is right


def test_the_picture_shows_the_share_named_of_each_class_with_cases() -> None:
    rows = [(0.0, 5.0, 10, 0.1, 1.0), (5.0, 20.0, 0, float("nan"), float("nan")), (20.0, float("inf"), 40, 0.75, 1.0)]
    axes = naming_figure({1.0: rows, 0.25: rows}).axes[0]
    full = axes.containers[0].lines[0]
    assert full.get_ydata().tolist() == [10.0, 75.0]
    low, high = axes.containers[0].lines[2][0].get_segments()[1][:, 1].tolist()
    assert low == pytest.approx(59.8, abs=0.1)  # Wilson's interval of 30 in 40
    assert high == pytest.approx(85.8, abs=0.1)
    assert [t.get_text() for t in axes.get_xticklabels()] == ["0 to 5", "5 to 20", "20 and more"]
