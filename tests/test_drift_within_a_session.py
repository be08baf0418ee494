"""Names, prefixes and sample rates side by side: the file that differs is blamed, standing trials counting among them."""

from types import SimpleNamespace
from typing import Any

from condyle.session_checks import copied_files, differing_rates, drifting_names

SET = frozenset({"X1", "X2", "X3", "INNER"})
STATIC = frozenset({"static"})
ONLY = frozenset({"INNER"})


def recording(*labels: str, rate: float = 100.0, prefix: str = "") -> Any:
    names = tuple(prefix + label for label in labels or ("X1", "X2", "X3"))
    return SimpleNamespace(
        labels=names, kinds=("marker",) * len(names), prefixes=(prefix,) if prefix else (), rate_hz=rate
    )


def session(**trials: Any) -> dict[str, Any]:
    """Movement trials in the order given, the standing trial last, as the program reads them."""
    return {**trials, "static": recording("X1", "X2", "X3", "INNER")}


def test_a_copy_of_another_trials_file_is_named_and_one_file_named_twice_is_not() -> None:
    def of(path: str, content: str) -> Any:
        return SimpleNamespace(path=path, sha256=content)

    files = {"static": of("a", "1"), "squat": of("b", "2"), "again": of("c", "2"), "same": of("b", "2")}
    found = copied_files(files)
    assert set(found) == {"again"}
    assert "that of squat" in found["again"][0].advice
    assert set(copied_files({"static": of("a", "1"), "squat": of("b", "1")})) == {"squat"}


def test_the_one_file_with_a_prefix_is_blamed() -> None:
    files = session(squat_right=recording(prefix="P01:"), squat_left=recording())
    assert set(drifting_names(files, SET, STATIC, ONLY)) == {"squat_right"}
    files = session(squat_right=recording(), squat_left=recording(prefix="P01:"))
    assert set(drifting_names(files, SET, STATIC, ONLY)) == {"squat_left"}


def test_the_one_file_at_another_rate_is_blamed() -> None:
    found = differing_rates(session(squat_right=recording(rate=50.0), squat_left=recording()), STATIC)
    assert set(found) == {"squat_right"}
    (row,) = found["squat_right"]
    assert (row.value, row.limit) == (50.0, 100.0)
    assert "squat_left, static at 100 Hz" in row.advice


def test_of_two_halves_the_standing_trials_is_usual() -> None:
    files = session(a=recording(rate=50.0), b=recording(rate=50.0), c=recording())
    assert set(differing_rates(files, STATIC)) == {"a", "b"}
    assert set(differing_rates(session(a=recording(rate=50.0)), STATIC)) == {"a"}


def test_a_tie_without_a_standing_trial_names_both() -> None:
    files = {"a": recording(rate=50.0, prefix="P01:"), "b": recording()}
    assert set(differing_rates(files)) == {"a", "b"}
    assert set(drifting_names(files, SET)) == {"a", "b"}
    statics = {"a": recording(), "b": recording(rate=50.0)}
    assert set(differing_rates(statics, frozenset({"a", "b"}))) == {"a", "b"}, (
        "standing trials that differ tell nothing"
    )


def test_a_renamed_marker_is_found_with_few_movement_trials() -> None:
    renamed = recording("X1", "X2", "Y3")
    for others in ({}, {"squat_left": recording()}, {"squat_left": recording(), "again": recording()}):
        found = drifting_names(session(squat_right=renamed, **others), SET, STATIC, ONLY)
        assert set(found) == {"squat_right"}, others
        (row,) = found["squat_right"]
        assert "Y3" in row.advice
        assert "X3" in row.advice


def test_a_marker_renamed_in_the_standing_trial_is_found_there() -> None:
    files = {"a": recording(), "b": recording(), "static": recording("X1", "X2", "Z3", "INNER")}
    assert set(drifting_names(files, SET, STATIC, ONLY)) == {"static"}


def test_what_belongs_to_standing_alone_is_no_drift() -> None:
    files = session(squat_right=recording(), squat_left=recording())
    files["static"] = recording("X1", "X2", "X3", "INNER", "WAND")
    assert drifting_names(files, SET, STATIC, ONLY) == {}
    assert drifting_names({"static": files["static"]}, SET, STATIC, ONLY) == {}
    assert differing_rates({"static": files["static"]}, STATIC) == {}


def test_a_lost_marker_alone_is_no_drift() -> None:
    assert drifting_names(session(a=recording("X1", "X2"), b=recording()), SET, STATIC, ONLY) == {}
