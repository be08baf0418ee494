"""What a study came to: one result a pair and task, and everything beside."""

from dataclasses import dataclass, field

import pandas as pd

from condyle.study.curves import CurvePair
from condyle.study.reading import Tables
from condyle.study.settings import AgreeSettings, PairSetting
from condyle.study.statistics import Estimate, Sample
from condyle.study.thresholds import Roc


@dataclass
class PairResult:
    """One pair of measures in one task."""

    pair: PairSetting
    task: str
    sample: Sample
    rows: pd.DataFrame
    units: tuple[str, str]
    estimates: list[Estimate] = field(default_factory=list)
    roc: Roc | None = None
    sizes: pd.DataFrame | None = None
    sign_in_question: bool = False

    def value(self, statistic: str) -> Estimate | None:
        """The estimate of that name; None where it was not computed."""
        return next((e for e in self.estimates if e.statistic == statistic), None)


@dataclass
class Study:
    """Everything a study came to; the page and the files are written from it."""

    settings: AgreeSettings
    tables: Tables
    results: list[PairResult] = field(default_factory=list)
    pairs: pd.DataFrame = field(default_factory=pd.DataFrame)
    misreading: pd.DataFrame = field(default_factory=pd.DataFrame)
    examples: pd.DataFrame = field(default_factory=pd.DataFrame)
    camera: pd.DataFrame = field(default_factory=pd.DataFrame)
    camera_values: pd.DataFrame = field(default_factory=pd.DataFrame)
    curves: list[CurvePair] = field(default_factory=list)
    kappa: list[tuple[str, Estimate, int, int]] = field(default_factory=list)
    methods: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    notes: dict[str, list[str]] = field(default_factory=dict)
    questions: list[str] = field(default_factory=list)
    imported: bool = False
    computed: bool = False

    def note(self, reason: str, name: str) -> None:
        """Remember that a reason holds for a pair; pairs with the same reason share one sentence."""
        self.notes.setdefault(reason, []).append(name)

    @property
    def sentences(self) -> list[str]:
        """Everything that has to be said, each reason once with the pairs it holds for."""
        shared = []
        for reason, names in self.notes.items():
            several = f"{len(names)} pairs of measures: {', '.join(names)}" if len(names) > 1 else names[0]
            shared.append(f"{reason[0].upper()}{reason[1:]} ({several}).")
        return [*self.said, *shared]
