"""Tables of pairs as files, and a study over them."""

from pathlib import Path

import numpy as np
import pandas as pd

from condyle.study import agree
from condyle.study.settings import load_settings
from tests.study_tables import two_tables

QUICK = load_settings().model_copy(update={"draws": 200})


def run(folder: Path, rows: list[tuple[str, float, float]], pair: str = "mini:large:same", **more):  # type: ignore[no-untyped-def]
    measures, planar = two_tables(folder, rows, unit=more.pop("unit", "l/min"))
    study = agree([measures], folder / "out", planar, [pair], settings=more.pop("settings", QUICK), page=False, **more)
    return study, pd.read_csv(folder / "out" / "agreement.csv").set_index("statistic")


def linear(n: int = 12, repeats: int = 1, slope: float = 1.0) -> list[tuple[str, float, float]]:
    rng = np.random.default_rng(5)
    return [
        (f"MR{p:02d}", slope * p + rng.normal(0, 0.5), p + rng.normal(0, 0.5)) for p in range(n) for _ in range(repeats)
    ]


def words(study) -> str:  # type: ignore[no-untyped-def]
    return " | ".join([*study.sentences, *study.questions])
