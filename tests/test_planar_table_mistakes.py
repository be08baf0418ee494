"""Mistakes in a table of digitised values: the row is set aside and named, the rest is analysed, nothing is guessed."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.errors import DataError
from condyle.files.tables import write_csv
from condyle.study import agree
from condyle.study.one_unit import settle
from condyle.study.settings import load_settings
from condyle.study.unmatched import NOT_THIS_MEASURE, reasons

QUICK = load_settings().model_copy(update={"draws": 200})
SQUATS = [(f"MR{p:02d}", side, r) for p in range(1, 8) for side in ("left", "right") for r in range(1, 6)]


@pytest.fixture
def tables(tmp_path: Path) -> tuple[Path, pd.DataFrame]:
    """measures.csv of 70 repetitions in degrees, and the planar table to be spoilt."""
    rng = np.random.default_rng(2)
    rows = pd.DataFrame(SQUATS, columns=["participant", "side", "repetition"])
    rows = rows.assign(session="2026-11-03", trial="squat_" + rows["side"], task="single_leg_squat", unit="deg")
    truth = rng.normal(8, 5, len(rows))
    write_csv(tmp_path / "measures.csv", rows.assign(measure="fppa_at_bottom", value=truth))
    planar = rows.drop(columns="task").assign(measure="fppa_video", value=truth + rng.normal(0, 2, len(rows)))
    return tmp_path, planar.astype({"repetition": str, "value": float})


def laid(tables: tuple[Path, pd.DataFrame], pair: str = "fppa_video:fppa"):  # type: ignore[no-untyped-def]
    folder, planar = tables
    write_csv(folder / "planar.csv", planar)
    files = (folder / "measures.csv", folder / "out", folder / "planar.csv")
    study = agree(*files, [pair], settings=QUICK, page=False)
    return study, pd.read_csv(folder / "out" / "pairs.csv", dtype=str, keep_default_na=False)


def spoilt(tables: tuple[Path, pd.DataFrame], row: int, **cells: object) -> tuple[Path, pd.DataFrame]:
    folder, planar = tables
    for name, cell in cells.items():
        planar.loc[row, name] = cell
    return folder, planar


# ---- units


def test_one_row_in_another_kind_of_unit_does_not_stop_the_other_69(tables) -> None:  # type: ignore[no-untyped-def]
    study, pairs = laid(spoilt(tables, 12, unit="mm"))
    assert pairs["status"].value_counts().to_dict() == {"paired": 69, "other_unit": 1}
    aside = pairs[pairs["status"] == "other_unit"].iloc[0]
    assert (aside["participant"], aside["side"], aside["repetition"]) == ("MR02", "left", "3")
    assert aside["reason"] == "planar unit mm cannot be converted; the other 69 stand in deg"
    (result,) = study.results
    assert result.sample.pairs == 69
    assert result.value("bias_repeated") is not None
    told = next(s for s in study.brief if "planar unit mm" in s)
    assert "participant MR02, session 2026-11-03, trial squat_left, side left, repetition 3" in told


def test_units_of_one_kind_are_converted_row_by_row(tables) -> None:  # type: ignore[no-untyped-def]
    whole, _ = laid((tables[0], tables[1].copy()))
    values = tables[1]["value"]
    planar = tables[1].assign(
        unit=["rad"] * 30 + ["deg"] * 40, value=[*np.deg2rad(values[:30]), *values[30:]]
    )  # fmt: skip
    study, pairs = laid((tables[0], planar))
    assert set(pairs["planar_unit"]) == {"deg"}
    assert study.results[0].value("bias_repeated").value == pytest.approx(whole.results[0].value("bias_repeated").value)


def test_what_most_values_stand_in_decides() -> None:
    def settled(units: list[str], wanted: str) -> tuple[str, list[str]]:
        table = pd.DataFrame({"planar_value": 1.0, "planar_unit": units, "status": "", "reason": ""})
        return settle(table, "planar", wanted), table["status"].tolist()

    assert settled(["deg", "mm", "rad"], "deg") == ("deg", ["", "other_unit", ""])
    assert settled(["mm", "mm", "deg"], "deg") == (
        "mm",
        ["", "", "other_unit"],
    )  # knee travel against an angle is asked for
    assert settled(["mm", "deg"], "deg") == ("deg", ["other_unit", ""])
    assert settled(["", "", "mm"], "deg") == ("deg", ["", "", "other_unit"])  # without a unit: the reference's
    assert settled(["furlong", "deg", "furlong"], "deg") == ("deg", ["unknown_unit", "", "unknown_unit"])
    assert settled(["furlong", "furlong"], "furlong") == ("furlong", ["", ""])


def test_reference_in_another_kind_of_unit_is_set_aside_too(tables) -> None:  # type: ignore[no-untyped-def]
    folder = tables[0]
    measures = pd.read_csv(folder / "measures.csv")
    measures.loc[4, "unit"] = "mm"
    write_csv(folder / "measures.csv", measures)
    study, pairs = laid(tables)
    assert study.results[0].sample.pairs == 69
    assert pairs[pairs["status"] == "other_unit"]["reason"].tolist() == [
        "reference unit mm cannot be converted; the other 69 stand in deg"
    ]


# ---- magnitudes


@pytest.mark.parametrize(
    ("value", "unit"), [(1e30, "deg"), (-1e30, "deg"), (361.0, "deg"), (7.0, "rad"), (-999.0, "deg"), (9.99e37, "")]
)
def test_values_beyond_all_measure_are_set_aside(tables, value: float, unit: str) -> None:  # type: ignore[no-untyped-def]
    study, pairs = laid(spoilt(tables, 0, value=value, unit=unit))
    assert pairs["status"].value_counts().to_dict() == {"paired": 69, "absurd_value": 1}
    assert pairs["reason"].iloc[0].startswith("the planar value is beyond what can be meant (360 deg)")
    assert abs(study.results[0].value("bias_repeated").value) < 2
    assert any("beyond what can be meant" in s and "participant MR01" in s for s in study.brief)


def test_lengths_end_at_ten_metres_whatever_their_unit() -> None:
    table = pd.DataFrame({"planar_value": [9.0, 11.0, 900.0, 9000.0], "planar_unit": ["m", "m", "cm", "mm"]})
    table = table.assign(status="", reason="")
    assert settle(table, "planar", "mm") == "mm"
    assert table["status"].tolist() == ["", "absurd_value", "", ""]
    assert table["planar_value"].tolist() == [9000.0, 11000.0, 9000.0, 9000.0]


def test_reference_beyond_all_measure_is_set_aside(tables) -> None:  # type: ignore[no-untyped-def]
    folder = tables[0]
    measures = pd.read_csv(folder / "measures.csv")
    measures.loc[4, "value"] = 1e30
    write_csv(folder / "measures.csv", measures)
    study, pairs = laid(tables)
    assert study.results[0].sample.pairs == 69
    assert pairs.loc[pairs["status"] == "absurd_value", "reason"].iloc[0].startswith("the reference value is beyond")


# ---- keys


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"side": "R?"}, "side 'R?' is neither left nor right"),
        ({"repetition": "x"}, "repetition 'x' is no whole number"),
        ({"repetition": "9"}, "repetition '9' of squat_left is not in the measures; there are 1, 2, 3, 4 and 1 more"),
        ({"repetition": ""}, "no repetition is given"),
        ({"participant": "mr1"}, "the planar table says participant 'mr1', the measures 'MR01': spell them alike"),
        ({"participant": "MX01"}, "participant 'MX01' is not in the measures; nearest: 'MR01'"),
        ({"participant": "Z"}, "participant 'Z' is not in the measures; there are MR01, MR02, MR03, MR04 and 3 more"),
        ({"session": "2026-11-3"}, "the planar table says session '2026-11-3', the measures '2026-11-03': spell them alike"),
        ({"session": "2026-11-04"}, "session '2026-11-04' of MR01 is not in the measures; nearest: '2026-11-03'"),
        ({"trial": "squat_rihgt"}, "trial 'squat_rihgt' of MR01 is not in the measures; nearest: 'squat_right'"),
        ({"side": "right"}, "side 'right' of squat_left is not in the measures; there is left"),
        (
            {"trial": "squat_rihgt", "side": "R?", "repetition": "x"},
            "trial 'squat_rihgt' of MR01 is not in the measures; nearest: 'squat_right'; "
            "side 'R?' is neither left nor right; repetition 'x' is no whole number",
        ),
    ],
)  # fmt: skip
def test_which_key_does_not_match_is_named(tables, cells: dict[str, str], reason: str) -> None:  # type: ignore[no-untyped-def]
    study, pairs = laid(spoilt(tables, 0, **cells))
    lost = pairs[pairs["status"] == "no_reference"]
    assert lost["reason"].tolist() == [reason]
    assert any(f"{reason} (1 row)" in s for s in study.brief)


def test_a_repetition_without_this_measure_is_told_from_an_unknown_one(tables) -> None:  # type: ignore[no-untyped-def]
    folder = tables[0]
    measures = pd.read_csv(folder / "measures.csv")
    other = measures.assign(measure="hip_adduction_at_bottom")
    write_csv(folder / "measures.csv", pd.concat([measures.iloc[1:], other]))
    _, pairs = laid(tables)
    assert pairs[pairs["status"] == "no_reference"]["reason"].tolist() == [NOT_THIS_MEASURE]


def test_names_alike_but_for_zeros_are_no_dates_alike() -> None:
    known = pd.DataFrame({"participant": ["MR01"], "session": ["2026-1-13"]})
    lost = pd.DataFrame({"participant": ["MR01"], "session": ["2026-11-3"]})
    assert "spell them alike" not in reasons(lost, known, ["participant", "session"])[0]


def test_many_reasons_are_counted_on_the_screen_and_all_in_the_files(tables) -> None:  # type: ignore[no-untyped-def]
    folder, planar = tables
    planar.loc[:9, "repetition"] = [f"r{k}" for k in range(10)]
    study, pairs = laid((folder, planar))
    assert pairs[pairs["status"] == "no_reference"]["reason"].nunique() == 10
    told = next(s for s in study.brief if "without a reference: " in s)
    assert "and 6 more reasons, row by row in pairs.csv" in told
    assert all(f"'r{k}'" in " ".join(study.sentences) for k in range(10))


def test_nothing_paired_says_which_key(tables) -> None:  # type: ignore[no-untyped-def]
    folder, planar = tables
    with pytest.raises(DataError, match="participant 'mr1', the measures 'MR01'"):
        laid((folder, planar.assign(participant=planar["participant"].str.replace("MR0", "mr"))))
