"""What a study came to: one result a pair and task, and everything beside."""

from dataclasses import dataclass, field
from typing import NamedTuple

import pandas as pd

from condyle.overridden import Overridden, Trial
from condyle.study.curves import CurvePair
from condyle.study.reading import Tables
from condyle.study.settings import AgreeSettings, PairSetting
from condyle.study.statistics import Estimate, Sample
from condyle.study.thresholds import Roc

_NAMED = 2  # pairs of measures named in one sentence on the screen


class Note(NamedTuple):
    """A reason that holds for a pair of measures, as the files and as the screen say it."""

    reason: str
    name: str
    brief: str
    see: str


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
    notes: list[Note] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    imported: bool = False
    computed: bool = False
    overridden: Overridden = field(default_factory=Overridden)
    read: dict[str, list[Trial]] = field(
        default_factory=dict
    )  # by task, the trials whose causes are compared with readings

    def note(self, reason: str, name: str, brief: str = "", see: str = "agreement.html") -> None:
        """Remember that a reason holds for a pair; pairs with the same reason share one sentence.

        ``brief`` is how the screen says it, where several reasons come to the same; ``see`` is the file that has all.
        """
        self.notes.append(Note(reason, name, brief or reason, see))

    @property
    def sentences(self) -> list[str]:
        """Everything that has to be said, each reason once with all the pairs it holds for."""
        return [*self.said, *(f"{_capital(reason)} ({_pairs(names)})." for reason, names in self.grouped)]

    @property
    def grouped(self) -> list[tuple[str, list[str]]]:
        """Each reason with the pairs of measures it holds for."""
        return self._grouped("reason")

    @property
    def brief(self) -> list[str]:
        """The same for the screen: the first pairs of each sentence, how many more there are, and where they stand."""
        see = {note.brief: note.see for note in self.notes}
        short = [f"{_capital(words)} ({_pairs(names, _NAMED, see[words])})." for words, names in self._grouped("brief")]
        return [*self.said, *short]

    def _grouped(self, by: str) -> list[tuple[str, list[str]]]:
        found: dict[str, list[str]] = {}
        for note in self.notes:
            found.setdefault(getattr(note, by), []).append(note.name)
        return [(words, list(dict.fromkeys(names))) for words, names in found.items()]


def _capital(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"


def _pairs(names: list[str], most: int = 0, see: str = "") -> str:
    if len(names) == 1:
        return names[0]
    of_task = " and tasks" if any(name.endswith(")") for name in names) else ""
    rest = len(names) - most if most and len(names) > most + 1 else 0
    shown = names[: len(names) - rest]
    more = f" and {rest} more; see {see}" if rest else ""
    return f"{len(names)} pairs of measures{of_task}: {', '.join(shown)}{more}"
