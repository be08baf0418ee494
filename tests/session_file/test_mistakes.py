"""Each mistake in session.yaml has its sentence with file and line."""

from pathlib import Path

import pytest

from tests.session_file.shared import SOUND, load, told, trials

LINES = {
    "unknown key": ("tester:", "testr:", 3, "key `testr` is not known; nearest valid name: `tester`"),
    "unknown key inside": (
        "height_mm",
        "heigth_mm",
        1,
        "key `heigth_mm` in `participant` is not known; nearest valid name: `he",
    ),
    "wrong unit": (
        "1720",
        "172",
        1,
        "key `height_mm` in `participant` is `172`; expected a number of at least 500 in mm",
    ),
    "no number": ("68", "heavy", 1, "key `mass_kg` in `participant` is `heavy`; expected a number in kg"),
    "a name, no pseudonym": ("id: 010", "id: Two Words", 1, "`Two Words` is no pseudonym"),
    "a path, no pseudonym": ("id: 010", "id: ../x", 1, "`../x` is no pseudonym"),
    "session with a slash": ("2026-11-03", "a/b", 2, "key `session`: `a/b` is no name"),
    "no session": ("session: 2026-11-03\n", "", 1, "key `session` is missing"),
    "side": (
        "side: right}",
        "side: rihgt}",
        8,
        "key `side` in `trials[1]` is `rihgt`; expected one of right, left, both, auto;",
    ),
    "task": ("task: other", "task: othr", 11, "key `task` in `trials[3]` is `othr`"),
    "affected side": ("affected_side: right", "affected_side: rigth", 4, "nearest valid name: `right`"),
    "static is not there": (
        "static: static.c3d",
        "static: sttic.c3d",
        5,
        "static trial `sttic.c3d` is not there; nearest name there",
    ),
    "own static is not there": ("static_2.c3d", "other.c3d", 9, "static trial `other.c3d` is not there"),
    "calibration for what": (
        "for: hip_r",
        "for: hip",
        6,
        "key `for` in `calibration[1]` is `hip`; expected one of hip_r, hip_l",
    ),
    "calibration is not there": (
        "file: hip_r.c3d",
        "file: hip.c3d",
        6,
        "calibration trial `hip.c3d` is not there; nearest name",
    ),
    "accepted in no trial": (
        "trial: walking",
        "trial: wlking",
        12,
        "trial `wlking` is not in this session; nearest valid name: `walking`",
    ),
    "accepted without why": (", why: known", "", 12, "key `why` in `accept[1]` is missing; expected the reason"),
    "no earlier session": ("previous: earlier", "previous: erlier", 13, "no such folder: `erlier`"),
    "condition without a word": (
        "shoes: no,",
        "shoes: ,",
        10,
        "key `shoes` in `condition` has no value; expected text",
    ),
    "name with a slash": ("name: walking", "name: a/b", 11, "`a/b` is no trial name"),
}


@pytest.mark.parametrize("name", LINES)
def test_each_mistake_has_its_sentence_with_line(name: str, folder: Path) -> None:
    before, after, line, expected = LINES[name]
    assert SOUND.count(before) == 1
    (sentence,) = told(folder, SOUND.replace(before, after))
    assert sentence.startswith(f"{folder / 'session.yaml'}, line {line}: ")
    assert expected in sentence


CORRECTED = {
    "{file: walk.c3d, use_s: [2.0, 14.5]}": "`use_s` corrects the trial; add `why:`",
    "{file: walk.c3d, leave_out: {repetitions: [1]}}": "`leave_out` corrects the trial; add `why:`",
    "{file: walk.c3d, repetitions_s: [[1, 2, 3]]}": "`repetitions_s` corrects the trial; add `why:`",
    "{file: walk.c3d, use_s: [5, 2], why: x}": "key `use_s` in `trials[1]`: from 5 to 2 s is no part of a trial",
    "{file: walk.c3d, use_s: [5], why: x}": "key `use_s` in `trials[1]` is a list of 1; expected one entry more",
    "{file: walk.c3d, repetitions_s: [[1, 3, 2]], why: x}": "repetition 1 is not start < bottom < end: 1, 3, 2",
    "{file: walk.c3d, repetitions_s: [[1, 2, 3], [2, 4, 5]], why: x}": "repetition 2 starts at 2 s, before the one",
    "{file: walk.c3d, leave_out: {why: x}}": "names neither `repetitions` nor `markers`",
    "{file: walk.c3d, leave_out: {repetitions: [0], why: x}}": "key `repetitions[1]` in `leave_out` is `0`; expected",
}


@pytest.mark.parametrize("entry", CORRECTED)
def test_a_correction_must_make_sense_and_have_a_reason(entry: str, folder: Path) -> None:
    (sentence,) = told(folder, trials(entry))
    assert ", line 8: " in sentence
    assert CORRECTED[entry] in sentence


def test_corrections_are_listed_with_their_reason(folder: Path) -> None:
    session = load(
        folder,
        trials(
            "{file: walk.c3d, use_s: [2, 14.5], repetitions_s: [[3.1, 4, 5.2]], why: stumble,"
            " leave_out: {repetitions: [1], markers: [R_THIGH_3], why: loose}}"
        ),
    )
    assert session.corrections == (
        {"trial": "walk", "correction": "use_s", "value": [2.0, 14.5], "why": "stumble"},
        {"trial": "walk", "correction": "leave_out repetitions", "value": [1], "why": "loose"},
        {"trial": "walk", "correction": "leave_out markers", "value": ["R_THIGH_3"], "why": "loose"},
        {"trial": "walk", "correction": "repetitions_s", "value": [[3.1, 4.0, 5.2]], "why": "stumble"},
    )
