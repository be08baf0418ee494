"""`condyle agree` on files: published examples come out, and repetitions belong to people."""

from pathlib import Path

import numpy as np
import pytest

from tests.agree.shared import run
from tests.test_agreement_statistics import LARGE, MINI, cardiac


def test_peak_flow_of_bland_altman_1986_comes_out_of_the_files(tmp_path: Path) -> None:
    # reference mini, planar large: the paper's differences are large minus mini
    rows = [(f"P{i}", x, y) for i, (x, y) in enumerate(zip(LARGE, MINI, strict=True))]
    study, table = run(tmp_path, rows)
    assert table.loc["bias", "value"] == pytest.approx(-2.1, abs=0.05)
    assert table.loc["sd_difference", "value"] == pytest.approx(38.8, abs=0.05)
    assert table.loc["limit_lower", "value"] == pytest.approx(-78.1, abs=0.06)
    assert table.loc["limit_upper", "value"] == pytest.approx(73.9, abs=0.06)
    # the paper's limit interval is 34.5 wide to each side, whatever multiple of SD the limit stands at
    half = (table.loc["limit_upper", "upper"] - table.loc["limit_upper", "lower"]) / 2
    assert half == pytest.approx(34.55, abs=0.1)
    assert table.loc["concordance", ["value", "lower", "upper"]].tolist() == pytest.approx(
        [0.9427, 0.8505, 0.9787], abs=5e-5
    )
    assert set(table["pairs"]) == {17}
    # with two methods the SEM is the SD of the differences over sqrt 2, and its interval likewise
    sd = table.loc["sd_difference", ["value", "lower", "upper"]].to_numpy(dtype=float)
    assert table.loc["sem", ["value", "lower", "upper"]].to_numpy(dtype=float) == pytest.approx(sd / np.sqrt(2))
    assert "Bland & Altman 1986" in table.loc["limit_lower", "interval"]
    assert not [s for s in table.index if s.endswith("_repeated")]
    assert study.results[0].pair.same_quantity


def test_repeated_pairs_of_bland_altman_2007_come_out_of_the_files(tmp_path: Path) -> None:
    person, x, y = cardiac()
    rows = [(f"P{p + 1:02d}", a, b) for p, a, b in zip(person, x, y, strict=True)]
    study, table = run(tmp_path, rows)
    assert table.loc["bias_repeated", "value"] == pytest.approx(0.6021667, abs=1e-6)
    assert table.loc["sd_difference_repeated", "value"] == pytest.approx(0.99062408, abs=1e-7)
    assert table.loc["limit_lower_repeated", "value"] == pytest.approx(-1.3394565, abs=1e-6)
    assert table.loc["limit_upper_repeated", "value"] == pytest.approx(2.5437899, abs=1e-6)
    assert table.loc["limit_upper_repeated", "interval"].startswith("cluster bootstrap")
    assert table.loc["bias", "lower"] < table.loc["bias", "value"] < table.loc["bias", "upper"]
    assert set(table["participants"]) == {12}
    sizes = study.results[0].sizes
    assert sizes is not None
    alone = sizes[sizes["pairs_each"] == 1].set_index("half_width")
    assert alone["formula"].str.contains("Bland & Altman 1986").all()
    assert alone["participants"].to_dict() == {
        h: np.ceil(3 * (1.959964 * 0.99062408 / h) ** 2) for h in (1.0, 2.0, 3.0)
    }


def test_intervals_know_that_repetitions_belong_to_people(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    rows = [(f"P{p:02d}", d + r, 0.0 + r) for p, d in enumerate(rng.normal(0, 2, 12)) for r in rng.normal(0, 1, 8)]
    _, clustered = run(tmp_path / "a", rows)
    apart = [(f"{name}-{i}", x, y) for i, (name, x, y) in enumerate(rows)]
    _, independent = run(tmp_path / "b", apart)
    assert clustered.loc["bias", "value"] == pytest.approx(independent.loc["bias", "value"])
    width = [t.loc["bias", "upper"] - t.loc["bias", "lower"] for t in (clustered, independent)]
    assert width[0] > 2 * width[1]
