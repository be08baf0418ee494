"""Every word that may stand in the findings of a repetition has its row in the quality table: value, limit, unit, basis."""

import inspect
import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import get_args

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.findings import Finding
from condyle.sample.movements import MOVEMENTS, Movement
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages import repetitions, validity
from condyle.stages.beside_the_verdict import Words, as_finding, seen_in
from condyle.stages.causes import ALREADY, BY_HEADING, NOT_GIVEN, REBUILT, REMARKS, Drawn
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.measured_points import landmark
from condyle.stages.remarks import REMARKED
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial

from .observations.shared import LIMITS, OPTIONS, STILL
from .observations.test_sentences import SEEN
from .simulated import processed

Made = tuple[xr.Dataset, list[Finding]]
BASIS = re.compile(r"\((ours|common practice, no source|[^()]*\d{4}|set in the pipeline)[;,)]|\(ours")


def lacking(said: str, rows: list[Finding]) -> list[str]:
    """What the rows of one repetition do not tell of a word."""
    bare = said.removeprefix("invalid: ")
    own = [f for f in rows if f.advice.startswith((f"{bare}:", f"{bare} ("))]
    if not own:
        return [f"{said}: no row"]
    row = own[0]
    lost = [n for n in ("value", "limit") if getattr(row, n) is None or not np.isfinite(getattr(row, n))]
    lost += [] if row.unit else ["unit"]
    lost += [] if BASIS.search(row.advice) else ["basis"]
    return [f"{said}: no {n}" for n in lost]


def complaints(made: Made) -> list[str]:
    """Over all repetitions of a trial: words whose row is not there or not whole."""
    trial, findings = made
    numbers, sides, said = (trial.variables[f"repetition_{n}"].values.tolist() for n in ("number", "side", "findings"))
    out = []
    for number, side, words in zip(numbers, sides, said, strict=True):
        rows = [f for f in findings if f.subject == f"repetition {number}, {side}"]
        out += [c for word in words.split(";") if word for c in lacking(word, rows)]
    return out


@lru_cache(maxsize=8)
def squat(movement: str = "hip_in", turned: float = 0.0, repetitions: int = 1) -> Made:
    chosen: Movement = MOVEMENTS[movement]
    if turned:
        chosen = replace(chosen, start={**chosen.start, "pelvis_rotation": turned})
    options = replace(OPTIONS, timing=Timing(repetitions=repetitions, squat_s=1.6, before_s=0.7))
    return processed(build_person(), simulate(build_person(), chosen, options, "right"))


def through(change: Callable[[xr.Dataset, int], None], movement: str = "hip_in", repetitions: int = 1) -> Made:
    """The squat, changed at its (last) bottom, with what contributions says of it."""
    trial, findings = squat(movement, repetitions=repetitions)
    trial = trial.copy(deep=True)
    change(trial, int(trial.variables["repetition_bottom"].values[-1]))
    done, more = contributions_trial(trial, ContributionsSettings())
    return done, [*findings, *more]


def shifted(side: str, by: tuple[float, float, float], only: str = "") -> Callable[[xr.Dataset, int], None]:
    def change(trial: xr.Dataset, bottom: int) -> None:
        for k, name in enumerate(trial["marker"].values.tolist()):
            if name.startswith(only or ("calcaneus", "metatarsal")) and name.endswith(f"_{side[0]}"):
                trial["point"].values[bottom - 6 : bottom + 6, k] += by

    return change


def free_foot_down(trial: xr.Dataset, bottom: int) -> None:
    lowest = min(float(landmark(trial, f"{n}_l")[bottom, 1]) for n in ("calcaneus", "metatarsal_1", "metatarsal_5"))
    shifted("left", (0.0, 20.0 - lowest, 0.0))(trial, bottom)


def free_foot_at_the_stance_leg(trial: xr.Dataset, bottom: int) -> None:
    knee = trial["joint_centre"].values[bottom, JOINTS.index("knee_r")]
    shifted("left", tuple(knee - landmark(trial, "calcaneus_l")[bottom]))(trial, bottom)


def free_leg_elsewhere(trial: xr.Dataset, bottom: int) -> None:
    start = int(trial.variables["repetition_start"].values[-1])
    trial["joint_centre"].values[start:, JOINTS.index("ankle_l"), 0] += 400.0
    shifted("left", (400.0, 0.0, 0.0))(trial, bottom)


FAULTS: dict[str, Callable[[], Made]] = {
    "the stance foot slid": lambda: through(shifted("right", (0.0, 0.0, 25.0))),
    "the stance foot pivoted": lambda: through(shifted("right", (0.0, 0.0, 40.0), only="calcaneus")),
    "the stance foot hopped": lambda: through(shifted("right", (0.0, 25.0, 0.0))),
    "the free foot touched the floor": lambda: through(free_foot_down),
    "the free foot touched the stance leg": lambda: through(free_foot_at_the_stance_leg),
    "the free leg's position changed": lambda: through(free_leg_elsewhere, repetitions=3),
}


def gone(*names: str) -> Made:
    """A squat at whose bottom these markers are hidden, through all stages."""
    simulated = simulate(build_person(), "hip_in", OPTIONS, "right")
    points, bottom = simulated.points.copy(), simulated.bouts[0].repetitions[0].bottom
    for k, name in enumerate(simulated.markers):
        if name.startswith(names):
            points[bottom - 20 : bottom + 21, k] = np.nan
    trial, findings = processed(build_person(), replace(simulated, points=points))
    done, more = contributions_trial(trial, ContributionsSettings())
    return done, [*findings, *more]


