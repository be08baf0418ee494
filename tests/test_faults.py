"""A small version of ``python -m tests.faults``: every fault once, at its largest size; no sound trial is blamed."""

import numpy as np
import pytest

from condyle.sample import cohort
from tests.fault_case import Kind
from tests.fault_kinds import KINDS
from tests.faults import Sound, counted, false_alarms, injected, sound_trials


@pytest.fixture(scope="module")
def sounds() -> list[Sound]:
    return list(sound_trials(cohort(2, 3)))


def test_sound_trials_with_published_errors_are_not_blamed(sounds: list[Sound]) -> None:
    assert false_alarms(sounds) == (0.0, 0.0)


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.name)
def test_a_fault_at_its_largest_size_is_found(sounds: list[Sound], kind: Kind) -> None:
    k = KINDS.index(kind) % 2
    outcome = injected(sounds[k], sounds[k + 2], kind, kind.sizes[-1], np.random.default_rng([7, KINDS.index(kind)]))
    assert outcome.found or not counted([outcome], kind), f"{kind.name} {kind.sizes[-1]:g} {kind.unit} was not found"


def test_a_fault_is_named_by_its_own_check(sounds: list[Sound]) -> None:
    wanted = {
        "two markers of a segment exchanged": "markers exchanged",
        "plates of both legs exchanged": "markers exchanged",
        "legs exchanged": "markers exchanged",
        "left and right exchanged, tracking nothing": "markers exchanged",
        "landmark and neighbour exchanged": "markers exchanged",
        "another person's standing trial": "standing trial of another body",
        "plate turned as a whole": "cluster against landmarks",
        "frames doubled": "doubled frames",
        "left-handed axes": "left and right",
    }
    for kind in KINDS:
        if kind.name in wanted:
            outcome = injected(sounds[0], sounds[2], kind, kind.sizes[-1], np.random.default_rng(11))
            assert wanted[kind.name] in outcome.checks, f"{kind.name}: {outcome.checks}"
