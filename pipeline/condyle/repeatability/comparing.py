"""``condyle check ROOT``: landmarks, distances, standing angles and axes of a participant's sessions against the first."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from condyle.errors import DataError, UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.files.tables import write_csv
from condyle.overridden import OVERRIDDEN, Overridden, together
from condyle.repeatability.angle_tables import angles_table, axes_table, centres_table
from condyle.repeatability.gathering import gather, one_of_each_name, without_copies
from condyle.repeatability.pair import Pair, pairs_of
from condyle.repeatability.picture import draw
from condyle.repeatability.placing_tables import distances_table, landmarks_table
from condyle.repeatability.reliability_table import reliability_table
from condyle.repeatability.sentences import pair_sentences, reliability_sentences
from condyle.repeatability.summary_table import summary_table


@dataclass(frozen=True)
class Comparison:
    """What comparing sessions gave: pairs, the errors of repeat sessions, a sentence for each session not used.

    ``overridden`` tells the trials that quality had rejected and that are among these values all the same.
    """

    pairs: tuple[Pair, ...]
    reliability: pd.DataFrame
    refused: tuple[str, ...]
    overridden: Overridden = field(default_factory=Overridden)

    @property
    def reviewed(self) -> bool:
        """Whether anything is to be looked at."""
        return any(pair.reviewed for pair in self.pairs)


def compare_sessions(root: Path) -> Comparison:
    """Compare each participant's sessions below ``root``; raises where there is nothing to compare, and says why."""
    found, refused = gather(root)
    named, doubled = one_of_each_name(found)
    sessions, copies = without_copies(named)
    refused += [*doubled, *copies]
    people = [g.participant for g in sessions]
    if len(set(people)) == len(people):
        if refused:
            raise DataError("\n".join([f"no participant below {root} has two sessions left to compare.", *refused]))
        raise UsageError(f"no participant below {root} has two sessions to compare; give the folder that holds them.")
    pairs, apart = pairs_of(sessions)
    let_through = together(g.overridden for g in sessions)
    return Comparison(tuple(pairs), reliability_table(sessions), (*refused, *apart), let_through)


def sentences_of(found: Comparison) -> list[str]:
    """Sessions not used, what was let through, what differs, one line a cause, and the repeatability of what decides."""
    refused = [f"not compared: {line}" for line in found.refused]
    return [*refused, *found.overridden.said(), *pair_sentences(found.pairs), *reliability_sentences(found.reliability)]


def write_comparison(found: Comparison, folder: Path) -> list[Path]:
    """Write the tables, the picture and the lab's repeatability into a folder."""
    place = writable_or_raise(folder)
    tables = {
        "compared": summary_table(found.pairs),
        "landmarks": landmarks_table(found.pairs),
        "distances": distances_table(found.pairs),
        "axes": axes_table(found.pairs),
        "centres": centres_table(found.pairs),
        "standing": angles_table(found.pairs),
        "repeatability": found.reliability,
    }
    for name, table in tables.items():
        whole = table if OVERRIDDEN in table else _marked(table, found.pairs)
        write_csv(place / f"{name}.csv", whole)
    said = "".join(f"# {sentence}\n" for sentence in found.overridden.said())
    write_text(place / "repeatability.yaml", said + repeatability_yaml(found.reliability))
    written = [*(place / f"{name}.csv" for name in tables), place / "repeatability.yaml"]
    if found.pairs:
        draw(found.pairs, tables["landmarks"], tables["axes"], place / "compared.svg")
        written.append(place / "compared.svg")
    return written


def _marked(table: pd.DataFrame, pairs: Iterable[Pair]) -> pd.DataFrame:
    """The table with what was let through of the two standing trials as its last column."""
    words = {tuple(pair.key.values()): pair.overridden for pair in pairs}
    keys = table[["participant", "first", "second"]].itertuples(index=False, name=None)
    return table.assign(**{OVERRIDDEN: [words[key] for key in keys]})


def repeatability_yaml(table: pd.DataFrame) -> str:
    """The lab's own repeatability, as a file that a report reads: copy it to configs/repeatability.yaml."""
    lines = [
        "# Written by condyle check from repeat sessions of this lab; the minimal detectable change is 1.96 sqrt(2) SEM.\n"
    ]
    for row in table.to_dict("records"):
        if np.isfinite(row["sem_mean"]) and np.isfinite(row["sem_single"]):
            lines.append(
                f"{row['task']}.{row['measure']}: {{unit: {row['unit']!r}, sem_mean: {row['sem_mean']:.4g}, "
                f"repetitions: {row['repetitions']:.3g}, sem_single: {row['sem_single']:.4g}, "
                f"participants: {row['participants']}, sessions: {row['sessions']}}}\n"
            )
    return "".join(lines)