GAPS: dict[str, Callable[[], Made]] = {
    "knee missing at the bottom": lambda: gone("shank"),
    "pelvis missing at the bottom": lambda: gone("asis", "psis", "iliac"),
}


def rebuilt(trial: xr.Dataset, _bottom: int) -> None:
    trial["pelvis_rung"].values[:] = 2
    trial.attrs["pelvis_repair_error_deg_2"] = 3.0


def by_heading() -> Made:
    trial, findings = squat("hip_in", 16.0)
    for limit in np.arange(0.0, 60.0, 2.0):  # somewhere between them lies a limit on which the two headings disagree
        done, more = contributions_trial(trial, ContributionsSettings(limits={"little_deg": float(limit)}))
        if BY_HEADING in str(done["repetition_findings"].values[0]):
            return done, [*findings, *more]
    raise AssertionError("no limit on which the two headings disagree")


REMARKS_MADE: dict[str, Callable[[], Made]] = {
    ALREADY: lambda: through(lambda *_: None, movement="posture_kept"),
    BY_HEADING: by_heading,
    REBUILT: lambda: through(rebuilt),
    NOT_GIVEN: lambda: gone("asis", "psis", "iliac"),
}


def test_every_word_beside_the_verdict_is_made_here() -> None:
    assert {said for _, said in SEEN} == set(get_args(Words))


def test_every_fault_gap_and_remark_is_made_here() -> None:
    assert set(FAULTS) == set(re.findall(r'\bFault\(\s*"([^"]+)"', inspect.getsource(validity)))
    assert set(GAPS) == set(re.findall(r'"(\w+ missing at [^"]+)"', inspect.getsource(repetitions)))
    assert set(REMARKS_MADE) == set(REMARKS) == set(REMARKED)


@pytest.mark.parametrize(("changes", "said"), SEEN)
def test_row_of_a_word_beside_the_verdict(changes: dict[str, float], said: str) -> None:
    seen = seen_in(STILL | changes, LIMITS)
    assert [s.words for s in seen] == [said]
    assert lacking(said, [as_finding(s, "repetition 1, right", LIMITS) for s in seen]) == []


@pytest.mark.parametrize("said", [*FAULTS, *GAPS, *REMARKS_MADE])
def test_row_of_a_fault_a_gap_or_a_remark(said: str) -> None:
    made = {**FAULTS, **GAPS, **REMARKS_MADE}[said]()
    words = ";".join(made[0]["repetition_findings"].values.tolist()).split(";")
    assert said in words or f"invalid: {said}" in words
    assert complaints(made) == []


@pytest.mark.parametrize("movement", sorted(n for n, m in MOVEMENTS.items() if m.task == "single_leg_squat"))
def test_rows_of_all_words_of_a_movement(movement: str) -> None:
    trial, findings = squat(movement)
    done, more = contributions_trial(trial, ContributionsSettings())
    drawn, last = uncertainty_trial(done, UncertaintySettings(draws=40))
    assert complaints((done, [*findings, *more])) == []
    assert complaints((drawn, [*findings, *more, *last])) == []


def test_a_remark_that_only_the_draws_bring_has_its_row(monkeypatch: pytest.MonkeyPatch) -> None:
    from condyle.stages import uncertainty

    real = uncertainty.named_causes

    def already(tables, below, explain, limits, drawn: Drawn | None = None):  # type: ignore[no-untyped-def]
        causes = real(tables, below, explain, limits, drawn)
        causes.remarks[0] = [ALREADY]
        return causes

    monkeypatch.setattr(uncertainty, "named_causes", already)
    trial, findings = squat("controlled")
    done, more = contributions_trial(trial, ContributionsSettings())
    assert ALREADY not in str(done["repetition_findings"].values[0])
    drawn, last = uncertainty_trial(done, UncertaintySettings(draws=40))
    assert ALREADY in str(drawn["repetition_findings"].values[0])
    assert [f.check for f in last] == ["cause, by the draws"]
    assert complaints((drawn, [*findings, *more, *last])) == []


def test_values_and_limits_of_the_remarks_against_the_accounts() -> None:
    done, findings = REMARKS_MADE[ALREADY]()
    row = next(f for f in findings if f.advice.startswith(ALREADY))
    table = done["contribution"].values[0, :, 0]  # sagittal
    assert row.value == pytest.approx(table[0] - table[3])
    assert (abs(row.limit or 0.0), row.unit) == (5.0, "deg")
    assert abs(row.value or 0.0) > 5.0
    done, findings = by_heading()
    row = next(f for f in findings if f.advice.startswith(BY_HEADING))
    assert row.value == pytest.approx(float(done["pelvis_over_foot"].values[0]))
    assert (abs(row.limit or 0.0), row.unit) == (8.0, "deg")
    done, findings = gone("asis", "psis", "iliac")
    row = next(f for f in findings if f.advice.startswith(NOT_GIVEN))
    assert (row.value, row.limit) == (0.0, 8.0)
    assert "hip adduction" in row.advice
    gap = next(f for f in findings if f.check == "pelvis missing at the bottom")
    lost = np.isnan(done["origin"].values[:, SEGMENTS.index("pelvis"), 0])
    assert gap.value == pytest.approx(lost.sum() / 60.0)
