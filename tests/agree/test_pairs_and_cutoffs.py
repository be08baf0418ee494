"""What is not one quantity is marked; cut-offs are stated, and signs are never turned in silence."""

from pathlib import Path

import numpy as np
import pytest

from condyle.errors import UsageError
from condyle.study.settings import load_settings
from tests.agree.shared import QUICK, linear, run


def test_pair_of_different_quantities_is_marked_and_left_out_of_the_methods(tmp_path: Path) -> None:
    study, table = run(tmp_path, linear(), pair="mini:large")
    assert not table.loc["bias", "same_quantity"]
    assert "no agreement to be claimed" in table.loc["bias", "note"]
    assert "mini against large" not in " ".join(study.methods)
    same, _ = run(tmp_path / "same", linear())
    assert "mini against large" in " ".join(same.methods)


def test_same_quantity_is_told_from_the_names() -> None:
    from condyle.study.choosing import Names, pair_from_words

    of_3d = ("trunk_lean", "fppa", "hip_adduction", "pelvis_obliquity", "knee_adduction")
    planar = frozenset({"trunk_lean", "fppa", "pelvis_drop"})
    names = Names(planar, frozenset(), frozenset(f"{name}_at_bottom" for name in of_3d))
    asked = ("trunk_lean:trunk_lean", "fppa:hip_adduction", "pelvis_drop:pelvis_obliquity", "fppa:knee_adduction")
    pair = {words: pair_from_words(words, names, QUICK) for words in asked}
    assert pair["trunk_lean:trunk_lean"].same_quantity
    assert pair["trunk_lean:trunk_lean"].reference == "trunk_lean_at_bottom"
    assert not pair["fppa:hip_adduction"].same_quantity
    assert pair["pelvis_drop:pelvis_obliquity"].same_quantity
    assert pair["fppa:knee_adduction"].runs == "opposite"
    with pytest.raises(UsageError, match="nearest valid name: `hip_adduction_at_bottom`"):
        pair_from_words("fppa:hip_aduction_at_bottom", names, QUICK)
    with pytest.raises(UsageError, match="PLANAR:REFERENCE"):
        pair_from_words("fppa", names, QUICK)


def test_cutoff_given_makes_a_roc_and_its_best_threshold_is_corrected(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    rows = [(f"P{p:02d}", p + rng.normal(0, 6), float(p)) for p in range(30) for _ in range(2)]
    study, table = run(tmp_path, rows, pair="mini:large", cutoffs=["large:14.5", "mini:15"])
    assert 0.5 < table.loc["auc", "lower"] < table.loc["auc", "value"] <= 1
    assert table.loc["threshold_given", "value"] == 15
    x, y = study.results[0].sample.planar, study.results[0].sample.reference
    assert table.loc["sensitivity_given", "value"] == pytest.approx((x[y > 14.5] >= 15).mean())
    assert table.loc["specificity_given", "value"] == pytest.approx((x[y <= 14.5] < 15).mean())
    best = table.loc[["sensitivity_best", "specificity_best"], "value"].sum()
    assert table.loc[["sensitivity_best_corrected", "specificity_best_corrected"], "value"].sum() < best


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"cutoffs": ["lagre:14.5"]}, "--cutoff 'lagre:14.5': 'lagre' is no measure of any pair; nearest valid name: `large`"),
        ({"cutoffs": ["hip_adduction_at_bottom:12"]}, "is no measure of any pair; valid names: `large`, `mini`"),
        ({"cutoffs": ["large:14", "large:15"]}, "contradict one another"),
        ({"flip": ["mnii"]}, "--flip mnii: .*planar.csv has no such measure; nearest valid name: `mini`"),
    ],
)  # fmt: skip
def test_cutoff_or_flip_of_an_unknown_measure_is_refused_before_writing(
    tmp_path: Path, more: dict[str, list[str]], words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        run(tmp_path, linear(), **more)
    assert not (tmp_path / "out").exists()


def test_cutoff_may_name_the_quantity_of_a_measure_at_the_bottom() -> None:
    from condyle.study.choosing import cutoff_from_words, refuse_unused_cutoffs
    from condyle.study.settings import PairSetting

    pair = PairSetting(planar="fppa_camera_at_bottom", reference="hip_adduction_at_bottom")
    words = ["fppa:10", "hip_adduction_at_bottom:12"]
    refuse_unused_cutoffs(words, [cutoff_from_words(w) for w in words], [pair])
    with pytest.raises(UsageError, match="nearest valid name: `hip_adduction_at_bottom`"):
        refuse_unused_cutoffs(["x"], [cutoff_from_words("hip_adductoin_at_bottom:12")], [pair])


def test_methods_say_who_was_marked_and_what_was_taken_off(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    rows = [(f"P{p:02d}", p + rng.normal(0, 6), float(p)) for p in range(30) for _ in range(2)]
    run(tmp_path / "a", rows, pair="mini:large", cutoffs=["large:14.5", "mini:15"], unit="deg")
    text = (tmp_path / "a" / "out" / "methods.txt").read_text()
    assert "ROC" in text
    assert "large above 14.5 deg (stated with --cutoff)" in text
    assert "The screen's own cut-off: mini above 15 deg (stated with --cutoff)." in text
    assert "mean optimism over 200 bootstrap samples of participants was taken off" in text
    run(tmp_path / "b", rows, pair="mini:large", unit="deg")
    assert "ROC" not in (tmp_path / "b" / "out" / "methods.txt").read_text()  # none was drawn
    one = [("P01", x, y) for _, x, y in rows]
    run(tmp_path / "c", one, pair="mini:large", cutoffs=["large:14.5"], unit="deg")
    assert "nothing was taken off" in (tmp_path / "c" / "out" / "methods.txt").read_text()


def test_methods_name_each_cut_off_once_in_the_order_stated() -> None:
    from condyle.study.methods_text import _cut_offs

    names = ["fppa_camera_at_bottom", "trunk_lean_at_bottom", "hip_adduction_at_bottom", "trunk_lean_at_bottom"]
    words = _cut_offs([(name, "deg") for name in names], load_settings().cutoffs)
    assert [w.split(" (")[0] for w in words] == [
        "hip adduction at bottom above 16.4 deg",
        "trunk lean at bottom above 9.7 deg",
    ]
    assert (
        len(
            _cut_offs(
                [("fppa_camera_at_bottom", "deg"), ("fppa_asis_camera_at_bottom", "deg")],
                load_settings().planar_cutoffs,
            )
        )
        == 1
    )


def test_roc_of_what_is_marked_below_turns_its_sign(tmp_path: Path) -> None:
    # adduction falls as the planar value rises: marked below -20, called where the planar value is high
    rows = [(f"P{p:02d}", float(p), -float(p)) for p in range(30)]
    _, table = run(tmp_path, rows, pair="mini:large:different:opposite", cutoffs=["large:-19.5:below"])
    assert table.loc["auc", "value"] == 1.0
    assert table.loc["threshold_best", "value"] == pytest.approx(19.5)
